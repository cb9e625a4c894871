"""What a reading leaves on a part, and when it stops counting."""

from __future__ import annotations

from ringwright.core.errors import Refused
from ringwright.core.facts import Entry
from ringwright.parts.moves import open_visit
from ringwright.parts.rows import ReadingRow
from ringwright.parts.state import Part
from ringwright.routecards.card import Characteristic


def measure(part: Part, entry: Entry) -> None:
    """A characteristic of the open visit's step was read."""
    visit = open_visit(part, entry, "measure in")
    assert visit.step is not None
    data = entry.data
    characteristic = _characteristic(part, visit.step, data["characteristic"], data["unit"])
    value, uncertainty = float(data["value"]), data.get("uncertainty")
    part.readings.append(
        ReadingRow(
            number=entry.seq,
            visit=visit.number,
            step=visit.step,
            characteristic=characteristic.code,
            value=value,
            unit=characteristic.unit,
            inside=characteristic.inside(value, uncertainty),
            at_us=entry.at_us,
            at_known_us=entry.known_us,
            actor=entry.actor,
            gauge=data.get("gauge"),
            product=part.route.product,
            uncertainty=uncertainty,
            repeats=max(1, len(data.get("repeats", ())) - len(data.get("left_out", ()))),
            fixture=data.get("fixture"),
            torque_n_m=data.get("torque_n_m"),
            temperature_c=data.get("temperature_c"),
            recording=data.get("recording"),
            known_from_us=entry.known_us,
        )
    )


def _characteristic(part: Part, step: int, code: str, unit: str) -> Characteristic:
    characteristic = part.route.by_number[step].characteristic(code)
    if characteristic is None:
        raise Refused(f"step {step} of {part.route.product} reads no characteristic {code}")
    if unit != characteristic.unit:
        raise Refused(f"{code} is read in {characteristic.unit}, not in {unit or 'no unit'}")
    return characteristic


def doubt(part: Part, entry: Entry) -> None:
    """The readings named become suspect; one that was corrected away since is passed over."""
    why = entry.data.get("reason") or f"gauge {entry.data['gauge']} failed its check"
    _mark(part, entry, why)


def trust(part: Part, entry: Entry) -> None:
    """The readings named count again."""
    _mark(part, entry, None)


def _mark(part: Part, entry: Entry, why: str | None) -> None:
    """Put rows in the place of those marked: what was believed before stays as it was."""
    meant = frozenset(entry.data["readings"])
    for row in part.readings:
        if row.number in meant:
            row.suspect = why


def suspect_readings(part: Part) -> list[ReadingRow]:
    """The suspect ones among the last readings of each characteristic."""
    last = {row.characteristic: row for row in part.readings}
    return [row for row in last.values() if row.suspect is not None]


def check_none_suspect(part: Part) -> None:
    """Refuse where a characteristic's last reading is suspect: it releases nothing."""
    for row in suspect_readings(part):
        raise Refused(
            f"{part.serial}: its {row.characteristic} of step {row.step} is suspect "
            f"({row.suspect}); read it again, or let the quality engineer say that it stands",
            code="suspect",
        )
