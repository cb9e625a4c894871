"""The story simulated and judged in a second process, while the first one writes it."""

from __future__ import annotations

import gc
import marshal
import multiprocessing
from collections.abc import Iterator
from multiprocessing.connection import Connection

from seed_demo.judge import Judge
from seed_demo.plant import demo_routes
from seed_demo.story import Week, tell_weeks
from seed_demo.told import Told


def whole_story(seed: int, begun: str, until_us: int) -> Iterator[Week]:
    """All weeks from the first day, `begun` then, each judged by the rules of the record."""
    judge = Judge(demo_routes())
    for week in tell_weeks(seed, begun, until_us):
        judge.take(week.told)
        yield week


def _speak(out: Connection, seed: int, begun: str, until_us: int) -> None:
    gc.disable()  # hundreds of thousands of facts are made, and kept until they are told
    try:
        for week in whole_story(seed, begun, until_us):
            told = [tuple(one) for one in week.told]
            out.send_bytes(marshal.dumps((week.number, week.begun, told, week.whole)))
        out.send_bytes(marshal.dumps(None))
    except Exception as trouble:
        out.send_bytes(marshal.dumps(f"{type(trouble).__name__}: {trouble}"))
        raise
    finally:
        out.close()


def listen(seed: int, begun: str, until_us: int) -> Iterator[Week]:
    """As `whole_story`, thought out ahead by a second process."""
    context = multiprocessing.get_context("spawn")
    ours, theirs = context.Pipe(duplex=False)
    process = context.Process(target=_speak, args=(theirs, seed, begun, until_us), daemon=True)
    process.start()
    theirs.close()
    try:
        yield from _heard(ours)
    finally:
        ours.close()
        process.join(timeout=5)
        if process.is_alive():
            process.terminate()


def _heard(ours: Connection) -> Iterator[Week]:
    while True:
        said = marshal.loads(ours.recv_bytes())  # noqa: S302 - our own process speaks
        if said is None:
            return
        if isinstance(said, str):
            raise RuntimeError(f"the demo's story broke off: {said}")
        index, begun, told, whole = said
        yield Week(index, begun, [Told(*one) for one in told], whole)
