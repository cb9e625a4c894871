"""A small ring of vanes: its weld plan, and entries as the ledger would hand them over."""

from __future__ import annotations

from typing import Any

from ringwright.core.facts import Entry
from ringwright.welds.card import WeldPlan
from ringwright.welds.rules import FindPlan, fold
from ringwright.welds.state import Ring
from ringwright.welds.toml import parse_plan

PLAN = """
[weld_plan]
product = "RING"
revision = "1"
vanes = 4
first_angle_deg = 0
direction = "clockwise"
process = "141"
procedure = "WP-1"
filler = "AWS A5.16 ERTi-5"
welding_step = 20
radiograph_step = 30
accepted_after = 30
welder = "weld-tig"
reader = "RT-2"
penetrant = true
colours = ["silver", "light straw"]
oxygen_ppm = 50

[acceptance]
standard = "ISO 5817"
level = "B"
radiograph_level = 1
technique = "ISO 17636-1"
technique_class = "B"
wire = 13

[repair]
limit = 2
relieve = false
adjoining_vanes = 0

[position]
radial_mm = 0.5
axial_mm = 1.0

[[joint]]
code = "OUT"
kind = "T-joint"
length_mm = 160
place = "outer"
adjoins = ["IN"]

[[joint]]
code = "IN"
kind = "T-joint"
length_mm = 60
place = "inner"
adjoins = ["OUT"]
"""
GOOD_PASS = {
    "welder": "maker-1",
    "filler_lot": "F-1",
    "procedure": "WP-1",
    "oxygen_ppm": 20.0,
    "colour": "silver",
}


def plan(**changed: str) -> WeldPlan:
    """The plan, with keys of its file given other values (`limit="1"`)."""
    return parse_plan(plan_text(**changed))


def plan_text(**changed: str) -> str:
    """The plan's file, with the first line of each key said anew."""
    lines = PLAN.splitlines()
    for key, value in changed.items():
        place = next(n for n, line in enumerate(lines) if line.startswith(f"{key} ="))
        lines[place] = f"{key} = {value}"
    return "\n".join(lines)


class Bench:
    """Entries of one ring, each judged as it comes; a refused one leaves nothing."""

    def __init__(self, ruled: WeldPlan | None = None) -> None:
        self.plan = ruled or plan()
        self.entries: list[Entry] = []
        self.ring = Ring("R-1")
        self.tell("ring-opened", product="RING", revision="1")

    @property
    def find(self) -> FindPlan:
        """The one plan there is."""
        return lambda _product, _revision: self.plan

    def tell(self, kind: str, by: str = "inspector-1", **data: Any) -> Ring:
        """The ring after one more fact; raises Refused and leaves it as it was."""
        corrects = data.pop("corrects", None)
        number = len(self.entries) + 1
        entry = Entry(number, kind, number * 10, number * 10, by, "", corrects, data)
        self.ring = fold("R-1", [*self.entries, entry], self.find)
        self.entries.append(entry)
        return self.ring

    def fit(self) -> None:
        """Every vane stands where the drawing has it."""
        vanes = range(1, self.plan.vanes + 1)
        self.tell(
            "vanes-fitted",
            vanes=[{"vane": n, "radial_mm": 0.1, "axial_mm": 0.0} for n in vanes],
        )

    def make(self, *welds: str, welder: str = "maker-1", **changed: Any) -> None:
        """Weld them for the first time."""
        data = {**GOOD_PASS, "welder": welder, **changed}
        self.tell("welds-made", by=welder, welds=list(welds), **data)

    def film(self, code: str, *welds: str, wire: int = 13, **changed: Any) -> None:
        """Radiograph them."""
        asked = self.plan.acceptance
        data = {
            "technique": asked.technique, "technique_class": asked.technique_class, "iqi": "W",
            **changed,
        }  # fmt: skip
        self.tell("film-taken", film=code, welds=list(welds), wire=wire, **data)

    def read(
        self, code: str, bad: dict[str, str] | None = None, by: str = "inspector-1"
    ) -> None:
        """Read a film: not accepted for what is named, accepted else."""
        bad = bad or {}
        welds = [
            one
            for one in self.ring.films[code].welds
            if self.ring.welds[one].film == code and self.ring.welds[one].state == "to read"
        ]
        self.tell(
            "film-read", by=by, film=code,
            accepted=[one for one in welds if one not in bad],
            not_accepted=list(bad),
            defects=[
                {"weld": weld, "kind": kind, "size_mm": 1.0, "at_mm": 20.0}
                for weld, kind in bad.items()
            ],
        )  # fmt: skip

    def welded(self, *welds: str) -> None:
        """Fit, weld and test with penetrant."""
        self.fit()
        self.make(*(welds or self.plan.welds))
        self.tell("penetrant-read", clear=list(welds or self.plan.welds))

    def repair(self, weld: str, welder: str = "maker-2") -> None:
        """Excavate, prove clear, weld again, test with penetrant."""
        self.tell("weld-excavated", by=welder, weld=weld, depth_mm=2.0)
        self.tell("excavation-proved", weld=weld, method="penetrant", clear=True)
        self.tell("weld-redone", by=welder, weld=weld, **{**GOOD_PASS, "welder": welder})
        if self.plan.penetrant:
            self.tell("penetrant-read", clear=[weld])

    def state(self, weld: str) -> str:
        """Where a weld stands."""
        return self.ring.welds[weld].state
