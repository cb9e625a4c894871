"""The recorder's readings put into the store, each batch under its digest."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from ringwright.attachments.rules import TRACE_MEDIA
from ringwright.attachments.service import keep_many
from ringwright.core.calendar import SECOND_US
from ringwright.heat.packing import pack
from ringwright.heat.trace import Trace
from ringwright.ledger.transaction import Tx
from seed_demo.told import Told
from seed_demo.traces import batch_of, cycle_from

KEPT = "readings-kept"


def with_readings(tx: Tx, told: Sequence[Told]) -> list[Told]:
    """What is told, with every batch of readings kept and named by its digest.

    The story itself says of a batch only which samples of which cycle it holds: what they are
    packed to is no part of it, and may differ where another zlib packs them.
    """
    batches = [_batch(one) for one in told if one.kind == KEPT]
    digests = iter(keep_many(tx, [pack(one) for one in batches], TRACE_MEDIA))
    read = iter(batches)
    return [
        one._replace(data=_data(one, next(read), next(digests))) if one.kind == KEPT else one
        for one in told
    ]


def _batch(one: Told) -> Trace:
    data = one.data
    return batch_of(cycle_from(data["cycle"]), data["first"], data["last"])


def _data(one: Told, trace: Trace, digest: str) -> dict[str, Any]:
    """The particulars of the fact, as `ringwright.heatruns.readings` records them."""
    return {
        "digest": digest,
        "first_us": round(trace.at_s[0] * SECOND_US),
        "last_us": round(trace.at_s[-1] * SECOND_US),
        "samples": trace.size,
        "source": f"recorder of {one.data['cycle'][1]}",
    }
