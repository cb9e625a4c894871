"""Furnace recipes from TOML files, and as the data that the record keeps.

What is unknown, repeated or impossible is refused by segment and field: a tolerance that was
mistyped and passed over would let a run through that nobody allowed.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any, Final

from ringwright.core.fields import Fields, as_data, first_repeated, read_toml, shown
from ringwright.heat.recipe import KINDS, RAMP, SOAK, Recipe, Segment, Use

MOST_SEGMENTS: Final = 200
LARGEST: Final = 1e6
"""No temperature, time, rate or pressure of a furnace is larger, whatever its unit."""
ABSOLUTE_ZERO_C: Final = -273.15
CLASSES: Final = (1, 2, 3, 4, 5, 6)
OF_RECIPE: Final = (
    *("code", "name", "revision", "planned_minutes", "furnace_class", "ceiling_c"),
    *("max_dip_minutes", "min_channels", "use"),
)
"""Keys that stand at the top of the file, or in a [recipe] table."""
OF_SEGMENT: Final = (
    *("name", "kind", "target_c", "tolerance_c", "min_minutes", "max_minutes"),
    *("max_rate_c_per_min", "pressure_kpa", "pressure_tolerance_kpa"),
    *("max_pressure_rate_kpa_per_min", "max_dip_minutes"),
)


def parse_recipe(text: str, name: str = "") -> Recipe:
    """The recipe of a TOML file; raises Refused in one line that names segment and field."""
    where = name or "recipe"
    return _recipe(read_toml(text, where))


def recipe_data(recipe: Recipe) -> dict[str, Any]:
    """The recipe as JSON values under the keys of its file, without what it does not ask."""
    data = as_data(recipe)
    segments, uses = data.pop("segments"), data.pop("uses")
    known = {key: value for key, value in data.items() if value is not None}
    return {**known, "use": uses, "segment": [_asked(one) for one in segments]}


def recipe_from(data: Mapping[str, Any]) -> Recipe:
    """The recipe that `recipe_data` wrote, checked as a file is; raises Refused."""
    return _recipe(Fields(dict(data), "recipe"))


def _asked(segment: Mapping[str, Any]) -> dict[str, Any]:
    return {key: value for key, value in segment.items() if value is not None}


def _recipe(file: Fields) -> Recipe:
    file.only("recipe", "segment", *OF_RECIPE)
    head = _head(file)
    recipe = Recipe(
        segments=_segments(file),
        ceiling_c=_optional(head, "ceiling_c"),
        max_dip_minutes=_not_below(head, "max_dip_minutes", 5.0),
        min_channels=head.whole("min_channels", 2),
        code=head.code("code", ""),
        name=head.text("name", ""),
        revision=_revision(head),
        planned_minutes=_above_nought(head, "planned_minutes"),
        furnace_class=_class(head),
        uses=_uses(head),
    )
    _check_ceiling(head, recipe)
    _check_plan(head, recipe)
    return recipe


def _head(file: Fields) -> Fields:
    """What is said of the whole recipe, at the top of the file or in its [recipe] table."""
    top = {key: file.table[key] for key in OF_RECIPE if file.has(key)}
    if not file.has("recipe"):
        return Fields(top, file.where)
    inner = file.under("recipe", f"{file.where}: [recipe]")
    inner.only(*OF_RECIPE)
    for key in top:
        if inner.has(key):
            inner.refuse(f"{key} stands at the top of the file too; say it once")
    return Fields({**top, **inner.table}, file.where)


def _class(head: Fields) -> int | None:
    found = head.optional_whole("furnace_class")
    if found is not None and found not in CLASSES:
        head.refuse(f"furnace_class must be from {CLASSES[0]} to {CLASSES[-1]}, not {found}")
    return found


def _revision(head: Fields) -> str:
    # A bare 2 is what people write; 1.10 without quotes would turn into 1.1.
    value = head.table.get("revision", "1")
    if isinstance(value, int) and not isinstance(value, bool):
        return str(head.whole("revision", at_least=0))
    return head.code("revision", "1")


def _uses(head: Fields) -> tuple[Use, ...]:
    found = []
    for place, table in enumerate(head.tables("use"), start=1):
        use = Fields(table, f"{head.where}: use no. {place}")
        use.only("product", "step")
        found.append(Use(product=use.code("product"), step=use.whole("step")))
    repeated = first_repeated(found)
    if isinstance(repeated, Use):
        head.refuse(f"use {repeated.product} step {repeated.step} stands twice")
    return tuple(found)


def _check_ceiling(head: Fields, recipe: Recipe) -> None:
    for one in recipe.segments:
        if recipe.ceiling_c is not None and one.target_c > recipe.ceiling_c:
            head.refuse(f"ceiling_c {recipe.ceiling_c:g} lies below target_c of {one.name}")


def _check_plan(head: Fields, recipe: Recipe) -> None:
    planned, least = recipe.planned_minutes, recipe.least_min
    if planned is not None and least is not None and planned < least:
        head.refuse(
            f"planned_minutes {planned:g} is under the {least:g} that the segments ask at least"
        )


def _segments(file: Fields) -> tuple[Segment, ...]:
    tables = file.tables("segment")
    if not 1 <= len(tables) <= MOST_SEGMENTS:
        file.refuse(f"a recipe has 1 to {MOST_SEGMENTS} [[segment]], not {len(tables)}")
    fields = [
        Fields(table, f"{file.where}: segment {_named(table, place)}")
        for place, table in enumerate(tables, start=1)
    ]
    for one in fields:
        one.only(*OF_SEGMENT)
        if one.choice("kind", KINDS) == SOAK and not one.has("tolerance_c"):
            one.refuse("tolerance_c is missing")
    return tuple(_segment(fields, place) for place in range(len(fields)))


def _segment(fields: Sequence[Fields], place: int) -> Segment:
    one = fields[place]
    shortest = _optional_not_below(one, "min_minutes")
    longest = _optional_not_below(one, "max_minutes")
    if shortest is not None and longest is not None and shortest > longest:
        one.refuse(f"min_minutes {shortest:g} is over max_minutes {longest:g}")
    pressure = _optional(one, "pressure_kpa")
    return Segment(
        name=one.text("name"),
        kind=one.choice("kind", KINDS),
        target_c=_target(one),
        tolerance_c=_tolerance(fields, place, "tolerance_c"),
        min_minutes=shortest,
        max_minutes=longest,
        max_rate_c_per_min=_above_nought(one, "max_rate_c_per_min"),
        pressure_kpa=pressure,
        pressure_tolerance_kpa=_pressure_tolerance(fields, place, pressure),
        max_pressure_rate_kpa_per_min=_above_nought(one, "max_pressure_rate_kpa_per_min"),
        max_dip_minutes=_optional_not_below(one, "max_dip_minutes"),
    )


def _target(one: Fields) -> float:
    value = _within(one, "target_c", one.number("target_c"))
    if value < ABSOLUTE_ZERO_C:
        one.refuse(f"target_c {value:g} lies below absolute zero")
    return value


def _pressure_tolerance(
    fields: Sequence[Fields], place: int, pressure: float | None
) -> float | None:
    if pressure is not None:
        return _tolerance(fields, place, "pressure_tolerance_kpa")
    if fields[place].has("pressure_tolerance_kpa"):
        fields[place].refuse("pressure_tolerance_kpa stands without pressure_kpa")
    return None


def _tolerance(fields: Sequence[Fields], place: int, key: str) -> float:
    """Its own; of a ramp without one, that of the soak it leads to, else of the last before."""
    one = fields[place]
    around = (*fields[place + 1 :], *reversed(fields[:place]))
    if not one.has(key) and one.table["kind"] == RAMP:
        one = next((f for f in around if f.table["kind"] == SOAK and f.has(key)), one)
    if not one.has(key):
        fields[place].refuse(f"{key} is missing")
    return _not_below(one, key, 0.0)


def _optional_not_below(one: Fields, key: str) -> float | None:
    return _not_below(one, key, 0.0) if one.has(key) else None


def _not_below(one: Fields, key: str, default: float) -> float:
    """A number of 0 or more, or the default where the key is absent."""
    value = _within(one, key, one.number(key, default))
    if value < 0:
        one.refuse(f"{key} must not be below 0, but is {value:g}")
    return value


def _above_nought(one: Fields, key: str) -> float | None:
    value = _optional(one, key)
    if value is not None and value <= 0:
        one.refuse(f"{key} must be above 0, but is {value:g}")
    return value


def _optional(one: Fields, key: str) -> float | None:
    return _within(one, key, one.number(key)) if one.has(key) else None


def _within(one: Fields, key: str, value: float) -> float:
    if abs(value) > LARGEST:
        one.refuse(f"{key} {value:g} is no figure of a furnace")
    return value


def _named(table: object, place: int) -> str:
    """What a message calls a segment: by its name, else by its place in the file."""
    value = table.get("name") if isinstance(table, dict) else None
    return shown(value) if isinstance(value, str) and value.strip() else f"no. {place}"
