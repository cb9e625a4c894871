"""Set alloys and lots; open, fill, weigh, seal and send swarf containers."""

from __future__ import annotations

import math
from dataclasses import dataclass, replace
from typing import Any, ClassVar, Final

from ringwright.core.errors import Forbidden, Missing, Refused
from ringwright.core.facts import Entry, Fact
from ringwright.core.fields import as_data, problem_of_code, problem_of_text
from ringwright.ledger.service import Handling
from ringwright.ledger.transaction import Draft, Tx
from ringwright.massing.swarf import KINDS
from ringwright.material import facts
from ringwright.material.card import GROUND, ROTATING, Alloy, Lot
from ringwright.material.queries import (
    containers_here,
    next_container_code,
    read_alloys,
    read_containers,
    read_lots,
)
from ringwright.material.rules import (
    MOST_MOISTURE,
    Container,
    check_correction,
    check_same_alloy,
    check_use,
    fold,
    standing,
)
from ringwright.material.scales import Typed, worth
from ringwright.parts.knowledge import fold as fold_part
from ringwright.parts.queries import resolve_serial
from ringwright.parts.state import Part
from ringwright.people.allowing import allows, may_act
from ringwright.routecards.queries import card_finder, read_revisions

CONTAINER: Final = facts.ContainerFact.subject_kind
MASS: Final = facts.MaterialAdded.subject_kind
RELEASE: Final = "release lots"


@dataclass(frozen=True, slots=True, kw_only=True)
class SetAlloy:
    """Say what an alloy is and which products are made of it."""

    operation: ClassVar[str] = "set alloy"
    alloy: Alloy
    key: str | None

    def body(self) -> Any:
        """The alloy as JSON values."""
        return as_data(self.alloy)

    def subject(self) -> str:
        """The alloy's code."""
        return self.alloy.code


def set_alloy(tx: Tx, command: SetAlloy) -> dict[str, Any]:
    """Record it; raises Refused for an unsound one, or a product that has another alloy."""
    alloy = command.alloy
    _check_code("code", alloy.code)
    _check_text("name", alloy.name)
    if not math.isfinite(alloy.density_g_cm3) or not 0.5 < alloy.density_g_cm3 < 25.0:
        raise Refused("density must be a figure in g/cm3, such as 4.43")
    for other in read_alloys(tx.connection, tx.site.id).values():
        both = set(alloy.products) & set(other.products)
        if both and other.code != alloy.code and not other.withdrawn:
            raise Refused(f"{min(both)} is made of {other.code}; take it off there first")
    for product in alloy.products:
        if not read_revisions(tx.connection, tx.site.id, product):
            raise Refused(f"no product {product!r} at this site; load its route card first")
    entry = _append(tx, alloy.code, facts.AlloySet(alloy=as_data(alloy)))
    return {"alloy": alloy.code, "entry": entry.seq}


@dataclass(frozen=True, slots=True, kw_only=True)
class SetLot:
    """Register a lot, or say anew what it is and what it may be used for."""

    operation: ClassVar[str] = "set lot"
    lot: Lot
    reason: str = ""
    key: str | None

    def body(self) -> Any:
        """The lot as JSON values, and the reason."""
        return {"lot": as_data(self.lot), "reason": self.reason}

    def subject(self) -> str:
        """The lot's code."""
        return self.lot.code


def set_lot(tx: Tx, command: SetLot) -> dict[str, Any]:
    """Record it; raises Refused for an unsound one, Forbidden where only others release."""
    before = read_lots(tx.connection, tx.site.id, [command.lot.code]).get(command.lot.code)
    # What it was melted from is never forgotten by leaving a field empty.
    known_from = before.containers if before is not None else ()
    sources = tuple(dict.fromkeys((*known_from, *command.lot.containers)))
    lot = replace(command.lot, containers=sources)
    _check_lot(tx, lot)
    if before is not None and not command.reason.strip():
        raise Refused(f"{lot.code} is registered; say why it changes (reason)")
    if lot.use == ROTATING and not may_act(tx.actor, RELEASE):
        raise Forbidden(
            "a quality engineer or the design authority releases a lot for rotating parts; "
            f"register it for static parts or as {GROUND}, and ask them"
        )
    melted = read_containers(tx.connection, tx.site.id, sources)
    if lot.use != GROUND and standing(lot, melted).use == GROUND:
        raise Refused(f"{lot.code} was melted from mixed swarf; it is {GROUND}, and stays so")
    fact = facts.LotSet(lot=as_data(lot), reason=command.reason.strip() or None)
    entry = _append(tx, lot.code, fact)
    return {"lot": lot.code, "entry": entry.seq, "use": lot.use}


def _check_lot(tx: Tx, lot: Lot) -> None:
    _check_code("lot", lot.code)
    for name in ("heat", "certificate", "note"):
        _check_text(name, getattr(lot, name))
    check_use(lot.use)
    _alloy(tx, lot.alloy)
    if lot.use != GROUND and not lot.certificate.strip():
        raise Refused(f"without a certificate a lot is {GROUND}; give its reference")
    known = {
        one.code: one for one in read_containers(tx.connection, tx.site.id, lot.containers)
    }
    for code in lot.containers:
        if code not in known:
            raise Refused(f"there is no swarf container {code}")
        if known[code].alloy != lot.alloy and known[code].alloy:
            raise Refused(f"{code} holds {known[code].alloy}, not {lot.alloy}")


@dataclass(frozen=True, slots=True, kw_only=True)
class OpenContainer:
    """Put an empty container up for swarf of one kind and one alloy."""

    operation: ClassVar[str] = "open container"
    alloy: str
    """Empty: for mixed swarf."""
    swarf: str
    tare: Typed
    place: str = ""
    moisture: float = 0.0
    moisture_u: float = 0.0
    code: str = ""
    """Empty: the next of the site's own numbers."""
    key: str | None

    def body(self) -> Any:
        """All fields but the key."""
        told = [self.alloy, self.swarf, self.tare.body(), self.place, self.code]
        return [*told, self.moisture, self.moisture_u]

    def subject(self) -> str:
        """Its code, or the alloy it is for."""
        return self.code or self.alloy or "mixed"


def open_container(tx: Tx, command: OpenContainer) -> dict[str, Any]:
    """Record it; raises Refused for an unknown alloy or kind, or a code that is taken."""
    if command.alloy:
        _alloy(tx, command.alloy)
    if command.swarf not in KINDS:
        raise Refused(f"choose what goes in: {', '.join(KINDS)}")
    _check_text("place", command.place)
    _check_moisture(command.moisture, command.moisture_u)
    code = command.code or next_container_code(tx.connection, tx.site.id)
    _check_code("container", code)
    tare, u_kg = worth(tx.connection, tx.site.id, command.tare)
    fact = facts.ContainerOpened(
        alloy=command.alloy,
        swarf=command.swarf,
        tare_kg=tare,
        tare_u_kg=u_kg,
        place=command.place.strip(),
        moisture=command.moisture,
        moisture_u=command.moisture_u,
    )
    return _book(tx, code, fact)


def _check_moisture(fraction: float, u: float) -> None:
    if not (0.0 <= fraction <= MOST_MOISTURE and 0.0 <= u <= MOST_MOISTURE):
        raise Refused("moisture and its uncertainty are shares of the wet mass, 0 to 90 %")


@dataclass(frozen=True, slots=True, kw_only=True)
class AddSwarf:
    """Book swarf of a part at a step into a container."""

    operation: ClassVar[str] = "add swarf"
    container: str
    serial: str
    net: Typed
    step: int | None = None
    """None: the step the part is in work at, or was last."""
    wet: bool = True
    key: str | None

    def body(self) -> Any:
        """All fields but the key."""
        return [self.container, self.serial, self.net.body(), self.step, self.wet]

    def subject(self) -> str:
        """The container."""
        return self.container


def add_swarf(tx: Tx, command: AddSwarf) -> dict[str, Any]:
    """Record it; raises Refused for swarf of another alloy, saying where it may go."""
    container = known(tx, command.container)
    serial = resolve_serial(tx.connection, tx.site, command.serial)
    card = _card(tx, serial)
    alloy = alloy_of_part(tx, card.route.product, card.lot)
    check_same_alloy(container, serial, alloy, _others(tx, container, alloy))
    net, u_kg = worth(tx.connection, tx.site.id, command.net)
    if net <= 0.0:
        raise Refused("the mass must be more than nought; weigh it again")
    step = _step(tx, card, command.step)
    fact = facts.SwarfAdded(
        serial=serial,
        step=step,
        net_kg=net,
        u_kg=u_kg,
        wet=command.wet,
        gauge=command.net.gauge or None,
    )
    return {**_book(tx, container.code, fact), "serial": serial, "step": step, "net_kg": net}


def alloy_of_part(tx: Tx, product: str, lot: str | None) -> str:
    """The alloy a part is made of: its lot's, else its product's. Raises Refused."""
    if lot:
        registered = read_lots(tx.connection, tx.site.id, [lot]).get(lot)
        if registered is not None:
            return registered.alloy
    for alloy in read_alloys(tx.connection, tx.site.id).values():
        if product in alloy.products and not alloy.withdrawn:
            return alloy.code
    raise Refused(
        f"nobody has said what {product} is made of; set it on Lots, under Alloys. Until then "
        "keep its swarf apart"
    )


def _others(tx: Tx, container: Container, alloy: str) -> str:
    """Where swarf of this alloy may go, as a sentence begins."""
    here = read_containers(
        tx.connection, tx.site.id, containers_here(tx.connection, tx.site.id)
    )
    fit = [
        one.code
        for one in here
        if one.alloy == alloy
        and one.swarf == container.swarf
        and one.state == "open"
        and not one.mixed
    ]
    if fit:
        return f"Put it into {', '.join(fit[:5])}"
    return f"Open a container for {container.swarf} of {alloy}"


def _card(tx: Tx, serial: str) -> Part:
    """The part as it stands; raises Missing."""
    find = card_finder(tx.connection, tx.site.id)
    part = fold_part(serial, tx.history("part", serial), find)
    if part.card is None:
        raise Missing(f"there is no part {serial[:60]}; scan it again")
    return part


def _step(tx: Tx, part: Part, step: int | None) -> int:
    """The step named, else the one in work or last in work: chips are weighed afterwards."""
    if step is None:
        step = next((one.step for one in reversed(part.visits) if one.step is not None), None)
    cards = read_revisions(tx.connection, tx.site.id, part.route.product)
    if step is None or not any(step in one.card.by_number for one in cards):
        raise Refused("say at which step of its route card the swarf came off (step)")
    return step


@dataclass(frozen=True, slots=True, kw_only=True)
class ActOnContainer:
    """Weigh, seal, send a container, call it mixed, or take it back as a lot."""

    operation: ClassVar[str] = "act on container"
    container: str
    act: str
    """`weigh`, `seal`, `mixed`, `send`, `return`."""
    full: Typed | None = None
    to: str = ""
    paper: str = ""
    melts: bool = False
    lot: str = ""
    reason: str = ""
    key: str | None

    def body(self) -> Any:
        """All fields but the key."""
        full = None if self.full is None else self.full.body()
        return [self.container, self.act, full, self.to, self.paper, self.melts, self.lot,
                self.reason]  # fmt: skip

    def subject(self) -> str:
        """The container."""
        return self.container


def act_on_container(tx: Tx, command: ActOnContainer) -> dict[str, Any]:
    """Record it; raises Refused where the container's rules forbid it."""
    for name in ("to", "paper", "reason"):
        _check_text(name, getattr(command, name))
    making = _MAKES.get(command.act)
    if making is None:
        raise Refused("that act is not known here; open the page again")
    container = known(tx, command.container)
    return _book(tx, container.code, making(tx, command, container))


def _weigh(tx: Tx, command: ActOnContainer, container: Container) -> Fact:
    del container
    if command.full is None:
        raise Refused("give the mass of the full container")
    full, u_kg = worth(tx.connection, tx.site.id, command.full)
    return facts.ContainerWeighed(full_kg=full, u_kg=u_kg, gauge=command.full.gauge or None)


def _seal(tx: Tx, command: ActOnContainer, container: Container) -> Fact:
    del tx, command, container
    return facts.ContainerSealed()


def _mixed(tx: Tx, command: ActOnContainer, container: Container) -> Fact:
    del tx, container
    if not command.reason.strip():
        raise Refused("say what was found among the swarf (reason)")
    return facts.ContainerFoundMixed(reason=command.reason.strip())


def _send(tx: Tx, command: ActOnContainer, container: Container) -> Fact:
    del tx, container
    if not command.to.strip() or not command.paper.strip():
        raise Refused("say where it goes and on which paper")
    return facts.ContainerSent(
        to=command.to.strip(), paper=command.paper.strip(), melts=command.melts
    )


def _return(tx: Tx, command: ActOnContainer, container: Container) -> Fact:
    """The melter's lot; registered here where it is new, and then not for flight yet."""
    _check_code("lot", command.lot)
    lot = read_lots(tx.connection, tx.site.id, [command.lot]).get(command.lot)
    if lot is None:
        lot = Lot(code=command.lot, alloy=container.alloy)
    if lot.alloy != container.alloy:
        raise Refused(f"{lot.code} is {lot.alloy}, and {container.code} held {container.alloy}")
    sources = tuple(dict.fromkeys((*lot.containers, container.code)))
    grown = Lot(**{**as_data(lot), "containers": sources})
    reason = f"returned by the melter from {container.code}"
    fold(container.code, [*tx.history(CONTAINER, container.code),
                          _trial(facts.ContainerReturned(lot=lot.code))])  # fmt: skip
    _append(tx, lot.code, facts.LotSet(lot=as_data(grown), reason=reason))
    return facts.ContainerReturned(lot=lot.code)


_MAKES: Final = {
    "weigh": _weigh,
    "seal": _seal,
    "mixed": _mixed,
    "send": _send,
    "return": _return,
}


@dataclass(frozen=True, slots=True, kw_only=True)
class CorrectContainer:
    """An entry of a container was wrong: take it back, or say the right mass."""

    operation: ClassVar[str] = "correct container"
    container: str
    entry: int
    reason: str
    kg: float | None = None
    """None: it never happened."""
    key: str | None

    def body(self) -> Any:
        """All fields but the key."""
        return [self.container, self.entry, self.reason, self.kg]

    def subject(self) -> str:
        """The container."""
        return self.container


def correct_container(tx: Tx, command: CorrectContainer) -> dict[str, Any]:
    """Record it; raises Refused without a reason, or where later entries need the wrong one."""
    _need_reason(command.reason)
    if command.kg is not None and not (math.isfinite(command.kg) and command.kg > 0.0):
        raise Refused("the right mass must be a figure above nought")
    history = tx.history(CONTAINER, command.container)
    wrong = check_correction(history, command.entry, command.kg)
    fact = facts.ContainerCorrected(reason=command.reason.strip(), kg=command.kg)
    trial = _trial(fact, command.entry)
    if any(entry.seq != wrong.seq and entry.corrects is None for entry in history):
        try:
            fold(command.container, [*history, trial])
        except Refused as refusal:
            raise Refused(f"without entry {wrong.seq}: {refusal.message}") from None
    draft = Draft(fact=fact, subject=command.container, at_us=tx.now_us, corrects=wrong.seq)
    entry = tx.append(draft, history)
    return {"container": command.container, "entry": entry.seq, "corrects": wrong.seq}


@dataclass(frozen=True, slots=True, kw_only=True)
class AddMaterial:
    """Book material that was put on a part, such as vanes or filler wire."""

    operation: ClassVar[str] = "add material"
    serial: str
    what: str
    net: Typed
    step: int | None = None
    key: str | None

    def body(self) -> Any:
        """All fields but the key."""
        return [self.serial, self.what, self.net.body(), self.step]

    def subject(self) -> str:
        """The part."""
        return self.serial


def add_material(tx: Tx, command: AddMaterial) -> dict[str, Any]:
    """Record it; raises Missing for no such part, Refused without a word or a mass."""
    _check_text("what", command.what)
    if not command.what.strip():
        raise Refused("say what was put on (vanes, filler wire)")
    serial = command.serial
    if not tx.history("part", serial):  # the page knows the serial, a scan reads the mark
        serial = resolve_serial(tx.connection, tx.site, serial)
    card = _card(tx, serial)
    net, u_kg = worth(tx.connection, tx.site.id, command.net)
    if net <= 0.0:
        raise Refused("the mass must be more than nought; weigh it again")
    fact = facts.MaterialAdded(
        step=_step(tx, card, command.step),
        what=command.what.strip(),
        net_kg=net,
        u_kg=u_kg,
        gauge=command.net.gauge or None,
    )
    return {"serial": serial, "entry": _append(tx, serial, fact).seq}


@dataclass(frozen=True, slots=True, kw_only=True)
class CorrectMaterial:
    """Material was booked on a part by mistake."""

    operation: ClassVar[str] = "correct material"
    serial: str
    entry: int
    reason: str
    key: str | None

    def body(self) -> Any:
        """All fields but the key."""
        return [self.serial, self.entry, self.reason]

    def subject(self) -> str:
        """The part."""
        return self.serial


def correct_material(tx: Tx, command: CorrectMaterial) -> dict[str, Any]:
    """Record it; raises Refused without a reason, or for an entry that is none."""
    _need_reason(command.reason)
    history = tx.history(MASS, command.serial)
    gone = {one.corrects for one in history}
    sound = [one.seq for one in history if one.corrects is None and one.seq not in gone]
    if command.entry not in sound:
        raise Refused(f"entry {command.entry} is no material on {command.serial[:60]}")
    fact = facts.MaterialCorrected(reason=command.reason.strip())
    draft = Draft(fact=fact, subject=command.serial, at_us=tx.now_us, corrects=command.entry)
    return {"serial": command.serial, "entry": tx.append(draft, history).seq}


def known(tx: Tx, scanned: str) -> Container:
    """A container by its code; raises Missing."""
    history = tx.history(CONTAINER, scanned)
    if not history:
        raise Missing(f"there is no swarf container {scanned[:60]}; scan it again, or open one")
    return fold(scanned, history)


def _book(tx: Tx, code: str, fact: Fact) -> dict[str, Any]:
    """Append a fact of a container if all its facts still obey; raises Refused."""
    history = tx.history(CONTAINER, code)
    found = fold(code, [*history, _trial(fact)])
    entry = tx.append(Draft(fact=fact, subject=code, at_us=tx.now_us), history)
    return {"container": code, "entry": entry.seq, "state": found.state}


def _trial(fact: Fact, corrects: int | None = None) -> Entry:
    """The fact as if it were recorded last."""
    return Entry(2**53, fact.kind, 0, 0, "", "", corrects, fact.payload())


def _append(tx: Tx, subject: str, fact: Fact) -> Entry:
    return tx.append(Draft(fact=fact, subject=subject, at_us=tx.now_us))


def _alloy(tx: Tx, code: str) -> Alloy:
    alloy = read_alloys(tx.connection, tx.site.id).get(code)
    if alloy is None or alloy.withdrawn:
        raise Refused(f"there is no alloy {code[:40] or 'chosen'} in use; set it on Lots first")
    return alloy


def _check_code(name: str, code: str) -> None:
    problem = problem_of_code(code)
    if problem is not None or len(code) > 60:
        raise Refused(f"{name} {problem or 'is longer than 60 letters'}")


def _check_text(name: str, text: str) -> None:
    problem = problem_of_text(text)
    if problem is not None or len(text) > 200:
        raise Refused(f"{name} {problem or 'is longer than 200 letters'}")


def _need_reason(reason: str) -> None:
    _check_text("reason", reason)
    if not reason.strip():
        raise Refused("say why it was wrong (reason)")


HANDLINGS: dict[type, Handling] = {
    SetAlloy: Handling(set_alloy, allows("lots")),
    SetLot: Handling(set_lot, allows("lots")),
    OpenContainer: Handling(open_container, allows("swarf")),
    AddSwarf: Handling(add_swarf, allows("swarf")),
    ActOnContainer: Handling(act_on_container, allows("swarf")),
    AddMaterial: Handling(add_material, allows("swarf")),
    CorrectContainer: Handling(correct_container, allows("correct")),
    CorrectMaterial: Handling(correct_material, allows("correct")),
}
