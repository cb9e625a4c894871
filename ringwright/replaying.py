"""Replay a whole store beside its live projections, on all cores."""

from __future__ import annotations

import gc
import os
import threading
from collections.abc import Iterable
from concurrent.futures import ProcessPoolExecutor
from functools import partial
from multiprocessing import get_context

from ringwright.assembly import PROJECTORS, registry
from ringwright.db import Store
from ringwright.ledger.verify import Span, replay_span, spans


def compare(url: str) -> tuple[int, str | None]:
    """(events folded, first difference) between the ledger and the live projections.

    Each span is read in one snapshot of its own; a subject's facts and rows come from the same.
    """
    cores = os.cpu_count() or 1
    store = Store(url)
    try:
        with store.read() as connection:
            found = spans(connection, PROJECTORS, cores * 2)
    finally:
        store.close()
    parts = [span for span in found if span.low is not None or span.high is not None]
    if cores == 1 or len(parts) < 2:
        return _sum(map(partial(compare_span, url), found))
    # A copy of this process need not import everything again; but only one thread is copied.
    way = "fork" if threading.active_count() == 1 else "spawn"
    with ProcessPoolExecutor(cores, mp_context=get_context(way)) as workers:
        return _sum(workers.map(partial(compare_span, url), found))


def _sum(answers: Iterable[tuple[int, str | None]]) -> tuple[int, str | None]:
    folded = 0
    for count, why in answers:
        folded += count
        if why is not None:
            return folded, why
    return folded, None


def compare_span(url: str, span: Span) -> tuple[int, str | None]:
    """As `compare`, for one span."""
    projector = next(p for p in PROJECTORS if p.subject_kind == span.subject_kind)
    store = Store(url)
    # Nothing here is cyclic; letting the collector look through millions of rows costs a third.
    gc.disable()
    try:
        with store.read() as connection:
            return replay_span(connection, registry(), projector, span)
    finally:
        gc.enable()
        store.close()
