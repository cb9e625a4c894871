"""Acts of the floor: raise a part, look for one, move many by scan, shut and open."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any, ClassVar, Final

from ringwright.bench.acts import Act, act_allowed, desk_of, done
from ringwright.bench.service import open_desk
from ringwright.core.errors import Forbidden, Missing, Refused
from ringwright.core.facts import Entry
from ringwright.floor.queries import carrier_stays_now
from ringwright.ledger.service import Handling
from ringwright.ledger.transaction import Actor, Draft, Tx, check_code
from ringwright.parts.facts import Found, Moved, Prioritised, Sought
from ringwright.people.allowing import allows, may_act
from ringwright.people.words import ROLE_WORDS
from ringwright.routecards.queries import read_revisions
from ringwright.sites.facts import CarrierMoved, OpenedUp, ShutDown
from ringwright.sites.queries import read_person, read_stations

MOST_THINGS: Final = 200
KINDS: Final = ("station", "step", "lot", "recipe")
"""What can be shut."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Prioritise(Act):
    """Let a part go before the others, or no longer."""

    operation: ClassVar[str] = "prioritise"
    permission: ClassVar[str] = "prioritise"
    rank: int
    reason: str = ""


def prioritise(tx: Tx, act: Prioritise) -> dict[str, Any]:
    """Record the priority and why."""
    desk = desk_of(tx, act)
    if act.rank not in (0, 1):
        raise Refused("a part goes first (1) or as it comes (0)")
    if not act.reason.strip():
        raise Refused("say why (reason): whoever is passed over will ask")
    return done(desk, act, Prioritised(rank=act.rank, reason=act.reason), key=act.key)


@dataclass(frozen=True, slots=True, kw_only=True)
class Seek(Act):
    """Start the search for a part that should be here and is not."""

    operation: ClassVar[str] = "seek"
    permission: ClassVar[str] = "seek"
    reason: str = ""


def seek(tx: Tx, act: Seek) -> dict[str, Any]:
    """Record that it is looked for; any later scan of it ends the search."""
    desk = desk_of(tx, act)
    return done(desk, act, Sought(reason=act.reason or None), key=act.key)


@dataclass(frozen=True, slots=True, kw_only=True)
class FindAgain(Act):
    """The part that was looked for lies here."""

    operation: ClassVar[str] = "find again"
    permission: ClassVar[str] = "seek"
    where: str


def find_again(tx: Tx, act: FindAgain) -> dict[str, Any]:
    """Record where it was found; that ends the search."""
    desk = desk_of(tx, act)
    if not act.where.strip():
        raise Refused("scan or type where it lies")
    return done(desk, act, Found(where=act.where.strip()), key=act.key)


@dataclass(frozen=True, slots=True, kw_only=True)
class MoveMany:
    """Parts and carriers lie at one place now."""

    operation: ClassVar[str] = "move many"
    parts: tuple[str, ...]
    carriers: tuple[str, ...]
    to: str
    key: str | None
    station: str = ""

    def body(self) -> Any:
        """All fields but the key."""
        return {
            "parts": sorted(self.parts),
            "carriers": sorted(self.carriers),
            "to": self.to,
            "station": self.station,
        }

    def subject(self) -> str:
        """The place."""
        return self.to


def move_many(tx: Tx, command: MoveMany) -> dict[str, Any]:
    """Record every new place, or none of them where one cannot be."""
    _check_move(tx, command)
    entries: list[Entry] = []
    for serial in dict.fromkeys(command.parts):
        desk = open_desk(tx, serial)
        if desk.part.card is None:
            raise Missing(f"there is no part {serial}; nothing was moved")
        entries.append(desk.record(Moved(to=command.to), station=command.station))
    for code in dict.fromkeys(command.carriers):
        fact = CarrierMoved(to=command.to)
        history = tx.history(fact.subject_kind, code)
        at_us = max([tx.now_us, *(entry.at_us for entry in history)])
        draft = Draft(fact=fact, subject=code, at_us=at_us, station=command.station)
        entries.append(tx.append(draft, history))
    return {"to": command.to, "entries": [entry.seq for entry in entries]}


def _check_move(tx: Tx, command: MoveMany) -> None:
    things = (*command.parts, *command.carriers)
    for name, text in (("place", command.to), *(("carrier", c) for c in command.carriers)):
        check_code(name, text)
        if not text.strip() or len(text) > 200:
            raise Refused(f"scan the {name}; it has 1 to 200 letters")
    if not things:
        raise Refused("scan what is moved first, then the place")
    if len(things) > MOST_THINGS:
        raise Refused(f"at most {MOST_THINGS} things go in one move; scan the place sooner")
    if tx.history("part", command.to):
        raise Refused(f"{command.to} is a part, not a place; scan the place")
    _check_no_loop(tx, command)


def _check_no_loop(tx: Tx, command: MoveMany) -> None:
    """Nothing can lie in itself, nor in what lies in it."""
    stays = {
        row.code: row.place for row in tx.connection.execute(carrier_stays_now(tx.site.id))
    }
    chain = [command.to]
    while (place := stays.get(chain[-1])) is not None and place not in chain:
        chain.append(place)
    for carrier in command.carriers:
        if carrier in chain:
            raise Refused(f"{carrier} cannot be moved into {command.to}, which lies in it")


@dataclass(frozen=True, slots=True, kw_only=True)
class ShutIt:
    """Shut a station, step, lot or recipe."""

    operation: ClassVar[str] = "shut"
    kind: str
    code: str
    reason: str
    opener: str
    key: str | None

    def body(self) -> Any:
        """All fields but the key."""
        return {name: getattr(self, name) for name in ("kind", "code", "reason", "opener")}

    def subject(self) -> str:
        """Kind and code."""
        return f"{self.kind}:{self.code}"


def shut(tx: Tx, command: ShutIt) -> dict[str, Any]:
    """Record that it is shut, why, and who may open it; the Bench begins nothing there."""
    _check_shut(tx, command)
    fact = ShutDown(reason=command.reason.strip(), opener=command.opener)
    return _record(tx, command.subject(), fact, wanted="open")


def _check_shut(tx: Tx, command: ShutIt) -> None:
    if command.kind not in KINDS:
        raise Refused(f"{command.kind[:40]!r} cannot be shut; {', '.join(KINDS)} can")
    check_code("code", command.code)
    check_code("reason", command.reason)
    if not command.code or len(command.code) > 200:
        raise Refused(f"say which {command.kind} is shut")
    if not command.reason.strip():
        raise Refused("say why it is shut (reason); whoever stands before it will ask")
    if command.kind == "station":
        codes = [station.code for station in read_stations(tx.connection, tx.site.id)]
        if command.code not in codes:
            raise Missing(f"there is no station {command.code} at this site")
    if command.kind == "step":
        _check_step(tx, command.code)
    _check_opener(tx, command.opener)


def _check_step(tx: Tx, code: str) -> None:
    product, _, number = code.partition("/")
    revisions = read_revisions(tx.connection, tx.site.id, product)
    numbers = {str(step.number) for row in revisions for step in row.card.steps}
    if number not in numbers:
        raise Missing(f"there is no step {number or '?'} of {product}; write it as PRODUCT/70")


def _check_opener(tx: Tx, opener: str) -> None:
    if not opener:
        raise Refused("say who may open it again: a role or a person")
    if opener not in ROLE_WORDS and read_person(tx.connection, tx.site.id, opener) is None:
        raise Missing(f"{opener} is no role and no person at this site")


@dataclass(frozen=True, slots=True, kw_only=True)
class OpenUp:
    """Open what was shut; only whom the shutting names may."""

    operation: ClassVar[str] = "open"
    thing: str
    """Kind and code, as `station:FB-3`."""
    reason: str
    key: str | None

    def body(self) -> Any:
        """All fields but the key."""
        return {"thing": self.thing, "reason": self.reason}

    def subject(self) -> str:
        """Kind and code."""
        return self.thing


def may_try_to_open(command: OpenUp, actor: Actor) -> bool:
    """True for any role: the shutting itself says who may."""
    del command
    return may_act(actor, "open up")


def open_up(tx: Tx, command: OpenUp) -> dict[str, Any]:
    """Record that it is open again; raises Forbidden for anybody but its opener."""
    check_code("reason", command.reason)
    history = tx.history("shutting", command.thing)
    if not history or history[-1].kind != "shut":
        raise Refused(f"{_plain(command.thing)} is not shut; look again")
    opener = history[-1].data["opener"]
    if opener != tx.actor.code and opener not in tx.actor.roles:
        role = ROLE_WORDS.get(opener)
        who = f"a {role}" if role else opener
        raise Forbidden(f"{_plain(command.thing)} was shut so that only {who} may open it")
    if not command.reason.strip():
        raise Refused("say what was put right (reason)")
    return _record(tx, command.thing, OpenedUp(reason=command.reason.strip()), wanted="shut")


def _record(tx: Tx, subject: str, fact: ShutDown | OpenedUp, wanted: str) -> dict[str, Any]:
    history = tx.history("shutting", subject)
    state = "shut" if history and history[-1].kind == "shut" else "open"
    if state != wanted:
        raise Refused(f"{_plain(subject)} is {state} already")
    at_us = max([tx.now_us, *(entry.at_us for entry in history)])
    entry = tx.append(Draft(fact=fact, subject=subject, at_us=at_us), history)
    return {"entry": entry.seq, "subject": subject, "state": fact.kind}


def _plain(subject: str) -> str:
    kind, _, code = subject.partition(":")
    return f"{kind} {code}"


HANDLINGS: dict[type, Handling] = {
    Prioritise: Handling(prioritise, act_allowed),
    Seek: Handling(seek, act_allowed),
    FindAgain: Handling(find_again, act_allowed),
    MoveMany: Handling(move_many, allows("move")),
    ShutIt: Handling(shut, allows("shut")),
    OpenUp: Handling(open_up, may_try_to_open),
}
