"""The desk of the quality engineer: what waits, one of them opened, what was decided."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, field
from typing import Any

from ringwright.bench.forms import Order, command_of, correction_of, sentence_of
from ringwright.bench.queries import (
    BenchSheet,
    OpenNonconformity,
    read_bench_sheet,
    read_open_nonconformities,
    read_scrapped_whole,
)
from ringwright.core.errors import RingwrightError
from ringwright.kit.forms import Given, new_key
from ringwright.people.screen import Screen
from ringwright.routecards.card import ReworkCard

NOTHING_GIVEN = Given(fields={}, files={})


@dataclass(frozen=True, kw_only=True)
class Desk:
    """What waits for a sentence, and which of it is open on the screen."""

    screen: Screen
    now_us: int
    waiting: Sequence[OpenNonconformity]
    scrapped_whole: Sequence[Any]
    """The oldest of them, as many as the page shows."""
    whole_count: int
    whole_asked: str = ""
    """Part of a serial the list was asked for."""
    opened: OpenNonconformity | None = None
    sheet: BenchSheet | None = None
    given: Given = NOTHING_GIVEN
    done: int | None = None
    """Entry number of what was just decided."""
    done_route: bool = False
    why: str | None = None
    status: int = 200
    key: str = field(default_factory=new_key)

    @property
    def cards(self) -> tuple[ReworkCard, ...]:
        """Rework cards raised at the step that found it."""
        if self.sheet is None or self.opened is None:
            return ()
        found = self.opened.found_step
        return tuple(
            card
            for card in self.sheet.card.rework_cards
            if found is None or card.raised_at == found
        )


MOST_WHOLE = 50


def read_desk(screen: Screen, number: int | None, whole: str = "", **told: Any) -> Desk:
    """The desk with one nonconformity opened; a number that waits no more opens none."""
    asked = whole.strip()
    with screen.ledger.read(screen.site) as read:
        waiting = read_open_nonconformities(read)
        opened = next((row for row in waiting if row.number == number), None)
        found = [r for r in read_scrapped_whole(read) if asked.lower() in r.serial.lower()]
        return Desk(
            screen=screen,
            now_us=read.now_us,
            waiting=waiting,
            scrapped_whole=found[:MOST_WHOLE],
            whole_count=len(found),
            whole_asked=asked,
            opened=opened,
            sheet=read_bench_sheet(read, opened.serial) if opened else None,
            **told,
        )


def sentence(screen: Screen, serial: str, given: Given) -> Desk:
    """Give the sentence; refused, everything typed stays on the screen."""
    return _try(screen, serial, given, sentence_of)


def witness(screen: Screen, serial: str, given: Given) -> Desk:
    """Record what was witnessed."""
    return _try(screen, serial, given, command_of)


def _order(screen: Screen, serial: str, given: Given, act: str) -> Order:
    station, zone = screen.station_code, screen.zone
    return Order(act=act, serial=serial, given=given, station=station, zone=zone)


def _try(screen: Screen, serial: str, given: Given, make: Callable[[Order], Any]) -> Desk:
    try:
        actor = screen.actor
        command = make(_order(screen, serial, given, given.text("act")))
        answer = screen.ledger.execute(screen.site, command, actor)
    except RingwrightError as error:
        text = given.text("nonconformity")
        number = int(text) if text.isdigit() else None
        return read_desk(screen, number, given=given, why=error.message, status=error.status)
    done = answer["event"]["site_seq"]
    return read_desk(screen, None, done=done, done_route=True)


def correct(
    screen: Screen, serial: str, given: Given
) -> tuple[int | None, RingwrightError | None]:
    """The entry of the correction, or why it was refused."""
    try:
        actor = screen.actor
        command = correction_of(_order(screen, serial, given, "correct"))
        answer = screen.ledger.execute(screen.site, command, actor)
    except RingwrightError as error:
        return None, error
    return answer["event"]["site_seq"], None
