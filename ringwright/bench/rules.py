"""One booking as somebody hands it in, checked field by field before any part is looked at."""

from __future__ import annotations

import math
import unicodedata
from collections.abc import Mapping
from dataclasses import dataclass, fields
from typing import Any

from ringwright.core.errors import Refused
from ringwright.parts.facts import (
    HISTORY_ACTS,
    OUTCOMES,
    Begun,
    Created,
    Ended,
    Held,
    HoldLifted,
    Measured,
    PartFact,
    Paused,
    Resumed,
    Sent,
)

FIELD_LIMIT = 10_000
RUN_BY_SHEETS = frozenset("=+-@\t")
CODE_LIMIT = 200
CODES = ("serial", "product", "lot", "station", "by", "characteristic", "gauge", "key")
INDEXED = ("serial", "product", "characteristic", "key")
"""These are looked up by index, which PostgreSQL limits to some 2,700 bytes."""
FORMULA_FREE = ("serial", "defect", "lot", "station", "by", "characteristic", "gauge")
TEXTS = (
    "serial",
    "product",
    "act",
    "outcome",
    "defect",
    "characteristic",
    "unit",
    "lot",
    "station",
    "by",
    "reason",
    "key",
    "gauge",
)
NEEDED: dict[str, tuple[str, ...]] = {
    "create": ("product",),
    "begin": ("step",),
    "end": ("step", "outcome"),
    "measure": ("step", "characteristic", "value", "unit"),
}
ONLY_ON = {
    "outcome": "end",
    "characteristic": "measure",
    "value": "measure",
    "unit": "measure",
    "gauge": "measure",
}


@dataclass(frozen=True, slots=True, kw_only=True)
class Booking:
    """A checked booking; absent fields are None. `at_us` None: when it arrives."""

    act: str
    serial: str
    product: str | None = None
    step: int | None = None
    outcome: str | None = None
    defect: str | None = None
    characteristic: str | None = None
    value: float | None = None
    unit: str | None = None
    lot: str | None = None
    station: str | None = None
    by: str | None = None
    reason: str | None = None
    at_us: int | None = None
    key: str | None = None
    gauge: str | None = None

    def body(self) -> dict[str, Any]:
        """The given fields but the key, as JSON values: what makes two bookings the same."""
        found = {field.name: getattr(self, field.name) for field in fields(self)}
        del found["key"]
        return {name: value for name, value in found.items() if value is not None}


def check_text(name: str, text: str) -> str:
    """A field's text, trimmed; raises Refused for what no record may hold."""
    if len(text) > FIELD_LIMIT:
        raise Refused(f"{name} is longer than {FIELD_LIMIT:,} characters")
    if name in FORMULA_FREE and {text[:1], text.strip()[:1]} & RUN_BY_SHEETS:
        raise Refused(f"{name} begins with {text[0]!r}, which a spreadsheet would run")
    plain = text.isprintable()  # then there is nothing to look for, letter by letter
    if not plain and any(letter == "\x00" or "\ud800" <= letter <= "\udfff" for letter in text):
        raise Refused(f"{name} holds a character that no text may hold (NUL or half a letter)")
    text = text.strip()
    if name in CODES:
        if name in INDEXED and len(text) > CODE_LIMIT:
            raise Refused(f"{name} is longer than {CODE_LIMIT} characters")
        if not plain and any(unicodedata.category(letter) == "Cc" for letter in text):
            raise Refused(f"{name} holds a control character; scan or type it again")
    return text


def said(text: str) -> str:
    """A remark, trimmed; raises Refused for one that no record can hold."""
    given = text.strip()
    if given:
        check_text("reason", given)
    return given


def needed(text: str, lacking: str) -> str:
    """A remark that must be given; raises Refused, saying what is lacking."""
    given = said(text)
    if not given:
        raise Refused(f"{lacking}; nothing was booked")
    return given


def make_booking(given: Mapping[str, Any], at_us: int | None) -> Booking:
    """Check the fields of a row or request; raises Refused with the first thing wrong."""
    values: dict[str, Any] = {name: given.get(name) for name in ("step", "value")}
    values["at_us"] = at_us
    for name in TEXTS:
        text = given.get(name)
        values[name] = (check_text(name, text) or None) if text is not None else None
    if not values["serial"]:
        raise Refused("serial is missing")
    if values["act"] not in HISTORY_ACTS:
        raise Refused(f"act {values['act'] or ''!r} is none of {', '.join(HISTORY_ACTS)}")
    booking = Booking(**values)
    _check_fields(booking)
    return booking


def _check_fields(booking: Booking) -> None:
    act = booking.act
    for name in NEEDED.get(act, ()):
        if getattr(booking, name) is None:
            raise Refused(f"{name} is missing on {act}")
    for name, place in ONLY_ON.items():
        if getattr(booking, name) is not None and act != place:
            raise Refused(f"{name} belongs to {place}, not to {act}")
    if act == "create" and booking.step is not None:
        raise Refused("step must be empty on create")
    if booking.outcome is not None and booking.outcome not in OUTCOMES:
        raise Refused(f"outcome {booking.outcome!r} is none of {', '.join(OUTCOMES)}")
    if booking.value is not None and not math.isfinite(booking.value):
        raise Refused("value is not a finite number")


def parse_step(text: str) -> int | None:
    """A step number from a file's field; raises Refused."""
    text = text.strip()
    if not text:
        return None
    if not text.isascii() or not text.isdigit() or len(text) > 9:
        raise Refused(f"step {text[:40]!r} is not a step number")
    return int(text)


def parse_value(text: str) -> float | None:
    """A reading from a file's field, decimal point only; raises Refused."""
    text = text.strip()
    if not text:
        return None
    try:
        value = float(text) if "_" not in text else math.nan
    except ValueError:
        value = math.nan
    if not math.isfinite(value):
        raise Refused(f"value {text[:40]!r} is not a finite number")
    return value


def fact_of(booking: Booking, revision: str | None = None) -> PartFact:
    """The fact a booking states; `revision` is needed for a create."""
    common: dict[str, Any] = {"reason": booking.reason, "lot": booking.lot}
    match booking.act:
        case "create":
            assert booking.product is not None
            assert revision is not None
            return Created(product=booking.product, revision=revision, **common)
        case "begin":
            return Begun(step=_step(booking), **common)
        case "end":
            assert booking.outcome is not None
            return Ended(
                step=_step(booking), outcome=booking.outcome, defect=booking.defect, **common
            )
        case "measure":
            assert booking.characteristic is not None
            assert booking.value is not None
            assert booking.unit is not None
            return Measured(
                step=_step(booking),
                characteristic=booking.characteristic,
                value=booking.value,
                unit=booking.unit,
                gauge=booking.gauge,
                **common,
            )
        case _:
            return _simple(booking, common)


def _simple(booking: Booking, common: dict[str, Any]) -> PartFact:
    simple = {
        "pause": Paused,
        "resume": Resumed,
        "hold": Held,
        "unhold": HoldLifted,
        "send": Sent,
    }
    return simple[booking.act](step=booking.step, **common)


def _step(booking: Booking) -> int:
    assert booking.step is not None
    return booking.step
