"""What may happen to a weld, and what it needs next: pure decisions.

A ring is folded in recorded order. An entry that was withdrawn is passed over, so that the
rest must obey without it.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from typing import Any, Final

from ringwright.core.errors import Refused
from ringwright.core.facts import Entry
from ringwright.welds.card import CLASSES, WeldPlan
from ringwright.welds.defects import DEFECTS
from ringwright.welds.state import (
    ACCEPTED,
    AT_LIMIT,
    EXCAVATED,
    NEXT,
    NOT_WELDED,
    PROVED_CLEAR,
    REWELDED,
    TO_EXCAVATE,
    TO_RADIOGRAPH,
    TO_READ,
    TO_RELIEVE,
    WELDED,
    Film,
    Pass,
    Reading,
    Ring,
    Vane,
    Weld,
    ring_on,
)
from ringwright.welds.telling import astray, limit_told, waiting_on, why_retake

FindPlan = Callable[[str, str], WeldPlan | None]
WITHDRAWN: Final = "weld-entry-withdrawn"
OPENED: Final = "ring-opened"
IQI_KINDS: Final = ("W",)
METHODS: Final = ("penetrant", "radiograph")


def fold(serial: str, entries: Sequence[Entry], find: FindPlan) -> Ring:
    """The ring after its facts; raises Refused where they break a rule."""
    void = {entry.corrects: entry for entry in entries if entry.kind == WITHDRAWN}
    ring = Ring(serial)
    for entry in entries:
        if entry.seq in void:
            ring.withdrawn.append((entry, void[entry.seq]))
        else:
            _apply(ring, entry, find)
        ring.last_seq = entry.seq
        ring.last_at_us = max(ring.last_at_us, entry.at_us)
    return ring


def _apply(ring: Ring, entry: Entry, find: FindPlan) -> None:
    if entry.kind == OPENED:
        _open(ring, entry, find)
        return
    if entry.kind == WITHDRAWN:
        return
    if ring.plan is None:
        raise Refused(f"the ring of {ring.serial} was not begun")
    touched = RULES[entry.kind](ring, entry)
    ring.events.append((entry, touched))


def _open(ring: Ring, entry: Entry, find: FindPlan) -> None:
    product, revision = entry.data["product"], entry.data["revision"]
    plan = find(product, revision)
    if plan is None:
        raise Refused(f"there is no weld plan of {product} at revision {revision}")
    if ring.plan is not None:
        raise Refused(f"the ring of {ring.serial} is begun already")
    fresh = ring_on(ring.serial, plan)
    ring.plan, ring.welds = fresh.plan, fresh.welds


def _known(ring: Ring, codes: Sequence[str]) -> list[Weld]:
    """The welds of these codes, each once; raises Refused for none, or one of no plan."""
    if not codes:
        raise Refused("name at least one weld, such as 1-OUT")
    if len(set(codes)) != len(codes):
        raise Refused("a weld stands twice; name each once")
    for code in codes:
        if code not in ring.welds:
            raise Refused(f"the plan of {ring.ruled.product} has no weld {code[:20]!r}")
    return [ring.welds[code] for code in codes]


def _must_be(weld: Weld, states: Sequence[str], verb: str) -> None:
    if weld.state not in states:
        raise Refused(
            f"weld {weld.code} is {weld.state} and cannot be {verb}; next: {NEXT[weld.state]}",
            code="weld-state",
        )


def _fit(ring: Ring, entry: Entry) -> tuple[str, ...]:
    touched: list[str] = []
    if not entry.data.get("vanes"):
        raise Refused("name at least one vane with its position")
    for one in entry.data["vanes"]:
        number = one["vane"]
        if not 1 <= number <= ring.ruled.vanes:
            raise Refused(f"the ring has vanes 1 to {ring.ruled.vanes}, no {number}")
        ring.vanes[number] = Vane(
            number,
            float(one["radial_mm"]),
            float(one["axial_mm"]),
            entry.seq,
            entry.at_us,
            entry.actor,
            entry.data.get("gauge") or "",
        )
        touched += [code for code in ring.welds if ring.ruled.vane_of(code) == number]
    return tuple(touched)


def _check_vane(ring: Ring, weld: Weld) -> None:
    number = ring.ruled.vane_of(weld.code)
    vane = ring.vanes.get(number)
    if vane is None:
        raise Refused(f"vane {number} is not fitted; read its position first")
    told = astray(ring.ruled, vane)
    if told is not None:
        raise Refused(f"vane {number} lies {told}; set it again and read it before welding")


def _make(ring: Ring, entry: Entry) -> tuple[str, ...]:
    welds = _known(ring, entry.data["welds"])
    for weld in welds:
        _must_be(weld, (NOT_WELDED,), "welded for the first time")
        _check_vane(ring, weld)
    _check_pass(ring.ruled, entry)
    for weld in welds:
        _passed(ring, weld, entry, WELDED)
    return tuple(entry.data["welds"])


def _check_pass(plan: WeldPlan, entry: Entry) -> None:
    """Refuse what may not be welded so: the procedure, the filler's lot, the purge."""
    data = entry.data
    if data["procedure"] != plan.procedure:
        raise Refused(f"the plan asks procedure {plan.procedure}, not {data['procedure']}")
    if not data["filler_lot"].strip():
        raise Refused(f"name the lot of the filler ({plan.filler})")
    if not 0 <= data["oxygen_ppm"] <= plan.oxygen_ppm:
        raise Refused(
            f"{data['oxygen_ppm']:g} ppm oxygen in the purge; purge on and weld at "
            f"{plan.oxygen_ppm:g} ppm at most"
        )


def _passed(ring: Ring, weld: Weld, entry: Entry, state: str) -> None:
    data = entry.data
    number = len(weld.passes)
    weld.passes.append(
        Pass(
            number,
            entry.seq,
            entry.at_us,
            entry.known_us,
            data["welder"],
            data["filler_lot"],
            data["procedure"],
            float(data["oxygen_ppm"]),
            data["colour"],
        )
    )
    weld.beside = weld.film = ""
    if data["colour"] not in ring.ruled.colours:
        weld.state = _faulty(ring, weld)
    else:
        weld.state = state if ring.ruled.penetrant else _after_penetrant(ring, weld)


def _after_penetrant(ring: Ring, weld: Weld) -> str:
    return TO_RELIEVE if weld.repairs and ring.ruled.relieve else TO_RADIOGRAPH


def _faulty(ring: Ring, weld: Weld) -> str:
    return AT_LIMIT if weld.repairs >= ring.ruled.repair_limit else TO_EXCAVATE


def _not_own(weld: Weld, who: str, verb: str) -> None:
    if who in weld.welders:
        raise Refused(
            f"{who} welded {weld.code} and may not {verb}; somebody else must",
            code="own-work",
        )


def _penetrant(ring: Ring, entry: Entry) -> tuple[str, ...]:
    clear, shown = entry.data.get("clear", ()), entry.data.get("shown", ())
    welds = _known(ring, [*clear, *shown])
    for weld in welds:
        _must_be(weld, (WELDED, REWELDED), "tested with penetrant")
        _not_own(weld, entry.actor, "test it")
    for weld in welds:
        weld.state = _after_penetrant(ring, weld) if weld.code in clear else _faulty(ring, weld)
    return (*clear, *shown)


def _take(ring: Ring, entry: Entry) -> tuple[str, ...]:
    data, plan = entry.data, ring.ruled
    welds = _known(ring, data["welds"])
    for weld in welds:
        _must_be(weld, (TO_RADIOGRAPH, TO_READ, ACCEPTED), "radiographed")
        _check_beside(ring, weld)
    _check_film(ring, data)
    good = data["wire"] >= plan.acceptance.wire
    film = Film(
        data["film"], tuple(data["welds"]), data["technique"], data["technique_class"],
        data["iqi"], data["wire"], good, entry.seq, entry.at_us, entry.known_us, entry.actor,
        data.get("file") or "",
    )  # fmt: skip
    ring.films[film.code] = film
    for weld in welds if good else ():
        weld.state, weld.film = TO_READ, film.code
    return film.welds


def _check_beside(ring: Ring, weld: Weld) -> None:
    """Refuse while stress of a repair beside it is still to be relieved."""
    for other in ring.ruled.adjoining(weld.code) if ring.ruled.relieve else ():
        if ring.welds[other].state in (REWELDED, TO_RELIEVE):
            raise Refused(
                f"weld {other} beside {weld.code} was repaired; next for it: "
                f"{NEXT[ring.welds[other].state]}"
            )


def _check_film(ring: Ring, data: Any) -> None:
    asked = ring.ruled.acceptance
    if not data["film"].strip():
        raise Refused("give the film a code, such as A1")
    if data["film"] in ring.films:
        raise Refused(f"film {data['film']} was taken already; give this one its own code")
    if data["technique"] != asked.technique:
        raise Refused(f"the plan asks {asked.technique}, not {data['technique']}")
    if CLASSES.index(data["technique_class"]) < CLASSES.index(asked.technique_class):
        raise Refused(f"the plan asks technique class {asked.technique_class}")
    if data["iqi"] not in IQI_KINDS:
        raise Refused("the image quality indicator must be of wires (W, ISO 19232-1)")
    if not 0 <= data["wire"] <= 19:
        raise Refused("the finest wire seen is W1 to W19, or 0 for none")


def _read(ring: Ring, entry: Entry) -> tuple[str, ...]:
    data = entry.data
    film = ring.films.get(data["film"])
    if film is None:
        raise Refused(f"there is no film {data['film'][:20]!r} of {ring.serial}")
    retake = why_retake(ring.ruled, film)
    if retake is not None:
        raise Refused(retake, code="retake")
    accepted, refused = data.get("accepted", ()), data.get("not_accepted", ())
    welds = _known(ring, [*accepted, *refused])
    due = waiting_on(ring, film)
    if {weld.code for weld in welds} != set(due):
        listed = ", ".join(due) or "none"
        raise Refused(f"film {film.code} waits for a verdict on {listed}; give each one")
    for weld in welds:
        _not_own(weld, entry.actor, "read its film")
    found = _defects(ring, data, welds)
    for weld in welds:
        good = weld.code in accepted
        if not good and not found[weld.code]:
            raise Refused(f"say what was found in weld {weld.code}, which is not accepted")
        weld.readings.append(
            Reading(
                entry.seq,
                entry.at_us,
                entry.known_us,
                film.code,
                len(weld.passes) - 1,
                entry.actor,
                good,
                found[weld.code],
                bool(weld.beside),
            )
        )
        weld.state = ACCEPTED if good else _faulty(ring, weld)
        weld.beside = ""
    film.read_by, film.read_us = entry.actor, entry.at_us
    return tuple(weld.code for weld in welds)


def _defects(ring: Ring, data: Any, welds: Sequence[Weld]) -> dict[str, list[dict[str, Any]]]:
    found: dict[str, list[dict[str, Any]]] = {weld.code: [] for weld in welds}
    for one in data.get("defects", ()):
        if one["weld"] not in found:
            raise Refused(
                f"a defect is told of weld {one['weld'][:20]!r}, which gets no verdict"
            )
        if one["kind"] not in DEFECTS:
            raise Refused(f"{one['kind'][:10]!r} is no number of ISO 6520-1 known here")
        length = ring.ruled.joint_of(one["weld"]).length_mm
        if not 0 < one["size_mm"] <= length or not 0 <= one["at_mm"] <= length:
            raise Refused(
                f"weld {one['weld']} is {length:g} mm long; the defect must lie on it"
            )
        found[one["weld"]].append(dict(one))
    return found


def _excavate(ring: Ring, entry: Entry) -> tuple[str, ...]:
    (weld,) = _known(ring, [entry.data["weld"]])
    if weld.state == AT_LIMIT:
        raise Refused(limit_told(ring, weld), code="repair-limit")
    _must_be(weld, (TO_EXCAVATE, EXCAVATED), "excavated")
    if not 0 < entry.data["depth_mm"] <= 1000:
        raise Refused("say how deep it was ground out [mm]")
    weld.state = EXCAVATED
    return (weld.code,)


def _prove(ring: Ring, entry: Entry) -> tuple[str, ...]:
    (weld,) = _known(ring, [entry.data["weld"]])
    _must_be(weld, (EXCAVATED,), "proved clear")
    _not_own(weld, entry.actor, "prove it clear")
    if entry.data["method"] not in METHODS:
        raise Refused("an excavation is proved clear by penetrant or radiograph")
    weld.state = PROVED_CLEAR if entry.data["clear"] else EXCAVATED
    return (weld.code,)


def _redo(ring: Ring, entry: Entry) -> tuple[str, ...]:
    (weld,) = _known(ring, [entry.data["weld"]])
    _must_be(weld, (PROVED_CLEAR,), "welded again")
    _check_pass(ring.ruled, entry)
    _passed(ring, weld, entry, REWELDED)
    for code in ring.ruled.adjoining(weld.code):
        other = ring.welds[code]
        if other.state in (ACCEPTED, TO_READ):
            other.state, other.beside = TO_RADIOGRAPH, weld.code
    return (weld.code,)


def _relieve(ring: Ring, entry: Entry) -> tuple[str, ...]:
    welds = _known(ring, entry.data["welds"])
    if not entry.data["run"].strip():
        raise Refused("name the furnace run that relieved the stress")
    for weld in welds:
        _must_be(weld, (TO_RELIEVE,), "relieved")
    for weld in welds:
        weld.state = TO_RADIOGRAPH
    return tuple(entry.data["welds"])


RULES: Final[dict[str, Callable[[Ring, Entry], tuple[str, ...]]]] = {
    "vanes-fitted": _fit,
    "welds-made": _make,
    "penetrant-read": _penetrant,
    "film-taken": _take,
    "film-read": _read,
    "weld-excavated": _excavate,
    "excavation-proved": _prove,
    "weld-redone": _redo,
    "stress-relieved": _relieve,
}
