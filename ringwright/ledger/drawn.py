"""What a page was drawn from, for its foot and its files."""

from __future__ import annotations

from typing import Final

from ringwright.kit.cutoff import Snapshot
from ringwright.ledger.service import Read

MINUTE_US: Final = 60_000_000


def snapshot_of(read: Read, *, to_the_minute: bool = False) -> Snapshot:
    """The cut-off of a read; to the minute, the same list asked twice is the same file."""
    return Snapshot(
        site=read.site.code,
        site_name=read.site.name,
        zone=read.site.zone,
        now_us=read.now_us - (read.now_us % MINUTE_US if to_the_minute else 0),
        head_seq=read.head_seq,
        head_hash=read.head_hash,
        as_of=read.as_of_us is not None,
    )
