"""Temporary permissions, judged by hand: what may be lent, by whom, and when it is reviewed."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import pytest

from ringwright.core.errors import Forbidden, Refused
from ringwright.core.instants import HOUR_US, parse_instant, site_time
from ringwright.people.rules import (
    GRANTABLE,
    PERMISSIONS,
    Asks,
    Permit,
    check_grant,
    check_list,
    check_review,
)

ZONE = "Europe/Oslo"
NIGHT = parse_instant("2026-10-01T03:00:00+02:00")
SUPERVISOR = frozenset({"supervisor"})
ASKS = Asks(
    person="insp-1",
    roles=frozenset({"inspector"}),
    permission="lift a hold",
    reason="nobody on site",
    hours=4,
)


def permit(at: str = "2026-10-01T03:00:00+02:00", hours: int = 4, **more: Any) -> Permit:
    """A permission granted then for so long."""
    from_us = parse_instant(at)
    return Permit(
        code="P-1",
        number=7,
        person="insp-1",
        permission="lift a hold",
        reason="nobody on site",
        granted_by="sup-1",
        from_us=from_us,
        until_us=from_us + hours * HOUR_US,
        **more,
    )


def test_what_decides_a_nonconformity_or_gives_power_is_never_lent() -> None:
    never = {"repair", "concession", "scrap", "sentence", "correct", "send", "clear", "pass"}
    never |= {"authorise", "permit", "review permit", "ground rules", "load", "contacts"}
    never |= {name for name in PERMISSIONS if name.startswith("second")}

    assert not never & set(GRANTABLE)
    assert set(GRANTABLE) <= set(PERMISSIONS)
    for name in never:
        with pytest.raises(Refused, match="never granted"):
            check_grant(replace(ASKS, permission=name), "sup-1", SUPERVISOR)


def test_a_supervisor_lends_what_is_theirs_for_at_most_twelve_hours() -> None:
    check_grant(ASKS, "sup-1", SUPERVISOR)
    check_grant(replace(ASKS, hours=12), "sup-1", SUPERVISOR)


@pytest.mark.parametrize(
    ("given", "said"),
    [
        ({"hours": 13}, "1 to 12 hours"),
        ({"hours": 0}, "1 to 12 hours"),
        ({"reason": " "}, "say why"),
        ({"permission": "hold"}, "by their role already"),
    ],
)
def test_a_permission_too_long_or_without_why_is_refused(
    given: dict[str, Any], said: str
) -> None:
    with pytest.raises(Refused, match=said):
        check_grant(replace(ASKS, **given), "sup-1", SUPERVISOR)


def test_nobody_lends_to_themselves_nor_what_is_not_theirs() -> None:
    with pytest.raises(Forbidden, match="themselves"):
        check_grant(replace(ASKS, person="sup-1"), "sup-1", SUPERVISOR)
    with pytest.raises(Forbidden, match="by their own role"):
        check_grant(
            replace(ASKS, permission="prioritise"), "qe-1", frozenset({"quality-engineer"})
        )


def test_it_is_in_force_from_its_granting_to_its_end_and_no_longer() -> None:
    one = permit()
    early = permit(ended_us=NIGHT + HOUR_US)

    assert not one.in_force(NIGHT - 1)
    assert one.in_force(NIGHT)
    assert one.in_force(NIGHT + 4 * HOUR_US - 1)
    assert not one.in_force(NIGHT + 4 * HOUR_US)
    assert not early.in_force(NIGHT + HOUR_US)


@pytest.mark.parametrize(
    ("granted", "hours", "due"),
    [
        ("2026-10-01T03:00:00+02:00", 4, "2026-10-01T08:00:00+02:00"),
        ("2026-09-30T22:00:00+02:00", 8, "2026-10-01T08:00:00+02:00"),
        ("2026-09-30T22:00:00+02:00", 12, "2026-10-01T10:00:00+02:00"),
        ("2026-10-01T08:00:00+02:00", 1, "2026-10-02T08:00:00+02:00"),
        # The clock goes back an hour that night: 08:00 is an hour further off.
        ("2026-10-25T01:00:00+02:00", 4, "2026-10-25T08:00:00+01:00"),
    ],
)
def test_its_review_is_due_at_the_next_eight_or_when_it_is_over(
    granted: str, hours: int, due: str
) -> None:
    one = permit(granted, hours)

    assert site_time(one.due_us(ZONE), ZONE).isoformat() == due
    assert not one.overdue(one.due_us(ZONE), ZONE)
    assert one.overdue(one.due_us(ZONE) + 1, ZONE)
    assert not replace(one, reviewed_us=1).overdue(one.due_us(ZONE) + 1, ZONE)


@pytest.mark.parametrize("by", ["insp-1", "sup-1"])
def test_neither_of_the_two_reviews_it(by: str) -> None:
    with pytest.raises(Forbidden, match="somebody else"):
        check_review(permit(), by, NIGHT + 5 * HOUR_US, True, "")


def test_a_review_comes_after_it_once_and_says_what_is_done() -> None:
    morning = NIGHT + 5 * HOUR_US

    check_review(permit(), "qe-1", morning, True, "")
    check_review(permit(), "qe-1", morning, False, "parts held again")
    with pytest.raises(Refused, match="what is done"):
        check_review(permit(), "qe-1", morning, False, " ")
    with pytest.raises(Refused, match="still in force"):
        check_review(permit(), "qe-1", NIGHT + HOUR_US, True, "")
    with pytest.raises(Refused, match="already"):
        check_review(permit(reviewed_us=1, reviewed_by="man-1"), "qe-1", morning, True, "")


def test_a_call_out_list_names_holders_of_the_role_once_each() -> None:
    check_list("quality-engineer", ("qe-1", "qe-2"), {"qe-1", "qe-2"})
    with pytest.raises(Refused, match="twice"):
        check_list("quality-engineer", ("qe-1", "qe-1"), {"qe-1"})
    with pytest.raises(Refused, match="sup-1 is no quality-engineer"):
        check_list("quality-engineer", ("sup-1",), {"qe-1"})
