"""Make a pack of paper, enter its sheets twice, book what two people agree on."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import Any, ClassVar

from sqlalchemy import func, select

from ringwright.bench.reading import check_fully_read, check_gauges_decide
from ringwright.bench.rules import make_booking
from ringwright.bench.service import Book, book, open_desk
from ringwright.core.errors import Clash, Forbidden, Missing, Refused
from ringwright.core.fields import problem_of_text
from ringwright.ledger.service import Handling
from ringwright.ledger.tables import Event
from ringwright.ledger.transaction import Draft, Tx
from ringwright.paper.facts import KIND, PackPrinted, SheetBooked, SheetEntered, SheetUnused
from ringwright.paper.rules import PackNow, SheetNow, differences, pack_of
from ringwright.parts.tables import PartNow
from ringwright.people.allowing import allows, may_act
from ringwright.routecards.card import Step
from ringwright.routecards.queries import card_finder
from ringwright.sites.queries import read_person

MOST_SHEETS = 200
OUTCOMES = ("", "pass")
"""What a sheet may say of how the visit ended; anything else is decided at the Bench."""


@dataclass(frozen=True, slots=True, kw_only=True)
class MakePack:
    """Number a sheet for each part that is at a step of a station group now."""

    operation: ClassVar[str] = "make pack"
    group: str = ""
    key: str | None

    def body(self) -> Any:
        """The station group."""
        return self.group

    def subject(self) -> str:
        """The packs."""
        return "pack"


def make_pack(tx: Tx, command: MakePack) -> dict[str, Any]:
    """Record it; raises Refused where there is no part, or too many."""
    parts = _parts(tx, command.group)
    if not parts:
        raise Refused("no part is at a step there now; there is nothing to print")
    if len(parts) > MOST_SHEETS:
        raise Refused(f"{len(parts)} parts are too many for one pack; choose a station group")
    code = f"P-{_packs(tx) + 1:04}"
    sheets = [[f"{code}-{n:03}", serial, step] for n, (serial, step) in enumerate(parts, 1)]
    fact = PackPrinted(group=command.group, head=tx.head_seq, sheets=sheets)
    tx.append(Draft(fact=fact, subject=code, at_us=tx.now_us))
    return {"pack": code, "sheets": len(sheets)}


def _packs(tx: Tx) -> int:
    query = select(func.count()).where(
        Event.site_id == tx.site.id,
        Event.subject_kind == KIND,
        Event.kind == PackPrinted.kind,
    )
    return int(tx.connection.execute(query).scalar_one())


def _parts(tx: Tx, group: str) -> list[tuple[str, int]]:
    """Serial and step of what waits or is in work there, in the order of the steps."""
    query = (
        select(PartNow.serial, PartNow.product, PartNow.revision, PartNow.step)
        .where(
            PartNow.site_id == tx.site.id,
            PartNow.place.in_(("waiting", "in work")),
            PartNow.step.is_not(None),
        )
        .order_by(PartNow.product, PartNow.step, PartNow.serial)
    )
    find = card_finder(tx.connection, tx.site.id)
    found = []
    for row in tx.connection.execute(query):
        step = find(row.product, row.revision).by_number.get(row.step)
        if step is not None and group in ("", step.station_group):
            found.append((row.serial, row.step))
    return found


@dataclass(frozen=True, slots=True, kw_only=True)
class Sheet:
    """What stands on a sheet, as one person reads it."""

    by: str
    """Who did the work."""
    began_us: int
    ended_us: int | None = None
    outcome: str = ""
    station: str = ""
    readings: dict[str, float] = field(default_factory=dict)
    gauges: dict[str, str] = field(default_factory=dict)
    note: str = ""

    def content(self) -> dict[str, Any]:
        """As plain data, so that two can be held against each other."""
        return {
            "by": self.by,
            "began_us": self.began_us,
            "ended_us": self.ended_us,
            "outcome": self.outcome,
            "station": self.station,
            "readings": dict(sorted(self.readings.items())),
            "gauges": dict(sorted(self.gauges.items())),
            "note": self.note.strip(),
        }


@dataclass(frozen=True, slots=True, kw_only=True)
class EnterSheet:
    """One of two people enters a sheet, without seeing what the other entered."""

    operation: ClassVar[str] = "enter sheet"
    number: str
    sheet: Sheet
    key: str | None

    def body(self) -> Any:
        """Number and content."""
        return [self.number, self.sheet.content()]

    def subject(self) -> str:
        """The sheet."""
        return self.number


def enter_sheet(tx: Tx, command: EnterSheet) -> dict[str, Any]:
    """Keep what was entered; raises Refused for what cannot be, Clash for a sheet done."""
    pack, sheet = _open_sheet(tx, command.number)
    _check(tx, sheet, command.sheet)
    content = command.sheet.content()
    fact = SheetEntered(sheet=sheet.number, content=content)
    tx.append(Draft(fact=fact, subject=pack.code, at_us=tx.now_us), tx.history(KIND, pack.code))
    others = [one for who, one in sheet.entered.items() if who != tx.actor.code]
    same = any(one.content == content for one in others)
    return {"sheet": sheet.number, "agreed": same, "entered": len(others) + 1}


def _open_sheet(tx: Tx, number: str) -> tuple[PackNow, SheetNow]:
    code = number.rpartition("-")[0]
    pack = pack_of(code, tx.history(KIND, code)) if code else None
    sheet = pack.sheet(number) if pack else None
    if pack is None or sheet is None:
        raise Missing(f"there is no sheet {number}; its number stands at its head")
    if sheet.done:
        told = "was booked" if sheet.booked else f"is not used: {sheet.unused}"
        raise Clash(f"sheet {number} {told}; a number is used once", code="sheet-done")
    return pack, sheet


def _check(tx: Tx, sheet: SheetNow, given: Sheet) -> None:
    if not given.by or read_person(tx.connection, tx.site.id, given.by) is None:
        raise Refused(f"nobody here is called {given.by or 'nothing'}; say who did the work")
    for name in ("note", "station"):
        problem = problem_of_text(getattr(given, name))
        if problem is not None:
            raise Refused(f"{name} {problem}")
    _check_times(tx, given)
    step = _step_of(tx, sheet)
    unknown = sorted(set(given.readings) - {one.code for one in step.characteristics})
    if unknown:
        raise Refused(f"step {sheet.step} reads no {', '.join(unknown)}")


def _check_times(tx: Tx, given: Sheet) -> None:
    if given.outcome not in OUTCOMES:
        raise Refused("a sheet ends with pass, or not yet; book anything else at the Bench")
    if (given.ended_us is None) != (given.outcome == ""):
        raise Refused("say both when it ended and how, or neither")
    last = given.began_us if given.ended_us is None else given.ended_us
    if last < given.began_us:
        raise Refused("it ended before it began; look at the times again")
    if last > tx.now_us:
        raise Refused("the time on the sheet lies ahead of the server's clock")


def _step_of(tx: Tx, sheet: SheetNow) -> Step:
    desk = open_desk(tx, sheet.serial)
    if desk.part.card is None:
        raise Missing(f"there is no part {sheet.serial}")
    return desk.part.route.by_number[sheet.step]


@dataclass(frozen=True, slots=True, kw_only=True)
class BookSheet:
    """Book what two people entered alike."""

    operation: ClassVar[str] = "book sheet"
    number: str
    key: str | None

    def body(self) -> Any:
        """The sheet's number."""
        return self.number

    def subject(self) -> str:
        """The sheet."""
        return self.number


def book_sheet(tx: Tx, command: BookSheet) -> dict[str, Any]:
    """Book begin, readings and end at the times of the sheet, all of them or none.

    Raises Refused while two people do not agree, and where the record forbids it: something
    else happened meanwhile, a hold, a window, a gauge.
    """
    pack, sheet = _open_sheet(tx, command.number)
    agreed = sheet.agreed
    if agreed is None:
        last = list(sheet.entered.values())
        if len(last) < 2:
            raise Refused("a second person enters the sheet first, without looking")
        told = ", ".join(name for name, _, _ in differences(last[-1].content, last[-2].content))
        raise Refused(f"the two entries differ: {told}. Look at the paper again")
    numbers = _book(tx, sheet, agreed[0].content)
    fact = SheetBooked(sheet=sheet.number, entries=numbers)
    tx.append(Draft(fact=fact, subject=pack.code, at_us=tx.now_us), tx.history(KIND, pack.code))
    return {"sheet": sheet.number, "serial": sheet.serial, "entries": numbers}


def _book(tx: Tx, sheet: SheetNow, content: dict[str, Any]) -> list[int]:
    step = _step_of(tx, sheet)
    common = {
        "serial": sheet.serial, "step": sheet.step, "by": content["by"],
        "station": content["station"], "reason": _reason(sheet, content),
    }  # fmt: skip
    desk = open_desk(tx, sheet.serial)
    numbers = []
    visit = desk.part.open_visit
    if visit is None or visit.step != sheet.step:
        numbers.append(_one(tx, {**common, "act": "begin"}, content["began_us"]))
    read_us = content["began_us"] if content["ended_us"] is None else content["ended_us"]
    for code, value in content["readings"].items():
        one = step.characteristic(code)
        assert one is not None
        row = {
            **common, "act": "measure", "characteristic": code, "value": value,
            "unit": one.unit, "gauge": content["gauges"].get(code, ""),
        }  # fmt: skip
        numbers.append(_one(tx, row, read_us))
    if content["outcome"]:
        if content["outcome"] == "pass":
            now = open_desk(tx, sheet.serial)
            check_fully_read(now.part)
            check_gauges_decide(now)
        row = {**common, "act": "end", "outcome": content["outcome"]}
        numbers.append(_one(tx, row, content["ended_us"]))
    return numbers


def _reason(sheet: SheetNow, content: dict[str, Any]) -> str:
    note = content["note"]
    return f"paper {sheet.number}: {note}" if note else f"paper {sheet.number}"


def _one(tx: Tx, row: dict[str, Any], at_us: int) -> int:
    """One booking; raises Forbidden where whoever enters may not book it."""
    given = {name: value for name, value in row.items() if value != ""}
    command = Book(booking=make_booking(given, at_us))
    if not may_act(tx.actor, command.permission()):
        raise Forbidden(f"your role does not allow: {command.permission()}")
    number: int = book(tx, command)["event"]["site_seq"]
    return number


@dataclass(frozen=True, slots=True, kw_only=True)
class GiveUpSheet:
    """A sheet came back empty, or spoilt."""

    operation: ClassVar[str] = "give up sheet"
    number: str
    reason: str
    key: str | None

    def body(self) -> Any:
        """Number and reason."""
        return [self.number, self.reason]

    def subject(self) -> str:
        """The sheet."""
        return self.number


def give_up(tx: Tx, command: GiveUpSheet) -> dict[str, Any]:
    """Record it; raises Refused without a reason."""
    pack, sheet = _open_sheet(tx, command.number)
    reason = command.reason.strip()
    problem = problem_of_text(reason)
    if problem is not None or not reason:
        raise Refused(f"reason {problem}" if problem else "say why it is not used (reason)")
    fact = SheetUnused(sheet=sheet.number, reason=reason)
    tx.append(Draft(fact=fact, subject=pack.code, at_us=tx.now_us), tx.history(KIND, pack.code))
    return {"sheet": sheet.number}


HANDLINGS: dict[type, Handling] = {
    MakePack: Handling(make_pack, allows("visit")),
    EnterSheet: Handling(enter_sheet, allows("measure")),
    BookSheet: Handling(book_sheet, allows("measure")),
    GiveUpSheet: Handling(give_up, allows("visit")),
}
