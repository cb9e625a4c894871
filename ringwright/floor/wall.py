"""Which product a wall screen shows: one, or several in turn if it was told to."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import Annotated, Final

from fastapi import Depends, Request

from ringwright.core.errors import Refused
from ringwright.floor.asked import Asked
from ringwright.ledger.service import Ledger
from ringwright.routecards.queries import read_revisions

MINUTE_US: Final = 60_000_000
MOST_MINUTES: Final = 24 * 60


@dataclass(frozen=True, slots=True, kw_only=True)
class Turn:
    """Minutes each product stays; None: it never turns."""

    minutes: int | None = None

    def asked(self, request: Request, asked: Asked) -> Asked:
        """What the screen shows in this minute: by the clock, so all screens turn together."""
        if self.minutes is None or asked.product is not None:
            return asked
        ledger: Ledger = request.app.state.ledger
        with ledger.read(asked.site) as read:
            revisions = read_revisions(read.connection, read.site.id)
            now_us = read.now_us
        codes = list(dict.fromkeys(row.product for row in revisions))
        if not codes:
            return asked
        place = now_us // (self.minutes * MINUTE_US) % len(codes)
        return replace(asked, product=codes[place])


def _turn(turn: str | None = None) -> Turn:
    if not turn:
        return Turn()
    minutes = int(turn) if turn.isascii() and turn.isdigit() and len(turn) < 6 else 0
    if not 1 <= minutes <= MOST_MINUTES:
        raise Refused("a wall turns at most once a minute: give turn= in whole minutes")
    return Turn(minutes=minutes)


WallTurn = Annotated[Turn, Depends(_turn)]
