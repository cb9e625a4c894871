"""What a blade's valid readings are, and whether it is free for a set."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import Final

from ringwright.core.errors import Refused
from ringwright.parts.conditions import CONTAINMENT
from ringwright.parts.reading import suspect_readings
from ringwright.parts.rows import ReadingRow, VisitRow
from ringwright.parts.state import RELEASED, Part
from ringwright.routecards.card import RouteCard
from ringwright.sets.rules import UNCHANGING

ROLES: Final = ("moment", "tangential", "axial", "mass", "frequency")
"""Roles of characteristics that a set is built on."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Lapsed:
    """A reading that counts no more, and the visit after which it does not."""

    role: str
    characteristic: str
    step: int
    """The later step that changed the blade."""
    at_us: int


@dataclass(frozen=True, slots=True, kw_only=True)
class BladeReadings:
    """A blade's readings by role: those that count, and those that have lapsed."""

    values: dict[str, float]
    lapsed: tuple[Lapsed, ...]
    uncertainties: dict[str, float] = field(default_factory=dict)
    """Standard uncertainty by role, of the readings that carry one."""

    def by_role(self) -> dict[str, float | None]:
        """Every role; None where no reading counts.

        Beside them `moment_u`, the standard uncertainty of the moment, where it is known.
        """
        found: dict[str, float | None] = {role: self.values.get(role) for role in ROLES}
        if "moment" in self.uncertainties:
            found["moment_u"] = self.uncertainties["moment"]
        return found


def role_of(card: RouteCard, step: int, characteristic: str) -> str | None:
    """The role of what was read, by the part's own route card; None: no set is built on it."""
    there = card.by_number.get(step)
    found = there.characteristic(characteristic) if there else None
    return found.role if found and found.role in ROLES else None


def changes(card: RouteCard, step: int) -> bool:
    """True where a visit to the step may change material, coating or shape."""
    there = card.by_number.get(step)
    return there is None or there.kind not in UNCHANGING


def changed_after(
    card: RouteCard, reading: ReadingRow, visits: list[VisitRow]
) -> VisitRow | None:
    """The first later visit, ended or in work, that may have changed what was read."""
    for visit in visits:
        later = visit.number > reading.visit
        if visit.step is not None and later and changes(card, visit.step):
            return visit
    return None


def readings_of(part: Part) -> BladeReadings:
    """The last reading of each role, sorted into what counts and what has lapsed."""
    last: dict[str, ReadingRow] = {}
    for reading in part.readings:
        role = role_of(part.route, reading.step, reading.characteristic)
        if role is not None:
            last[role] = reading
    values, lapsed = {}, []
    sure: dict[str, float] = {}
    for role, reading in last.items():
        visit = changed_after(part.route, reading, part.visits)
        if visit is None:
            values[role] = reading.value
            if reading.uncertainty is not None:
                sure[role] = reading.uncertainty
        else:
            assert visit.step is not None
            lapsed.append(
                Lapsed(
                    role=role,
                    characteristic=reading.characteristic,
                    step=visit.step,
                    at_us=visit.begin_us,
                )
            )
    return BladeReadings(values=values, lapsed=tuple(lapsed), uncertainties=sure)


def why_not_free(part: Part, product: str, code: str | None = None) -> str | None:
    """Why a blade cannot enter a set of this product; None when it can.

    `code` is the set that asks: what is kept for it already is free for it. Raises Refused
    for a part of another product.
    """
    if part.route.product != product:
        raise Refused(f"{part.serial} is a {part.route.product}, not a {product}")
    if part.reservation is not None and part.reservation != code:
        return f"{part.serial} is reserved for {part.reservation}"
    if part.place != RELEASED:
        return f"{part.serial} is {part.place}, not released"
    if part.open_hold is not None:
        return f"{part.serial} is on hold: {part.open_hold.reason}"
    return why_suspect(part)


def why_suspect(part: Part) -> str | None:
    """What stands open against a released blade that no hold marks; None when nothing does."""
    if part.open_nonconformities:
        return f"{part.serial} has an open nonconformity"
    contained = part.open_condition(CONTAINMENT)
    if contained is not None:
        return f"{part.serial} is in containment {contained.value}"
    for row in suspect_readings(part):
        return f"{part.serial}: its {row.characteristic} is suspect: {row.suspect}"
    for old in readings_of(part).lapsed:
        return (
            f"{part.serial}: its {old.characteristic} lapsed at step {old.step}; read it again"
        )
    return None
