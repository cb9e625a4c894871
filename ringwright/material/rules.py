"""Alloys, lots and swarf containers: what may be done, and what a container holds. Pure."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field, replace
from typing import Final

from ringwright.core.errors import Refused
from ringwright.core.facts import Entry
from ringwright.material.card import GROUND, ROTATING, TURNS, USES, Lot

OPEN: Final = "open"
SEALED: Final = "sealed"
SENT: Final = "sent"
RETURNED: Final = "returned"
STATES: Final = (OPEN, SEALED, SENT, RETURNED)
MOST_MOISTURE: Final = 0.9


@dataclass(frozen=True, slots=True, kw_only=True)
class Weighing:
    """A mass on the record: when, by whom, with what, and what it is worth."""

    number: int
    at_us: int
    known_us: int
    actor: str
    kg: float
    u_kg: float
    gauge: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class Line(Weighing):
    """Swarf of one part at one step."""

    serial: str
    step: int
    wet: bool


@dataclass(slots=True)
class Container:
    """A container as it stands by the facts that count."""

    code: str
    alloy: str = ""
    swarf: str = ""
    tare_kg: float = 0.0
    tare_u_kg: float = 0.0
    place: str = ""
    moisture: float = 0.0
    moisture_u: float = 0.0
    state: str = ""
    mixed: str = ""
    """Why it is known to be mixed; empty: it is clean."""
    lines: list[Line] = field(default_factory=list)
    weighed: Weighing | None = None
    to: str = ""
    paper: str = ""
    melts: bool = False
    lot: str = ""
    opened_us: int = 0
    sent_us: int = 0
    last_us: int = 0
    last_seq: int = 0

    @property
    def held(self) -> bool:
        """True while it is found mixed and still here: it needs a decision."""
        return bool(self.mixed and self.alloy) and self.state in (OPEN, SEALED)

    @property
    def clean(self) -> bool:
        """True where its swarf can come back as material."""
        return bool(self.alloy) and not self.mixed

    @property
    def booked_kg(self) -> float:
        """What was put in, as it was weighed."""
        return sum(line.kg for line in self.lines)


def fold(code: str, entries: Sequence[Entry]) -> Container:
    """The container by its facts; a corrected one counts as corrected. Raises Refused."""
    struck: dict[int, float | None] = {}
    for entry in entries:
        if entry.corrects is not None:
            struck[entry.corrects] = entry.data.get("kg")
    found = Container(code)
    for entry in entries:
        if entry.corrects is None and not (entry.seq in struck and struck[entry.seq] is None):
            _STEPS[entry.kind](found, _as_corrected(entry, struck.get(entry.seq)))
        found.last_us = max(found.last_us, entry.at_us)
        found.last_seq = entry.seq
    if not found.state:
        raise Refused(f"there is no swarf container {code}")
    return found


def _as_corrected(entry: Entry, kg: float | None) -> Entry:
    if kg is None:
        return entry
    name = _MASS_OF[entry.kind]
    return entry._replace(data={**entry.data, name: kg})


_MASS_OF: Final = {
    "container-opened": "tare_kg",
    "swarf-added": "net_kg",
    "container-weighed": "full_kg",
}
"""Kinds of entry whose mass may be corrected, each with its field."""


def _opened(found: Container, entry: Entry) -> None:
    if found.state:
        raise Refused(f"{found.code} is opened already")
    data = entry.data
    found.alloy, found.swarf = data["alloy"], data["swarf"]
    found.tare_kg, found.tare_u_kg = data["tare_kg"], data["tare_u_kg"]
    found.place = data.get("place", "")
    found.moisture = data.get("moisture", 0.0)
    found.moisture_u = data.get("moisture_u", 0.0)
    found.state, found.opened_us = OPEN, entry.at_us


def _added(found: Container, entry: Entry) -> None:
    _check_open(found)
    data = entry.data
    when = {"number": entry.seq, "at_us": entry.at_us, "known_us": entry.known_us}
    line = Line(
        **when,
        actor=entry.actor,
        kg=data["net_kg"],
        u_kg=data["u_kg"],
        gauge=data.get("gauge", ""),
        serial=data["serial"],
        step=data["step"],
        wet=data["wet"],
    )
    found.lines.append(line)


def _check_open(found: Container) -> None:
    if found.state != OPEN:
        word = found.state or "not there"
        raise Refused(f"{found.code} is {word}; open another container for this swarf")
    if found.mixed and found.alloy:
        raise Refused(
            f"{found.code} was found mixed and is held: nothing goes in. "
            "Open another container for this swarf"
        )


def _weighed(found: Container, entry: Entry) -> None:
    if found.state not in (OPEN, SEALED):
        raise Refused(f"{found.code} is not here to be weighed")
    if entry.data["full_kg"] < found.tare_kg:
        raise Refused(
            f"full it weighs less than empty ({found.tare_kg:g} kg); weigh {found.code} again"
        )
    found.weighed = Weighing(
        number=entry.seq,
        at_us=entry.at_us,
        known_us=entry.known_us,
        actor=entry.actor,
        kg=entry.data["full_kg"],
        u_kg=entry.data["u_kg"],
        gauge=entry.data.get("gauge", ""),
    )


def _sealed(found: Container, entry: Entry) -> None:
    del entry
    if found.state != OPEN:
        raise Refused(f"{found.code} is {found.state or 'not there'}, not open")
    if not found.lines:
        raise Refused(f"nothing is booked into {found.code}; there is nothing to seal")
    found.state = SEALED


def _mixed(found: Container, entry: Entry) -> None:
    if not found.state:
        raise Refused(f"there is no swarf container {found.code}")
    found.mixed = entry.data.get("reason") or "found mixed"


def _sent(found: Container, entry: Entry) -> None:
    if found.state != SEALED:
        raise Refused(f"{found.code} is {found.state or 'not there'}; seal it before it leaves")
    if found.weighed is None:
        raise Refused(f"weigh {found.code} full before it leaves; the paper needs its mass")
    if entry.data["melts"] and not found.clean:
        raise Refused(
            f"{found.code} holds mixed swarf: no melter makes material of it. "
            "Send it as downgraded"
        )
    found.state, found.sent_us = SENT, entry.at_us
    found.to, found.paper = entry.data["to"], entry.data["paper"]
    found.melts = entry.data["melts"]


def _returned(found: Container, entry: Entry) -> None:
    if found.state != SENT or not found.melts:
        raise Refused(f"{found.code} was not sent to be melted; it can be no lot")
    found.state, found.lot = RETURNED, entry.data["lot"]


_STEPS: Final = {
    "container-opened": _opened,
    "swarf-added": _added,
    "container-weighed": _weighed,
    "container-sealed": _sealed,
    "container-found-mixed": _mixed,
    "container-sent": _sent,
    "container-returned-as-lot": _returned,
}


def check_correction(entries: Sequence[Entry], number: int, kg: float | None) -> Entry:
    """The entry that is to be corrected; raises Refused where it cannot be."""
    wrong = next((one for one in entries if one.seq == number), None)
    if wrong is None or wrong.corrects is not None:
        raise Refused(f"entry {number} is none of this container's that can be corrected")
    if any(one.corrects == number and one.data.get("kg") is None for one in entries):
        raise Refused(f"entry {number} was taken back already; book it anew")
    if kg is not None and wrong.kind not in _MASS_OF:
        raise Refused(f"entry {number} says no mass; take it back, then book it anew")
    return wrong


def check_same_alloy(container: Container, serial: str, alloy: str, others: str) -> None:
    """Refuse swarf of another alloy than the container's; `others` says where it may go."""
    if not container.alloy or alloy == container.alloy:
        return
    raise Refused(
        f"{container.code} takes {container.alloy} alone, and {serial} is {alloy}. Mixed "
        f"swarf cannot be melted again. {others}. If it is in already, say on the "
        "container's page that it was found mixed",
        code="mixed",
    )


def standing(lot: Lot, containers: Iterable[Container]) -> Lot:
    """The lot as it may be used now: melted from swarf that was mixed, it may not fly."""
    mixed = [one.code for one in containers if one.code in lot.containers and not one.clean]
    if not mixed:
        return lot
    why = f"melted from mixed swarf ({', '.join(mixed)})"
    return replace(lot, use=GROUND, note=f"{lot.note}; {why}" if lot.note else why)


def turns(family: str) -> bool:
    """True for a product that turns: a blade."""
    return family in TURNS


def permits(lot: Lot, family: str) -> bool:
    """True where the lot may become such a part; what turns needs the strictest use."""
    return lot.use == ROTATING or (not turns(family) and lot.use != GROUND)


def check_permitted(lot: Lot, product: str, family: str) -> None:
    """Refuse a lot on a blade that is not released for rotating parts."""
    if not turns(family) or permits(lot, family):
        return
    raise Refused(
        f"lot {lot.code} is permitted for {lot.use}, and {product} is a rotating part: hard "
        "inclusions from tool tips break blades. Take a lot that is permitted for rotating "
        "parts; a quality engineer or the design authority may release this one on Lots",
        code="lot",
    )


def check_use(use: str) -> None:
    """Refuse a permitted use that is none."""
    if use not in USES:
        raise Refused(f"choose what the lot may be used for: {', '.join(USES)}")
