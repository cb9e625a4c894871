"""Wall plans from TOML files, and as the data that the record keeps.

What is unknown, overlaps or cannot be is refused by zone and field: a limit that was mistyped
and passed over would let a thin wall through.
"""

from __future__ import annotations

from collections.abc import Mapping
from itertools import combinations
from typing import Any, Final

from ringwright.core.fields import Fields, as_data, first_repeated, read_toml, shown
from ringwright.walls.plan import FACES, FULL_TURN_DEG, WallPlan, Zone

MOST_ZONES: Final = 60
LARGEST_MM: Final = 10_000.0
OF_PLAN: Final = (
    *("product", "revision", "effective_from", "length_mm", "steps"),
    *("largest_gap_mm", "largest_gap_deg"),
)
OF_ZONE: Final = (
    *("name", "from_mm", "to_mm", "from_deg", "to_deg"),
    *("nominal_mm", "lower_mm", "upper_mm", "stock"),
)


def parse_plan(text: str, name: str = "") -> WallPlan:
    """The plan of a TOML file; raises Refused in one line that names zone and field."""
    return _plan(read_toml(text, name or "wall plan"))


def plan_data(plan: WallPlan) -> dict[str, Any]:
    """The plan as JSON values under the keys of its file."""
    data = as_data(plan)
    zones, faces = data.pop("zones"), data.pop("faces")
    data["largest_gap_mm"], data["largest_gap_deg"] = data.pop("gap_mm"), data.pop("gap_deg")
    told = [{**zone, "stock": _by_text(zone["stock"])} for zone in zones]
    cuts = [{"step": step, "face": face} for step, face in sorted(faces.items())]
    return {"plan": data, "zone": told, "cut": cuts}


def plan_from(data: Mapping[str, Any]) -> WallPlan:
    """The plan that `plan_data` wrote, checked as a file is; raises Refused."""
    return _plan(Fields(dict(data), "wall plan"))


def plan_text(plan: WallPlan) -> str:
    """The plan as a file that can be loaded again."""
    days = f'effective_from = "{plan.effective_from}"'
    lines = [
        "[plan]", f"product = {_quoted(plan.product)}", f"revision = {_quoted(plan.revision)}",
        days, f"length_mm = {plan.length_mm:g}", f"steps = {list(plan.steps)}",
        f"largest_gap_mm = {plan.gap_mm:g}", f"largest_gap_deg = {plan.gap_deg:g}",
    ]  # fmt: skip
    for step, face in sorted(plan.faces.items()):
        lines += ["", "[[cut]]", f"step = {step}", f'face = "{face}"']
    for zone in plan.zones:
        stock = ", ".join(f"{step} = {mm:g}" for step, mm in sorted(zone.stock.items()))
        lines += ["", "[[zone]]", f"name = {_quoted(zone.name)}"]
        lines += [f"{key} = {getattr(zone, key):g}" for key in OF_ZONE[1:-1]]
        lines += [f"stock = {{ {stock} }}"]
    return "\n".join(lines) + "\n"


def _quoted(text: str) -> str:
    escaped = text.replace("\\", "\\\\").replace('"', '\\"')
    return f'"{escaped}"'


def _by_text(stock: Mapping[Any, float]) -> dict[str, float]:
    return {str(step): mm for step, mm in sorted(stock.items())}


def _plan(file: Fields) -> WallPlan:
    file.only("plan", "zone", "cut")
    head = file.under("plan", f"{file.where}: [plan]")
    head.only(*OF_PLAN)
    length = _above_nought(head, "length_mm")
    plan = WallPlan(
        product=head.code("product"),
        revision=_revision(head),
        effective_from=head.optional_date("effective_from") or head.text("effective_from"),
        length_mm=length,
        steps=_steps(head),
        zones=_zones(file, length),
        gap_mm=_above_nought(head, "largest_gap_mm"),
        gap_deg=_above_nought(head, "largest_gap_deg"),
        faces=_faces(file),
    )
    for step in plan.faces:
        if step not in plan.cuts:
            file.refuse(f"[[cut]] step {step}: no zone has stock for it")
    if plan.gap_deg > FULL_TURN_DEG / 2:
        head.refuse(f"largest_gap_deg {plan.gap_deg:g} is over half a turn")
    return plan


def _revision(head: Fields) -> str:
    # A bare 2 is what people write; 1.10 without quotes would turn into 1.1.
    value = head.table.get("revision", "1")
    if isinstance(value, int) and not isinstance(value, bool):
        return str(head.whole("revision", at_least=0))
    return head.code("revision", "1")


def _steps(head: Fields) -> tuple[int, ...]:
    listed = head.items("steps")
    found = [Fields({"steps": one}, head.where).whole("steps") for one in listed]
    if not found:
        head.refuse("steps must name the steps at which the wall is read, such as [40, 90]")
    if first_repeated(found) is not None:
        head.refuse(f"steps: {first_repeated(found)} stands twice")
    return tuple(sorted(found))


def _faces(file: Fields) -> dict[int, str]:
    faces: dict[int, str] = {}
    for place, table in enumerate(file.tables("cut"), start=1):
        one = Fields(table, f"{file.where}: cut no. {place}")
        one.only("step", "face")
        step = one.whole("step")
        if step in faces:
            one.refuse(f"step {step} stands twice")
        faces[step] = one.choice("face", FACES)
    return faces


def _zones(file: Fields, length_mm: float) -> tuple[Zone, ...]:
    tables = file.tables("zone")
    if not 1 <= len(tables) <= MOST_ZONES:
        file.refuse(f"a wall plan has 1 to {MOST_ZONES} [[zone]], not {len(tables)}")
    zones = [
        _zone(Fields(table, f"{file.where}: zone {_named(table, place)}"), length_mm)
        for place, table in enumerate(tables, start=1)
    ]
    twice = first_repeated(zone.name for zone in zones)
    if twice is not None:
        file.refuse(f"zone {shown(twice)} stands twice")
    for one, other in combinations(zones, 2):
        if _overlap(one, other):
            file.refuse(
                f"zones {shown(one.name)} and {shown(other.name)} overlap; a place has one zone"
            )
    return tuple(zones)


def _zone(one: Fields, length_mm: float) -> Zone:
    one.only(*OF_ZONE)
    from_mm, to_mm = one.number("from_mm"), one.number("to_mm")
    if not 0 <= from_mm < to_mm <= length_mm:
        one.refuse(f"from_mm and to_mm must rise within 0 and length_mm {length_mm:g}")
    from_deg, to_deg = one.number("from_deg", 0.0), one.number("to_deg", FULL_TURN_DEG)
    if not (0 <= from_deg < FULL_TURN_DEG and 0 < to_deg <= FULL_TURN_DEG):
        one.refuse("from_deg must be from 0 to below 360, to_deg above 0 to 360")
    if from_deg == to_deg:
        one.refuse("from_deg and to_deg are the same; leave both out for the whole turn")
    lower, nominal, upper = (
        _above_nought(one, key) for key in ("lower_mm", "nominal_mm", "upper_mm")
    )
    if not lower <= nominal <= upper or lower == upper:
        one.refuse("lower_mm, nominal_mm and upper_mm must rise in this order")
    return Zone(
        name=one.text("name").strip(),
        from_mm=from_mm,
        to_mm=to_mm,
        from_deg=from_deg,
        to_deg=to_deg,
        nominal_mm=nominal,
        lower_mm=lower,
        upper_mm=upper,
        stock=_stock(one),
    )


def _stock(one: Fields) -> dict[int, float]:
    stock: dict[int, float] = {}
    for step, mm in one.numbers_by_code("stock").items():
        if not (step.isascii() and step.isdigit() and int(step[:9]) > 0 and len(step) < 9):
            one.refuse(f"stock: {shown(step)} is no step; write stock = {{ 80 = 2.5 }}")
        if not 0 < mm <= LARGEST_MM:
            one.refuse(f"stock of step {step} must be above 0 mm, not {mm:g}")
        stock[int(step)] = mm
    return stock


def _above_nought(one: Fields, key: str) -> float:
    value = one.number(key)
    if not 0 < value <= LARGEST_MM:
        one.refuse(f"{key} must be above 0 and at most {LARGEST_MM:g}, not {value:g}")
    return value


def _overlap(one: Zone, other: Zone) -> bool:
    if one.to_mm <= other.from_mm or other.to_mm <= one.from_mm:
        return False
    return any(
        low < high_other and low_other < high
        for low, high in one.spans_deg
        for low_other, high_other in other.spans_deg
    )


def _named(table: object, place: int) -> str:
    """What a message calls a zone: by its name, else by its place in the file."""
    value = table.get("name") if isinstance(table, dict) else None
    return shown(value) if isinstance(value, str) and value.strip() else f"no. {place}"
