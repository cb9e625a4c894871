"""Who may do a method on a day, judged by hand-made papers."""

from __future__ import annotations

from typing import Any

import pytest

from ringwright.core.authorisation import asked_of
from ringwright.core.errors import Refused
from ringwright.sites.papers import checked_paper
from ringwright.sites.rules import (
    Grant,
    Verdict,
    When,
    holders,
    judge,
    lapses,
    sentence_of,
)
from ringwright.sites.site import Authorisation, Person

DAY = "2026-10-01"
NOW = When(at_us=1_000, day=DAY)
INSPECTOR = Person(code="insp-1", roles=("inspector",))
PAPER: dict[str, Any] = {
    "person": "insp-1",
    "method": "RT",
    "level": 2,
    "valid_from": "2025-01-01",
    "valid_to": "2029-12-31",
    "eyesight_to": "2026-12-31",
}


def grant(number: int = 1, withdrawn_us: int | None = None, **other: Any) -> Grant:
    """A paper, granted as that entry of the record."""
    return Grant(
        number=number,
        paper=Authorisation(**{**PAPER, **other}),
        granted_by="qe-1",
        at_us=0,
        withdrawn_us=withdrawn_us,
        withdrawn_day="2026-09-15" if withdrawn_us is not None else "",
        withdrawn_why="missed a crack" if withdrawn_us is not None else "",
    )


def verdict(*given: Grant, code: str = "RT-2", codes: tuple[str, ...] = ()) -> Verdict:
    """Whether insp-1 with these papers may do it now."""
    asked = asked_of(code)
    person = Person(code="insp-1", roles=("inspector",), authorisations=codes)
    grants = {("insp-1", asked.method): given} if given else {}
    return judge(asked, person, grants, NOW)


def test_a_valid_paper_holds_to_the_first_of_its_two_ends() -> None:
    assert verdict(grant()).holds
    assert verdict(grant()).until == "2026-12-31"
    assert verdict(grant(eyesight_to="2030-01-01")).until == "2029-12-31"


@pytest.mark.parametrize(
    ("level", "asked", "holds"),
    [(2, "RT-2", 1), (3, "RT-2", 1), (1, "RT-2", 0), (1, "RT", 1)],
)
def test_a_higher_level_will_do_a_lower_one_will_not(
    level: int, asked: str, holds: int
) -> None:
    found = verdict(grant(level=level), code=asked)

    assert found.holds == bool(holds)
    assert holds or "of level 1" in found.lacking


@pytest.mark.parametrize(
    ("days", "said"),
    [
        ({"valid_to": "2026-09-30"}, "has lapsed: it was valid to 2026-09-30"),
        ({"eyesight_to": "2026-09-30"}, "eyesight test for RT has lapsed"),
        ({"valid_from": "2026-10-02"}, "valid from 2026-10-02 only"),
    ],
)
def test_what_has_lapsed_or_not_begun_does_not_hold(days: dict[str, Any], said: str) -> None:
    assert said in verdict(grant(**days)).lacking


@pytest.mark.parametrize("name", ["valid_from", "valid_to", "eyesight_to"])
def test_the_first_and_the_last_day_count(name: str) -> None:
    days: dict[str, Any] = {name: DAY}
    assert verdict(grant(**days)).holds


def test_a_withdrawn_paper_does_not_hold_from_that_moment_on() -> None:
    assert "withdrawn on 2026-09-15 (missed a crack)" in verdict(grant(1, 1_000)).lacking
    assert verdict(grant(1, 1_001)).holds


def test_the_newer_word_about_a_day_rules_and_an_early_renewal_waits_for_its_day() -> None:
    lapsed = grant(1, valid_to="2026-09-30")
    renewed = grant(2, valid_from="2026-10-01")
    narrowed = grant(3, level=1, valid_from="2026-10-02")

    assert verdict(lapsed, renewed).holds
    assert verdict(lapsed, renewed, narrowed).holds
    assert not verdict(grant(1), grant(2, level=1)).holds


def test_a_code_alone_will_do_for_a_method_but_never_for_testing() -> None:
    assert verdict(code="weld-tig", codes=("weld-tig",)).holds
    assert verdict(code="weld-tig", codes=("weld-tig",)).until is None
    assert "no authorisation for weld-tig" in verdict(code="weld-tig").lacking
    assert "code alone" in verdict(code="RT-2", codes=("RT-2",)).lacking
    assert "code alone" in verdict(code="RT-2", codes=("RT",)).lacking


def test_a_paper_with_dates_rules_over_the_code() -> None:
    lapsed = grant(method="weld-tig", level=0, valid_to="2026-09-30", eyesight_to=None)

    assert not verdict(lapsed, code="weld-tig", codes=("weld-tig",)).holds


def test_nobody_holds_a_level_that_no_standard_knows() -> None:
    assert not verdict(grant(level=3), code="RT-4").holds


def test_a_refusal_says_what_lacks_who_holds_it_and_what_to_do() -> None:
    people = [INSPECTOR] + [Person(code=f"p-{n}", roles=()) for n in range(8)]
    grants = {(one.code, "RT"): (grant(person=one.code),) for one in people[1:]}
    asked = asked_of("RT-2")

    valid = holders(asked, people, grants, NOW)
    said = sentence_of(70, judge(asked, INSPECTOR, grants, NOW), valid, DAY)

    assert len(valid) == 8
    assert said == (
        "step 70 takes only people authorised for RT-2: insp-1 holds no authorisation for "
        "RT-2; valid on 2026-10-01: p-0, p-1, p-2, p-3, p-4, p-5 and 2 more. Hold the part, "
        "or let one of them do it"
    )
    assert "nobody here holds it" in sentence_of(70, judge(asked, INSPECTOR, {}, NOW), (), DAY)


def test_what_lapses_is_listed_the_worst_first() -> None:
    people = [Person(code="c", roles=(), authorisations=("UT-2",))]
    grants = {
        ("a", "RT"): [grant(person="a", valid_to="2026-10-31", eyesight_to="2026-09-01")],
        ("b", "RT"): [grant(person="b", valid_to="2026-11-01")],
        ("d", "RT"): [grant(1, 500, person="d", valid_to="2026-01-01")],
        ("e", "RT"): [
            grant(1, person="e", valid_to="2026-10-05"),
            grant(2, person="e", valid_from="2026-10-06"),
        ],
    }

    found = [(one.person, one.what, one.left_days) for one in lapses(people, grants, NOW)]

    assert found == [("c", "code", None), ("a", "eyesight", -30), ("a", "authorisation", 30)]


def test_eyes_that_lapse_before_the_paper_they_belong_to_are_listed() -> None:
    grants = {
        ("a", "RT"): [
            grant(1, person="a", valid_to="2026-12-31", eyesight_to="2026-10-05"),
            grant(2, person="a", valid_from="2027-01-01", eyesight_to="2027-12-31"),
        ]
    }

    assert [(one.what, one.day) for one in lapses([], grants, NOW)] == [
        ("eyesight", "2026-10-05")
    ]


@pytest.mark.parametrize(
    ("given", "said"),
    [
        ({"method": "RT", "level": 0}, "needs its level"),
        ({"method": "RT-2", "level": 3}, "differ"),
        ({"method": "RT-4", "level": 0}, "needs its level"),
        ({"method": "weld-tig", "level": 2}, "has no level"),
        ({"eyesight_to": None}, "eyesight"),
        ({"valid_to": "2024-12-31"}, "before valid_from"),
        ({"valid_from": ""}, "valid_from is missing"),
        ({"valid_to": "20291231"}, "is not a date"),
        ({"valid_to": "2026-02-30"}, "is not a date"),
        ({"method": "a/b", "level": 0}, "slash"),
        ({"method": "self-inspection", "level": 0}, "self-inspection"),
        ({"person": ""}, "person is missing"),
        ({"certificate": "=1+1"}, "certificate must not begin"),
        ({"scope": "a\nb"}, "scope must not hold"),
    ],
)
def test_a_paper_that_no_auditor_would_take_is_refused(
    given: dict[str, Any], said: str
) -> None:
    with pytest.raises(Refused, match=said):
        checked_paper(Authorisation(**{**PAPER, **given}))


def test_the_level_may_stand_in_the_method() -> None:
    paper = checked_paper(Authorisation(**{**PAPER, "method": "rt-2", "level": 0}))

    assert (paper.method, paper.level) == ("RT", 2)
