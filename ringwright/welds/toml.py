"""Weld plans from TOML files, and as the data that the record keeps.

What is unknown, missing or impossible is refused by table and field. The limit of repairs has
no default: no standard has one for every weld, so the procedure must say it.
"""

from __future__ import annotations

import json
import re
from collections.abc import Mapping
from typing import Any, Final

from ringwright.core.fields import Fields, as_data, first_repeated, read_toml
from ringwright.welds.card import (
    BEAM,
    BEAM_STANDARD,
    CLASSES,
    CLOCKWISE,
    DIRECTIONS,
    FIRST_WIRE,
    FUSION_STANDARD,
    LAST_WIRE,
    LEVELS,
    OUTER,
    PLACES,
    PROCESSES,
    RADIOGRAPH_LEVELS,
    STANDARDS,
    TECHNIQUES,
    Acceptance,
    Joint,
    WeldPlan,
)

MOST_VANES: Final = 180
MOST_JOINTS: Final = 6
MOST_REPAIRS: Final = 9
LONGEST_MM: Final = 100_000.0
_JOINT_CODE: Final = re.compile(r"[A-Z0-9]{1,4}")
OF_PLAN: Final = (
    *("product", "revision", "effective_from", "vanes", "first_angle_deg", "direction"),
    *("process", "procedure", "filler", "welding_step", "radiograph_step", "accepted_after"),
    *("welder", "reader", "radiographer", "penetrant", "colours", "oxygen_ppm"),
)
OF_ACCEPTANCE: Final = (
    *("standard", "level", "radiograph_level", "technique", "technique_class", "wire"),
)
OF_REPAIR: Final = ("limit", "relieve", "adjoining_vanes")
OF_POSITION: Final = ("radial_mm", "axial_mm")
OF_JOINT: Final = ("code", "kind", "length_mm", "angle_deg", "place", "adjoins")


def parse_plan(text: str, name: str = "") -> WeldPlan:
    """The weld plan of a TOML file; raises Refused in one line that names table and field."""
    return _plan(read_toml(text, name or "weld plan"))


def plan_data(plan: WeldPlan) -> dict[str, Any]:
    """The plan as JSON values under the keys of its file."""
    data = as_data(plan)
    return {
        "weld_plan": {key: data[key] for key in OF_PLAN},
        "acceptance": data["acceptance"],
        "repair": {
            "limit": plan.repair_limit,
            "relieve": plan.relieve,
            "adjoining_vanes": plan.adjoining_vanes,
        },
        "position": {"radial_mm": plan.radial_mm, "axial_mm": plan.axial_mm},
        "joint": [{**one, "adjoins": list(one["adjoins"])} for one in data["joints"]],
    }


def plan_text(plan: WeldPlan) -> str:
    """The plan as the text of its file, to be changed and handed in again."""
    data = plan_data(plan)
    joints = data.pop("joint")
    pieces = [f"[{name}]\n{_lines(table)}" for name, table in data.items()]
    return "\n".join(pieces + [f"[[joint]]\n{_lines(one)}" for one in joints])


def _lines(table: Mapping[str, Any]) -> str:
    # A text in JSON is the same text in TOML; so are true, false, numbers and lists.
    return "".join(
        f"{key} = {json.dumps(value, ensure_ascii=False)}\n" for key, value in table.items()
    )


def plan_from(data: Mapping[str, Any]) -> WeldPlan:
    """The plan that `plan_data` wrote, checked as a file is; raises Refused."""
    return _plan(Fields(dict(data), "weld plan"))


def _plan(file: Fields) -> WeldPlan:
    file.only("weld_plan", "acceptance", "repair", "position", "joint")
    head = file.under("weld_plan", f"{file.where}: [weld_plan]")
    head.only(*OF_PLAN)
    process = head.choice("process", tuple(PROCESSES))
    repair = _table(file, "repair", OF_REPAIR)
    position = _table(file, "position", OF_POSITION)
    reader = head.code("reader")
    plan = WeldPlan(
        product=head.code("product"),
        revision=_revision(head),
        effective_from=_day(head),
        vanes=_at_most(head, "vanes", MOST_VANES),
        joints=_joints(file),
        acceptance=_acceptance(file, process),
        process=process,
        procedure=head.text("procedure"),
        filler=head.text("filler"),
        welding_step=head.whole("welding_step"),
        radiograph_step=head.whole("radiograph_step"),
        accepted_after=head.whole("accepted_after"),
        welder=head.code("welder"),
        reader=reader,
        radiographer=head.code("radiographer", reader),
        repair_limit=_at_most(repair, "limit", MOST_REPAIRS, at_least=0),
        relieve=_truth(repair, "relieve"),
        adjoining_vanes=_at_most(repair, "adjoining_vanes", 3, at_least=0),
        penetrant=_truth(head, "penetrant"),
        colours=_colours(head),
        oxygen_ppm=_above_nought(head, "oxygen_ppm"),
        radial_mm=_above_nought(position, "radial_mm"),
        axial_mm=_above_nought(position, "axial_mm"),
        first_angle_deg=_angle(head, "first_angle_deg"),
        direction=head.choice("direction", tuple(DIRECTIONS), CLOCKWISE),
    )
    _check_steps(head, plan)
    return plan


def _table(file: Fields, key: str, known: tuple[str, ...]) -> Fields:
    table = file.under(key, f"{file.where}: [{key}]")
    table.only(*known)
    return table


def _revision(head: Fields) -> str:
    # A bare 2 is what people write; 1.10 without quotes would turn into 1.1.
    value = head.table.get("revision")
    if isinstance(value, int) and not isinstance(value, bool):
        return str(head.whole("revision", at_least=0))
    return head.code("revision")


def _day(head: Fields) -> str:
    empty = head.table.get("effective_from", "") == ""
    return "" if empty else head.optional_date("effective_from") or ""


def _at_most(table: Fields, key: str, most: int, at_least: int = 1) -> int:
    value = table.whole(key, at_least=at_least)
    if value > most:
        table.refuse(f"{key} must be from {at_least} to {most}, not {value}")
    return value


def _truth(table: Fields, key: str) -> bool:
    value = table.table.get(key)
    if not isinstance(value, bool):
        table.refuse(f"{key} must be true or false")
    return value


def _above_nought(table: Fields, key: str) -> float:
    value = table.number(key)
    if not 0 < value <= LONGEST_MM:
        table.refuse(f"{key} must be above 0 and at most {LONGEST_MM:g}, not {value:g}")
    return value


def _angle(table: Fields, key: str) -> float:
    value = table.number(key, 0.0)
    if not -360.0 < value < 360.0:
        table.refuse(f"{key} must lie within 360 degrees, not {value:g}")
    return value


def _colours(head: Fields) -> tuple[str, ...]:
    found = head.codes("colours")
    if not found:
        head.refuse("colours must name at least one colour of the weld that is accepted")
    return found


def _acceptance(file: Fields, process: str) -> Acceptance:
    table = _table(file, "acceptance", OF_ACCEPTANCE)
    standard = table.choice("standard", STANDARDS)
    if standard == FUSION_STANDARD and process in BEAM:
        table.refuse(
            f"{FUSION_STANDARD} leaves out electron and laser beam welds (process {process}); "
            f"accept them by {BEAM_STANDARD}"
        )
    if standard == BEAM_STANDARD and process not in BEAM:
        table.refuse(
            f"{BEAM_STANDARD} is for electron and laser beam welds; "
            f"accept process {process} by {FUSION_STANDARD}"
        )
    level = _at_most(table, "radiograph_level", RADIOGRAPH_LEVELS[-1])
    wire = table.whole("wire")
    if not FIRST_WIRE <= wire <= LAST_WIRE:
        table.refuse(f"wire must be from {FIRST_WIRE} to {LAST_WIRE} (W1 to W19), not {wire}")
    return Acceptance(
        standard=standard,
        level=table.choice("level", LEVELS[standard]),
        radiograph_level=level,
        technique=table.choice("technique", tuple(TECHNIQUES)),
        technique_class=table.choice("technique_class", CLASSES),
        wire=wire,
    )


def _joints(file: Fields) -> tuple[Joint, ...]:
    tables = file.tables("joint")
    if not 1 <= len(tables) <= MOST_JOINTS:
        file.refuse(f"a vane has 1 to {MOST_JOINTS} [[joint]], not {len(tables)}")
    fields = [
        Fields(table, f"{file.where}: joint no. {place}")
        for place, table in enumerate(tables, start=1)
    ]
    joints = tuple(_joint(one) for one in fields)
    codes = [one.code for one in joints]
    twice = first_repeated(codes)
    if twice is not None:
        file.refuse(f"joint {twice} stands twice; each once")
    for table, joint in zip(fields, joints, strict=True):
        for other in joint.adjoins:
            if other not in codes or other == joint.code:
                table.refuse(f"adjoins {other} is no other joint of the vane")
    return joints


def _joint(one: Fields) -> Joint:
    one.only(*OF_JOINT)
    code = one.code("code")
    if not _JOINT_CODE.fullmatch(code):
        one.refuse(f"code {code!r} must be one to four capitals or digits, such as OUT")
    return Joint(
        code=code,
        kind=one.text("kind"),
        length_mm=_above_nought(one, "length_mm"),
        angle_deg=_angle(one, "angle_deg"),
        place=one.choice("place", PLACES, OUTER),
        adjoins=one.codes("adjoins"),
    )


def _check_steps(head: Fields, plan: WeldPlan) -> None:
    if not plan.welding_step < plan.radiograph_step <= plan.accepted_after:
        head.refuse(
            f"welding_step {plan.welding_step}, radiograph_step {plan.radiograph_step} and "
            f"accepted_after {plan.accepted_after} must follow one another"
        )
