"""What an address of a page below Yield asks beside the yields."""

from __future__ import annotations

from typing import Annotated, Final

from fastapi import Depends, Query

from ringwright.core.errors import Refused
from ringwright.measure.signals import FOUR_OF_FIVE, SIDE, SIX_RISING, TWO_OF_THREE
from ringwright.yields.asked import Text
from ringwright.yields.charting import KINDS, Told, told_of
from ringwright.yields.depth import TwoGroups

ASKED_AS: Final = {SIDE: "side", SIX_RISING: "six", TWO_OF_THREE: "two", FOUR_OF_FIVE: "four"}
"""A rule to its name in an address."""
Kind = Annotated[
    str | None, Query(max_length=200, json_schema_extra={"enum": [*KINDS, "", None]})
]
Chosen = Annotated[
    str | None, Query(max_length=200, json_schema_extra={"enum": ["yes", "", None]})
]


def asked_rules(
    side: Chosen = None, six: Chosen = None, two: Chosen = None, four: Chosen = None
) -> tuple[str, ...]:
    """The rules that an address chooses besides the usual one; raises Refused."""
    said = {SIDE: side, SIX_RISING: six, TWO_OF_THREE: two, FOUR_OF_FIVE: four}
    unclear = [text for text in said.values() if text not in (None, "", "yes")]
    if unclear:
        raise Refused(f"a rule is chosen by yes, not by {unclear[0]!r:.40}")
    return tuple(rule for rule, text in said.items() if text)


def asked_chart(
    rules: Annotated[tuple[str, ...], Depends(asked_rules)],
    kind: Kind = None,
    point: Text = None,
) -> Told:
    """What the address asks of the chart; raises Refused."""
    return told_of(kind, rules, point)


def asked_groups(one: Text = None, other: Text = None) -> TwoGroups:
    """The two groups that an address names."""
    return TwoGroups(first=one, second=other)


AskedChart = Annotated[Told, Depends(asked_chart)]
AskedGroups = Annotated[TwoGroups, Depends(asked_groups)]
