"""The process of one run: its question comes in as a line, news and the answer go out as lines.

It lives beside the server, so that no search ever makes a page wait. A second line, or the end
of its input (the server is gone), asks it to stop: it answers with the best it has.
"""

from __future__ import annotations

import json
import sys
import threading
import time
from typing import IO, Any

from ringwright.balance.work import Work
from ringwright.sets.run_question import answer_data, question_of

EVERY_S = 0.5


class Speaker:
    """Tells how far the search is, twice a second at most."""

    def __init__(self, out: IO[str]) -> None:
        self._out = out
        self._last_s = 0.0

    def report(self, done: float, what: str, _best: Any) -> None:
        """A share from 0 to 1 and what is being done."""
        now_s = time.monotonic()
        if now_s - self._last_s >= EVERY_S:
            self._last_s = now_s
            self.say({"share": done, "doing": what})

    def say(self, news: dict[str, Any]) -> None:
        """One line."""
        self._out.write(json.dumps(news) + "\n")
        self._out.flush()


def main(given: IO[str] = sys.stdin, out: IO[str] = sys.stdout) -> None:
    """Solve the one question of the input."""
    question = question_of(json.loads(given.readline()))
    stop = threading.Event()

    def listen() -> None:
        given.readline()
        stop.set()

    threading.Thread(target=listen, daemon=True).start()
    speaker = Speaker(out)
    work = Work(
        effort=question.effort,
        seed=question.seed,
        clock=time.monotonic,
        seconds=question.seconds,
        stop_asked=stop.is_set,
        report=speaker.report,
    )
    speaker.say({"share": 0.0, "doing": "begun"})
    speaker.say({"answer": answer_data(question, work)})


if __name__ == "__main__":
    main()
