"""Route cards from TOML files, and as the data that the ledger keeps."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any, Final

from ringwright.core.authorisation import asked_of
from ringwright.core.fields import Fields, as_data, read_toml, shown
from ringwright.routecards.card import (
    DECISIONS,
    FAMILIES,
    ROLES_OF_CHARACTERISTIC,
    STEP_KINDS,
    Characteristic,
    ReworkCard,
    RouteCard,
    Step,
    Window,
)
from ringwright.routecards.checks import check_route

_DECIMALS_MOST: Final = 12
_HZ_MOST: Final = 96_000.0


def parse_route(text: str, name: str = "") -> RouteCard:
    """The route card of a TOML file; anything unsound is refused in one line naming it."""
    where = name or "route"
    file = read_toml(text, where)
    file.only("product", "step", "rework_card")
    product = file.under("product", f"{where}: [product]")
    card = _product(product, _steps(file, where), _rework_cards(file, where))
    check_route(card, where)
    return card


def route_to_data(card: RouteCard) -> dict[str, Any]:
    """The card as JSON-able data with every field, the same for the same card.

    A characteristic without a mode says nothing of modes, as cards did before there were any.
    """
    data = as_data(card)
    for step in data["steps"]:
        for one in step["characteristics"]:
            if not one["mode"]:
                del one["mode"], one["search"]
    return data


def route_from_data(data: Mapping[str, Any]) -> RouteCard:
    """The card that `route_to_data` wrote; not checked again: old cards stay readable."""
    return RouteCard(
        **_without(data, "steps", "rework_cards", "target_per_week"),
        target_per_week=_float(data.get("target_per_week")),
        steps=tuple(_step_from(step) for step in data["steps"]),
        rework_cards=tuple(
            ReworkCard(**_without(rework, "repeat"), repeat=tuple(rework["repeat"]))
            for rework in data["rework_cards"]
        ),
    )


def _product(
    product: Fields, steps: tuple[Step, ...], rework_cards: tuple[ReworkCard, ...]
) -> RouteCard:
    product.only(
        *("code", "name", "revision", "effective_from", "family"),
        *("set_size", "target_per_week"),
    )
    target = product.optional_number("target_per_week")
    if target is not None and target <= 0:
        product.refuse("target_per_week must be above zero")
    return RouteCard(
        product=product.code("code"),
        name=product.text("name"),
        revision=_revision(product),
        effective_from=product.optional_date("effective_from"),
        family=product.choice("family", FAMILIES, "other"),
        set_size=product.optional_whole("set_size"),
        target_per_week=target,
        steps=steps,
        rework_cards=rework_cards,
    )


def _revision(product: Fields) -> str:
    # A bare 2 is what people write; 1.10 without quotes would turn into 1.1.
    value = product.table.get("revision", "1")
    if isinstance(value, int) and not isinstance(value, bool):
        return str(product.whole("revision", at_least=0))
    return product.code("revision", "1")


def _steps(file: Fields, where: str) -> tuple[Step, ...]:
    found = []
    for place, table in enumerate(file.tables("step"), start=1):
        step = Fields(table, f"{where}: step {_named(table, 'number', place)}")
        found.append(_step(step))
    return tuple(found)


def _step(step: Fields) -> Step:
    step.only(
        *("number", "name", "kind", "station_group", "planned_hours", "queue_hours"),
        *("characteristic", "window", "authorisation", "max_visits"),
    )
    return Step(
        number=step.whole("number"),
        name=step.text("name"),
        kind=step.choice("kind", STEP_KINDS),
        station_group=step.code("station_group", ""),
        planned_hours=step.number("planned_hours", 0.0),
        queue_hours=step.number("queue_hours", 0.0),
        characteristics=_characteristics(step),
        window=_window(step),
        authorisation=_authorisation(step),
        max_visits=step.optional_whole("max_visits"),
    )


def _authorisation(step: Fields) -> str | None:
    code = step.optional_code("authorisation")
    if code is not None and not asked_of(code).sound:
        step.refuse(f"authorisation {code} names no level; write it with -1, -2 or -3")
    return code


def _characteristics(step: Fields) -> tuple[Characteristic, ...]:
    found = []
    for place, table in enumerate(step.tables("characteristic"), start=1):
        where = f"{step.where}: characteristic {_named(table, 'code', place)}"
        found.append(_characteristic(Fields(table, where)))
    return tuple(found)


def _characteristic(fields: Fields) -> Characteristic:
    fields.only(
        *("code", "nominal", "lower", "upper", "unit", "decimals", "role"),
        *("gauge_kind", "decision", "mode", "search"),
    )
    decimals = fields.whole("decimals", 3, at_least=0)
    if decimals > _DECIMALS_MOST:
        fields.refuse(f"decimals must be at most {_DECIMALS_MOST}")
    unit = fields.code("unit")
    if unit.split() != [unit]:
        fields.refuse(f"unit {shown(unit)} must be one word")
    role = fields.choice("role", ROLES_OF_CHARACTERISTIC) if fields.has("role") else None
    return Characteristic(
        code=fields.code("code"),
        unit=unit,
        nominal=fields.optional_number("nominal"),
        lower=fields.optional_number("lower"),
        upper=fields.optional_number("upper"),
        decimals=decimals,
        role=role,
        gauge_kind=fields.optional_code("gauge_kind"),
        decision=fields.choice("decision", DECISIONS, "simple"),
        mode=fields.text("mode", ""),
        search=_search(fields, unit),
    )


def _search(fields: Fields, unit: str) -> tuple[float, float] | None:
    """Where a ring test looks for the mode; only a frequency has such a window."""
    if not fields.has("search") and not fields.has("mode"):
        return None
    if unit != "Hz":
        fields.refuse("mode and search are for frequencies; the unit must be Hz")
    if not fields.has("search") or not fields.has("mode"):
        fields.refuse("mode and search stand together: a name, and where it is looked for")
    ends = fields.items("search")
    if len(ends) != 2 or not all(type(end) in (int, float) for end in ends):
        fields.refuse("search must be two frequencies in brackets, such as [120, 165]")
    low, high = (float(str(end)) for end in ends)
    if not 0 < low < high < _HZ_MOST:
        fields.refuse("search must rise from above zero")
    limits = [fields.optional_number(name) for name in ("lower", "upper")]
    if any(limit is not None and not low <= limit <= high for limit in limits):
        fields.refuse("search must hold the limits: what lies outside them is to be found too")
    return low, high


def _window(step: Fields) -> Window | None:
    if not step.has("window"):
        return None
    window = step.under("window", f"{step.where}: window")
    window.only("after", "max_hours")
    return Window(after=window.whole("after"), max_hours=window.number("max_hours"))


def _rework_cards(file: Fields, where: str) -> tuple[ReworkCard, ...]:
    found = []
    for place, table in enumerate(file.tables("rework_card"), start=1):
        card = Fields(table, f"{where}: rework card {_named(table, 'code', place)}")
        card.only("code", "name", "raised_at", "repeat")
        steps = [Fields({"repeat": item}, card.where) for item in card.items("repeat")]
        found.append(
            ReworkCard(
                code=card.code("code"),
                name=card.text("name"),
                raised_at=card.whole("raised_at"),
                repeat=tuple(step.whole("repeat") for step in steps),
            )
        )
    return tuple(found)


def _named(table: object, key: str, place: int) -> str:
    """What a message calls a table: by its number or code, else by its place in the file."""
    value = table.get(key) if isinstance(table, dict) else None
    return shown(value).strip("'") if isinstance(value, int | str) else f"no. {place}"


def _step_from(data: Mapping[str, Any]) -> Step:
    window = data["window"]
    return Step(
        **_without(data, "characteristics", "window", "planned_hours", "queue_hours"),
        planned_hours=float(data["planned_hours"]),
        queue_hours=float(data["queue_hours"]),
        characteristics=tuple(_characteristic_from(c) for c in data["characteristics"]),
        window=window and Window(after=window["after"], max_hours=float(window["max_hours"])),
    )


def _characteristic_from(data: Mapping[str, Any]) -> Characteristic:
    # Canonical JSON writes 3.0 as 3; the card holds floats.
    numbers = {key: _float(data.get(key)) for key in ("nominal", "lower", "upper")}
    ends = data.get("search")
    search = (float(ends[0]), float(ends[1])) if ends else None
    return Characteristic(**{**data, **numbers, "search": search})


def _without(data: Mapping[str, Any], *keys: str) -> dict[str, Any]:
    return {key: value for key, value in data.items() if key not in keys}


def _float(value: float | None) -> float | None:
    return None if value is None else float(value)
