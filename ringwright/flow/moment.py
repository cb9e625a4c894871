"""The moment a page speaks of: the whole minute, or the newest entry where that is later.

Ages and paces move with the clock. Counted to the minute, a page and the files made from it
agree, and asked again within the minute, with nothing booked, they are the same to the byte.
"""

from __future__ import annotations

from dataclasses import replace
from typing import Final

from ringwright.ledger.service import Read, last_entry_us

MINUTE_US: Final = 60_000_000


def to_the_minute(read: Read) -> Read:
    """The same snapshot, its moment set back to the minute; every entry still counts.

    A snapshot as of a past moment keeps the moment that was asked for.
    """
    if read.as_of_us is not None:
        return read
    minute_us = read.now_us - read.now_us % MINUTE_US
    newest_us = last_entry_us(read) or 0
    return replace(read, now_us=max(minute_us, min(newest_us, read.now_us)))
