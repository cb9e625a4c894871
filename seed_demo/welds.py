"""The welds of the invented cases, told beside the visits that the story tells of them.

Nothing here changes the story: what happens at the welding step and at the radiograph is known
from the visits, and the facts of the ring are made to agree with it. A die of each ring's own
says which weld it was.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from functools import cache
from importlib.resources import files
from random import Random
from typing import Any, Final

from ringwright.core.facts import Entry
from ringwright.ledger.transaction import Tx
from ringwright.welds.card import WeldPlan
from ringwright.welds.facts import RingFact, WeldPlanSet
from ringwright.welds.rules import fold
from ringwright.welds.state import (
    NOT_WELDED,
    REWELDED,
    TO_EXCAVATE,
    TO_RADIOGRAPH,
    WELDED,
    Ring,
)
from ringwright.welds.telling import waiting_on
from ringwright.welds.toml import parse_plan, plan_data
from seed_demo.faults import STARTS
from seed_demo.shop import MINUTE_US
from seed_demo.told import Told

PRODUCT: Final = "HF22-CASE"
RING, PLAN = RingFact.subject_kind, WeldPlanSet.subject_kind
ON_FILM: Final = 8
"""Welds that one film shows."""
READERS: Final = tuple(f"inspector-{n}" for n in range(2, 10))
"""Who takes films and tests with penetrant."""
KINDS: Final = {
    "porosity in a vane weld": ("2012", "2011", "2013"),
    "lack of fusion": ("401",),
    "undercut of a weld": ("5011",),
}
"""What a radiograph is not accepted for, by the story's word: numbers of ISO 6520-1."""
SHOWN_CHANCE: Final = 0.45
"""Of a ring that penetrant shows something in one of its welds, mended at once."""
RETAKE_CHANCE: Final = 0.06
"""Of a film that does not show the wire."""


@cache
def demo_weld_plan() -> WeldPlan:
    """How the cases are welded."""
    name = f"{PRODUCT}-welds.toml"
    text = files("seed_demo").joinpath("cards", name).read_text(encoding="utf-8")
    return parse_plan(text, name)


class Welding:
    """Tells of rings, through all the weeks of one telling."""

    def __init__(self, tx: Tx) -> None:
        self._tx = tx
        self._entries: dict[str, list[Entry]] = {}
        self._planned = bool(tx.history(PLAN, PRODUCT))

    def beside(self, told: Sequence[Told]) -> list[Told]:
        """What is told, with the facts of the rings among it."""
        found: list[Told] = []
        for one in told:
            if one.subject_kind != "part" or not one.subject.startswith(_prefix()):
                found.append(one)
                continue
            if not self._planned:
                self._planned = True
                found.append(_plan_told(one.at_us))
            # What was seen is on record before the visit ends for it.
            found += self._of_visit(one)
            found.append(one)
        return found

    def _of_visit(self, one: Told) -> Iterator[Told]:
        plan, step = demo_weld_plan(), one.data.get("step")
        if one.kind == "begin" and step == plan.welding_step:
            yield from self._fitted(one)
        elif one.kind == "end" and step == plan.welding_step and self._begun(one):
            yield from self._welded(one)
            yield from self._radiographed(one)
        elif one.kind in ("end", "stop") and step == plan.radiograph_step and self._begun(one):
            yield from self._read(one)

    def _begun(self, one: Told) -> bool:
        """False for a case welded by an older program, of whose ring nothing is told."""
        return bool(self._known(one.subject))

    def _known(self, serial: str) -> list[Entry]:
        if serial not in self._entries:
            self._entries[serial] = self._tx.history(RING, serial)
        return self._entries[serial]

    def _ring(self, serial: str) -> Ring:
        return fold(serial, self._known(serial), lambda _product, _revision: demo_weld_plan())

    def _tell(self, one: Told, kind: str, by: str, ago_min: int, **data: Any) -> Told:
        """A fact of the ring, some minutes before; never before the one before it."""
        known = self._known(one.subject)
        at_us = one.at_us - ago_min * MINUTE_US
        at_us = min(max([at_us, *(entry.at_us for entry in known)]), one.at_us)
        given = {name: value for name, value in data.items() if value not in (None, ())}
        number = 1 + max([0, *(entry.seq for entry in known)])
        known.append(Entry(number, kind, at_us, at_us, by, "", None, given))
        return Told(at_us, RING, one.subject, kind, by, "", data)

    def _fitted(self, one: Told) -> Iterator[Told]:
        if self._known(one.subject):
            return
        plan, die = demo_weld_plan(), Random(f"fit/{one.subject}")  # noqa: S311 - a story
        revision = plan.revision
        yield self._tell(one, "ring-opened", one.actor, 0, product=PRODUCT, revision=revision)
        vanes = tuple(
            {
                "vane": number,
                "radial_mm": round(min(0.45, max(-0.45, die.gauss(0.0, 0.15))), 2),
                "axial_mm": round(min(0.95, max(-0.95, die.gauss(0.0, 0.35))), 2),
            }
            for number in range(1, plan.vanes + 1)
        )
        yield self._tell(one, "vanes-fitted", one.actor, 0, vanes=vanes)

    def _welded(self, one: Told) -> Iterator[Told]:
        ring, die = self._ring(one.subject), self._die(one)
        fresh = ring.in_state(NOT_WELDED)
        if fresh:
            for joint, ago_min in (("OUT", 720), ("IN", 300)):
                welds = tuple(code for code in fresh if code.endswith(joint))
                yield self._tell(one, "welds-made", one.actor, ago_min, welds=welds,
                                 **_pass(die, one.actor))  # fmt: skip
            shown = (die.choice(fresh),) if die.random() < SHOWN_CHANCE else ()
            yield self._penetrant(one, die, shown, 150)
        for code in self._ring(one.subject).in_state(TO_EXCAVATE):
            yield from self._mended(one, die, code)

    def _penetrant(self, one: Told, die: Random, shown: tuple[str, ...], ago: int) -> Told:
        due = self._ring(one.subject).in_state(WELDED, REWELDED)
        clear = tuple(code for code in due if code not in shown)
        by = die.choice(READERS)
        return self._tell(one, "penetrant-read", by, ago, clear=clear, shown=shown)

    def _mended(self, one: Told, die: Random, code: str) -> Iterator[Told]:
        by, ago = one.actor, 110
        deep = round(die.uniform(1.0, 3.5), 1)
        yield self._tell(one, "weld-excavated", by, ago, weld=code, depth_mm=deep)
        if die.random() < 0.2:
            yield self._proved(one, die, code, clear=False)
            yield self._tell(one, "weld-excavated", by, 80, weld=code, depth_mm=deep + 0.8)
        yield self._proved(one, die, code, clear=True)
        yield self._tell(one, "weld-redone", by, 50, weld=code, **_pass(die, by))
        yield self._penetrant(one, die, (), 15)

    def _proved(self, one: Told, die: Random, code: str, *, clear: bool) -> Told:
        by = die.choice(READERS)
        return self._tell(one, "excavation-proved", by, 75, weld=code, method="penetrant",
                          clear=clear)  # fmt: skip

    def _radiographed(self, one: Told) -> Iterator[Told]:
        """The films are taken once the ring is welded; they wait for whoever reads them."""
        die = self._die(one, "film")
        due = self._ring(one.subject).in_state(TO_RADIOGRAPH)
        due.sort(key=lambda code: code.partition("-")[2], reverse=True)
        by = die.choice(READERS)
        for place in range(0, len(due), ON_FILM):
            welds = tuple(due[place : place + ON_FILM])
            if die.random() < RETAKE_CHANCE:
                yield self._film(one, by, welds, 12)
            yield self._film(one, by, welds, die.choice((13, 13, 13, 14)))

    def _film(self, one: Told, by: str, welds: tuple[str, ...], wire: int) -> Told:
        number = 1 + len(self._ring(one.subject).films)
        asked = demo_weld_plan().acceptance
        return self._tell(
            one, "film-taken", by, 0, film=f"F{number}", welds=welds,
            technique=asked.technique, technique_class=asked.technique_class, iqi="W",
            wire=wire,
        )  # fmt: skip

    def _read(self, one: Told) -> Iterator[Told]:
        """The verdicts agree with how the visit ends: a pass accepts, else one weld is not."""
        ring, die = self._ring(one.subject), self._die(one, "read")
        due = {
            film.code: waiting
            for film in ring.films.values()
            if film.good and (waiting := waiting_on(ring, film))
        }
        numbers = KINDS.get(str(one.data.get("defect")))
        bad = _worst(ring, die, [code for codes in due.values() for code in codes])
        for place, (film, welds) in enumerate(due.items()):
            refused = tuple(code for code in welds if numbers and code == bad)
            found = tuple(_defect(die, ring, code, numbers) for code in refused)
            accepted = tuple(code for code in welds if code not in refused)
            verdicts = {"accepted": accepted, "not_accepted": refused, "defects": found}
            ago_min = max(1, 25 - 4 * place)
            yield self._tell(one, "film-read", one.actor, ago_min, film=film, **verdicts)

    def _die(self, one: Told, what: str = "weld") -> Random:
        return Random(f"{what}/{one.subject}/{len(self._known(one.subject))}")  # noqa: S311


def _prefix() -> str:
    return STARTS[PRODUCT].serial


def _plan_told(at_us: int) -> Told:
    data = {"plan": plan_data(demo_weld_plan()), "effective_us": at_us}
    return Told(at_us, PLAN, PRODUCT, WeldPlanSet.kind, "quality-engineer", "", data)


def _pass(die: Random, welder: str) -> dict[str, Any]:
    plan = demo_weld_plan()
    return {
        "welder": welder,
        "filler_lot": f"WI-{die.randrange(1, 8):03}",
        "procedure": plan.procedure,
        "oxygen_ppm": float(die.randrange(6, 42)),
        "colour": plan.colours[0] if die.random() < 0.85 else plan.colours[1],
    }


def _worst(ring: Ring, die: Random, due: Sequence[str]) -> str:
    """The weld that is not accepted: one repaired before where it may be repaired again."""
    most = ring.ruled.repair_limit
    again = [code for code in due if 0 < ring.welds[code].repairs < most]
    fresh = [code for code in due if ring.welds[code].repairs < most]
    among = again or fresh or list(due)
    return die.choice(among) if among else ""


def _defect(die: Random, ring: Ring, code: str, numbers: Sequence[str] | None) -> Any:
    length = ring.ruled.joint_of(code).length_mm
    return {
        "weld": code,
        "kind": die.choice(list(numbers or ("2011",))),
        "size_mm": round(die.uniform(0.8, 6.0), 1),
        "at_mm": float(round(die.uniform(4.0, length - 8.0))),
    }
