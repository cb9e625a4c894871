"""The moment a page speaks of: the whole minute, or the newest entry where that is later.

Ages and paces move with the clock. Counted to the minute, a page and the files made from it
agree, and asked again within the minute, with nothing booked, they are the same to the byte.
"""

from __future__ import annotations

from dataclasses import replace
from typing import Final

from ringwright.core.calendar import parse_instant
from ringwright.core.errors import Refused
from ringwright.ledger.service import Ledger, Read, last_entry_us

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


def past_us(ledger: Ledger, site: str | None, as_of: str | None) -> int | None:
    """The past moment that an address asks about; None where it asks about now.

    In site time where no offset is given; raises Refused for what is no past moment.
    """
    if not as_of:
        return None
    with ledger.read(site or None) as read:
        zone, now_us = read.site.zone, read.now_us
    try:
        at_us = parse_instant(as_of, zone)
    except ValueError as trouble:
        raise Refused(str(trouble)) from None
    if at_us > now_us:
        raise Refused("As of a time to come nothing is known yet; give a past one.")
    return at_us
