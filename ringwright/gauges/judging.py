"""What a reading is worth: whether its gauge may decide then, and how sure it is.

A site that keeps no gauges of a kind is not asked for one: its readings are decided by their
limits alone, as on paper. Where gauges of the kind are on the register, a reading that is to
decide names one of them.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from functools import cached_property

from ringwright.core.errors import Refused
from ringwright.gauges.queries import moment_of, read_gauge, read_gauges
from ringwright.gauges.rules import (
    GaugePast,
    Standing,
    failed_after,
    reads_in,
    standing,
    uncertainty_in,
    why_doubted,
    why_too_coarse,
)
from ringwright.ledger.service import Read
from ringwright.ledger.transaction import Tx
from ringwright.routecards.card import Characteristic
from ringwright.sites.site import Gauge


@dataclass
class GaugeDesk:
    """The gauges of one command or page, each looked up once."""

    tx: Tx | Read
    pasts: dict[str, GaugePast | None] = field(default_factory=dict)

    @cached_property
    def register(self) -> list[Gauge]:
        """Every gauge of the site."""
        return read_gauges(self.tx.connection, self.tx.site.id)

    def kinds(self) -> frozenset[str]:
        """Kinds of which gauges are on the register and in use."""
        return frozenset(one.kind for one in self.register if not one.withdrawn)

    def past(self, code: str) -> GaugePast | None:
        """One gauge; None where the register does not have it."""
        if code not in self.pasts:
            self.pasts[code] = read_gauge(self.tx.connection, self.tx.site.id, code)
        return self.pasts[code]

    def standing(self, past: GaugePast, at_us: int) -> Standing:
        """How the gauge stood at an instant."""
        site = (self.tx.site.id, self.tx.site.zone)
        return standing(past, moment_of(self.tx.connection, site, at_us, past.gauge.station))

    def uncertainty(
        self, characteristic: Characteristic, code: str | None, at_us: int
    ) -> float | None:
        """Standard uncertainty of one reading, in the characteristic's unit; None: not known.

        Raises Refused where the gauge is unknown, of another kind or unit, decides nothing
        then, or is too coarse for the limits.
        """
        if code is None:
            return None
        past = self.past(code)
        if past is None:
            if self.register:
                raise Refused(
                    f"there is no gauge {code} on the register; scan the gauge again",
                    code="gauge",
                )
            return None
        _check_kind(past.gauge, characteristic)
        now = self.standing(past, at_us)
        if not now.decides:
            raise Refused(
                f"gauge {code} {now.why}; it decides nothing. Read {characteristic.code} with "
                "another, or have it put right",
                code="gauge",
            )
        uncertainty = uncertainty_in(past.gauge, now, characteristic.unit)
        _check_fine_enough(code, characteristic, uncertainty)
        return uncertainty

    def check_named(self, characteristic: Characteristic, code: str | None) -> None:
        """Refuse a reading without a gauge where the register keeps gauges of that kind."""
        kind = characteristic.gauge_kind
        if code is None and kind is not None and kind in self.kinds():
            raise Refused(
                f"{characteristic.code} is read with a {kind}; say with which one",
                code="gauge",
            )

    def doubt_of(self, code: str | None, at_us: int) -> str | None:
        """Why a reading of that instant is suspect on arrival: its gauge failed since."""
        past = self.past(code) if code else None
        failed = failed_after(past.checks, at_us) if past else None
        return why_doubted(past.gauge.code, failed.master) if past and failed else None


def _check_kind(gauge: Gauge, characteristic: Characteristic) -> None:
    wanted = characteristic.gauge_kind
    if wanted is not None and gauge.kind != wanted:
        raise Refused(
            f"{characteristic.code} is read with a {wanted}; {gauge.code} is a {gauge.kind}",
            code="gauge",
        )
    if not reads_in(gauge, characteristic.unit):
        known = " and ".join([gauge.unit, *gauge.also])
        raise Refused(
            f"{gauge.code} reads in {known}, {characteristic.code} is in {characteristic.unit}",
            code="gauge",
        )


def _check_fine_enough(
    code: str, characteristic: Characteristic, uncertainty: float | None
) -> None:
    if uncertainty is None:
        if characteristic.guarded:
            raise Refused(
                f"{characteristic.code} is decided with a guard band, but gauge {code} has no "
                f"uncertainty in {characteristic.unit} on record",
                code="gauge",
            )
        return
    coarse = why_too_coarse(code, uncertainty, characteristic.limits, characteristic.unit)
    if coarse is not None:
        raise Refused(coarse, code="gauge")
