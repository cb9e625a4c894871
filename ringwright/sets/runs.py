"""Longer searches: each in a process of its own, one after the other, so that no page waits.

A run outlives the page that started it. What it is asked is kept whole, so that it can be
repeated; what it answers is kept when it ends. When the server goes, its runs end with it and
are told as broken off.
"""

from __future__ import annotations

import json
import os
import subprocess
import sys
import threading
from collections import deque
from contextlib import suppress
from dataclasses import dataclass, field
from typing import Any, Final
from uuid import uuid4
from weakref import WeakKeyDictionary

from ringwright.core.errors import Clash, Refused
from ringwright.db import Store
from ringwright.ledger.service import Ledger
from ringwright.sets.run_question import RunQuestion, question_data
from ringwright.sets.run_store import (
    BROKEN_OFF,
    DONE,
    QUEUED,
    RUNNING,
    STOPPED,
    RunNow,
    add_run,
    change_run,
    find_run,
)

MOST_WAITING: Final = 20
MOST_SECONDS: Final = 3600.0
SILENT_US: Final = 20_000_000
"""A run that nobody has heard of for so long, and that is not here, has been broken off."""
BEAT_S: Final = 1.0
PATIENCE_S: Final = 20.0
"""How long a run that was stopped may take to tell the best it has."""


@dataclass(slots=True)
class _Job:
    """A run of this server."""

    site_id: int
    code: str
    question: str
    process: subprocess.Popen[str] | None = None
    share: float = 0.0
    doing: str = "waits for its turn"
    stop: threading.Event = field(default_factory=threading.Event)


class Runner:
    """The runs of one server, one at a time, first come first served."""

    def __init__(self, ledger: Ledger) -> None:
        self._ledger = ledger
        self._guard = threading.Condition()
        self._waiting: deque[_Job] = deque()
        self._jobs: dict[tuple[int, str], _Job] = {}
        self._thread: threading.Thread | None = None

    def add(self, job: _Job) -> None:
        """Let it have its turn; raises Clash when too many wait."""
        with self._guard:
            if len(self._waiting) >= MOST_WAITING:
                raise Clash(f"{MOST_WAITING} runs wait already; stop one, or wait")
            self._waiting.append(job)
            self._jobs[job.site_id, job.code] = job
            if self._thread is None or not self._thread.is_alive():
                self._thread = threading.Thread(target=self._work, daemon=True, name="runs")
                self._thread.start()

    def job(self, site_id: int, code: str) -> _Job | None:
        """The run, if it is this server's and not over."""
        with self._guard:
            return self._jobs.get((site_id, code))

    def _work(self) -> None:
        while True:
            with self._guard:
                if not self._waiting:
                    self._thread = None
                    return
                job = self._waiting.popleft()
            values: dict[str, Any] = {"state": BROKEN_OFF, "doing": "the search failed"}
            try:
                values = self._solve(job)
            finally:
                with suppress(Exception):
                    self._change(job, **values)
                with self._guard:
                    self._jobs.pop((job.site_id, job.code), None)

    def _solve(self, job: _Job) -> dict[str, Any]:
        if job.stop.is_set():
            return {"state": STOPPED, "doing": "stopped before its turn"}
        self._change(job, state=RUNNING, doing="begun")
        with start_process() as process:
            job.process = process
            beat = threading.Thread(target=self._beat, args=(job, process), daemon=True)
            beat.start()
            answer = _talk(job, process)
        beat.join()
        if answer is None:
            return {"state": BROKEN_OFF, "doing": "the search ended without an answer"}
        state = STOPPED if job.stop.is_set() else DONE
        text = json.dumps(answer, ensure_ascii=False)
        return {"state": state, "doing": "", "share": 1.0, "answer": text}

    def _beat(self, job: _Job, process: subprocess.Popen[str]) -> None:
        """Tell the store that it lives; end it when it was stopped and tells nothing."""
        patience_s = PATIENCE_S
        while process.poll() is None:
            if job.stop.wait(BEAT_S):
                _ask_to_stop(process)
                patience_s -= BEAT_S
                if patience_s <= 0:
                    process.kill()
                with suppress(subprocess.TimeoutExpired):
                    process.wait(BEAT_S)
            with suppress(Exception):
                self._change(job, share=job.share, doing=job.doing)

    def _change(self, job: _Job, **values: Any) -> None:
        now_us = self._ledger.clock.now_us()
        with self._ledger.store.write(job.site_id) as connection:
            change_run(connection, job.site_id, job.code, heard_us=now_us, **values)


def start_process() -> subprocess.Popen[str]:
    """The process of a run, with one thread of arithmetic, giving way to the server."""
    environment = {**os.environ, "OMP_NUM_THREADS": "1", "OPENBLAS_NUM_THREADS": "1"}
    return subprocess.Popen(
        [sys.executable, "-m", "ringwright.sets.run_process"],
        stdin=subprocess.PIPE,
        stdout=subprocess.PIPE,
        stderr=subprocess.DEVNULL,
        text=True,
        encoding="utf-8",
        env=environment,
    )


def _talk(job: _Job, process: subprocess.Popen[str]) -> dict[str, Any] | None:
    """Ask the question and listen until the answer comes; None when none does."""
    assert process.stdin is not None
    assert process.stdout is not None
    answer: dict[str, Any] | None = None
    try:
        process.stdin.write(job.question + "\n")
        process.stdin.flush()
        for line in process.stdout:
            news = json.loads(line)
            answer = news.get("answer", answer)
            job.share = float(news.get("share", job.share))
            job.doing = str(news.get("doing", job.doing))
    except (OSError, ValueError):
        process.kill()
    return answer


def _ask_to_stop(process: subprocess.Popen[str]) -> None:
    assert process.stdin is not None
    with suppress(OSError, ValueError):
        process.stdin.write("stop\n")
        process.stdin.flush()


_RUNNERS: WeakKeyDictionary[Store, Runner] = WeakKeyDictionary()
_GUARD = threading.Lock()


def runner_of(ledger: Ledger) -> Runner:
    """The one runner of this server's store."""
    with _GUARD:
        return _RUNNERS.setdefault(ledger.store, Runner(ledger))


@dataclass(frozen=True, slots=True, kw_only=True)
class Asking:
    """Who asks for a run, and on which blades."""

    site: str
    product: str
    pool: str
    actor: str


def start_run(ledger: Ledger, asking: Asking, question: RunQuestion) -> str:
    """Let a run have its turn and answer its code; raises Refused or Clash."""
    if question.seconds is not None and not 0 < question.seconds <= MOST_SECONDS:
        raise Refused(f"a run may take up to {MOST_SECONDS:g} seconds")
    text = json.dumps(question_data(question), ensure_ascii=False)
    code = uuid4().hex[:12]
    now_us = ledger.clock.now_us()
    with ledger.read(asking.site) as read:
        site_id = read.site.id
    values = {
        "site_id": site_id, "code": code, "state": QUEUED, "product": asking.product,
        "pool": asking.pool, "question": text, "answer": None, "share": 0.0, "doing": "",
        "stop_asked": False, "actor": asking.actor, "at_us": now_us, "heard_us": now_us,
    }  # fmt: skip
    with ledger.store.write(site_id) as connection:
        add_run(connection, values)
    runner_of(ledger).add(_Job(site_id, code, text))
    return code


def read_run(ledger: Ledger, site: str, code: str) -> RunNow:
    """A run as it stands; one that was lost with its server is told as broken off."""
    with ledger.read(site) as read:
        found, site_id = find_run(read.connection, read.site.id, code), read.site.id
    if not found.going or runner_of(ledger).job(site_id, code) is not None:
        return found
    now_us = ledger.clock.now_us()
    if now_us - found.heard_us < SILENT_US:
        return found
    with ledger.store.write(site_id) as connection:
        doing = "the server was started anew; start the run again"
        change_run(connection, site_id, code, state=BROKEN_OFF, doing=doing)
        return find_run(connection, site_id, code)


def stop_run(ledger: Ledger, site: str, code: str) -> RunNow:
    """Ask a run to end with the best it has; raises Missing."""
    found = read_run(ledger, site, code)
    if not found.going:
        return found
    with ledger.read(site) as read:
        site_id = read.site.id
    with ledger.store.write(site_id) as connection:
        change_run(connection, site_id, code, stop_asked=True)
    job = runner_of(ledger).job(site_id, code)
    if job is not None:
        job.stop.set()
    return read_run(ledger, site, code)
