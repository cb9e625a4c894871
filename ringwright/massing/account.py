"""The account: mass in against mass found, with the uncertainty of both.

input = part + turnings + offcuts + coupons + unaccounted, all of it as dry metal.
"""

from __future__ import annotations

import math
from collections.abc import Iterable
from dataclasses import dataclass
from typing import Final

from ringwright.massing.mass import COVERAGE, Mass, total
from ringwright.massing.swarf import KINDS, Swarf, dry

SLACK_KG: Final = 1e-9
"""Less than any scale shows: sums of decimal figures differ by such rests."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Account:
    """What went in and what was found, as it was weighed."""

    bought: tuple[Mass, ...]
    """Forgings and bar, and what was put on later: vanes, filler wire."""
    parts: tuple[Mass, ...] = ()
    """Finished, or as last weighed."""
    scrapped: tuple[Mass, ...] = ()
    """Parts that were scrapped, as last weighed: metal still, but none that flies."""
    swarf: tuple[Swarf, ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class Closing:
    """What the account comes to."""

    bought: Mass
    part: Mass
    scrapped: Mass
    by_kind: dict[str, Mass]
    """Kind of swarf to its dry mass."""
    clean: Mass
    """Swarf that can come back as material, dry."""
    found: Mass
    unaccounted: Mass
    """What went in less what was found; below nought: more was found than went in."""

    @property
    def closes(self) -> bool:
        """True where the rest lies within the combined uncertainty, k = 2."""
        return abs(self.unaccounted.kg) <= self.unaccounted.expanded_kg + SLACK_KG

    @property
    def beyond_kg(self) -> float:
        """By how much the rest passes the combined uncertainty; 0 where it closes."""
        rest = abs(self.unaccounted.kg) - self.unaccounted.expanded_kg
        return 0.0 if self.closes else rest

    @property
    def unaccounted_share(self) -> float | None:
        """The rest as a share of what went in."""
        return share(self.unaccounted.kg, self.bought.kg)

    @property
    def removed_kg(self) -> float:
        """What was to come off: mass in less the parts that are good."""
        return self.bought.kg - self.part.kg

    @property
    def recovered(self) -> float | None:
        """Clean dry swarf as a share of what came off."""
        return share(self.clean.kg, self.removed_kg)

    @property
    def buy_to_fly(self) -> float | None:
        """Mass bought over mass of good parts; scrapped parts count as bought."""
        return share(self.bought.kg, self.part.kg)

    @property
    def utilisation(self) -> float | None:
        """Mass of good parts over mass bought."""
        return share(self.part.kg, self.bought.kg)


def close(account: Account) -> Closing:
    """Add the account up."""
    bought, part = total(account.bought), total(account.parts)
    scrapped, swarf = total(account.scrapped), dry(account.swarf)
    found = total((part, scrapped, swarf))
    return Closing(
        bought=bought,
        part=part,
        scrapped=scrapped,
        by_kind={kind: dry(_of(account.swarf, kind)) for kind in KINDS},
        clean=dry(one for one in account.swarf if one.clean),
        found=found,
        unaccounted=bought - found,
    )


def merged(accounts: Iterable[Account]) -> Account:
    """The account of several cases at once, of a week or of an alloy."""
    given = list(accounts)
    return Account(
        bought=tuple(mass for one in given for mass in one.bought),
        parts=tuple(mass for one in given for mass in one.parts),
        scrapped=tuple(mass for one in given for mass in one.scrapped),
        swarf=tuple(lot for one in given for lot in one.swarf),
    )


def agree(one: Mass, other: Mass) -> bool:
    """True where two weighings of the same thing differ by no more than k = 2 allows."""
    apart = abs(one.kg - other.kg)
    return apart <= COVERAGE * math.hypot(one.u_kg, other.u_kg) + SLACK_KG


def share(part: float, whole: float) -> float | None:
    """One over the other; None where there is nothing to divide by."""
    return part / whole if whole > 0.0 else None


def volume_cm3(mass_kg: float, density_g_cm3: float) -> float:
    """What a mass of solid metal takes up, to hold against the drawing."""
    return mass_kg * 1000.0 / density_g_cm3


def _of(swarf: Iterable[Swarf], kind: str) -> tuple[Swarf, ...]:
    return tuple(one for one in swarf if one.kind == kind)
