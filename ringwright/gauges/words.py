"""How a gauge stands, in words."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

from ringwright.core.glossary import N_
from ringwright.gauges.register import GaugeLine
from ringwright.gauges.rules import (
    FAILED_CALIBRATION,
    FAILED_CHECK,
    OVERDUE,
    UNCALIBRATED,
    UNCHECKED,
    USABLE,
    WITHDRAWN,
    day_after,
)
from ringwright.kit.numbers import Figures
from ringwright.kit.words import Words

STATES: Final[dict[str, str]] = {
    USABLE: N_("may decide"),
    OVERDUE: N_("calibration overdue"),
    UNCALIBRATED: N_("no calibration on record"),
    FAILED_CALIBRATION: N_("failed its calibration"),
    FAILED_CHECK: N_("failed its check on the master"),
    UNCHECKED: N_("not checked in this shift"),
    WITHDRAWN: N_("out of use"),
}


@dataclass(frozen=True, slots=True)
class GaugeWords:
    """The words in one language."""

    words: Words
    show: Figures

    def option(self, line: GaugeLine) -> str:
        """A gauge to choose: its code, how sure it is, and what speaks against it."""
        gauge, now = line.gauge, line.now
        told = [gauge.code]
        if now.uncertainty:
            unit = self.show.unit(gauge.unit)
            told.append(f"u {self.show.standard(now.uncertainty)} {unit}")
        if not now.decides:
            told.append(self.why(line))
        return ", ".join(told)

    def why(self, line: GaugeLine) -> str:
        """Why a gauge decides nothing now, and since when."""
        _, now, past = self.words._, line.now, line.past
        if now.state == OVERDUE and now.due:
            return _("calibration overdue since %(day)s", day=day_after(now.due))
        if now.state == UNCHECKED:
            names = ", ".join(sorted(one.code for one in past.masters))
            return _("not checked on %(master)s in this shift", master=names)
        if now.state == FAILED_CHECK and past.checks:
            return _("failed its check on %(master)s", master=past.checks[-1].master)
        return _(STATES[now.state])
