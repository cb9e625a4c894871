"""The demo's rings agree with what its story tells of the visits."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any

import pytest

from ringwright.core.facts import Entry
from ringwright.welds.rules import fold
from ringwright.welds.state import Ring
from seed_demo.plant import demo_routes
from seed_demo.told import Told
from seed_demo.welds import KINDS, PRODUCT, Welding, demo_weld_plan

HOUR_US = 3_600_000_000
DEFECTS = tuple(KINDS)


class Blank:
    """A record that holds nothing yet."""

    def history(self, _kind: str, _subject: str) -> list[Entry]:
        """No fact."""
        return []


def visits(serial: str, outcomes: tuple[tuple[str, str], ...]) -> Iterator[Told]:
    """The weld cell and the radiograph in turn; each radiograph ends as said."""
    at_us = 0
    for outcome, defect in outcomes:
        for step, hours, who in ((60, 22, "maker-3"), (70, 3, "inspector")):
            yield Told(at_us, "part", serial, "begin", who, "W-1", {"step": step})
            at_us += hours * HOUR_US
            data: dict[str, Any] = {"step": step, "outcome": "pass"}
            if step == 70 and outcome == "stop":
                yield Told(
                    at_us, "part", serial, "stop", who, "X-1", {"step": 70, "defect": defect}
                )
                continue
            if step == 70:
                data = {"step": 70, "outcome": outcome, "defect": defect or None}
            yield Told(at_us, "part", serial, "end", who, "W-1", data)


def told_of(serial: str, *outcomes: tuple[str, str]) -> list[Told]:
    """What is told of a case and its ring."""
    return Welding(Blank()).beside(list(visits(serial, outcomes)))  # type: ignore[arg-type]


def ring_of(told: list[Told]) -> Ring:
    """The ring, judged by the rules that a bench would be."""
    facts = [one for one in told if one.subject_kind == "ring"]
    entries = [
        Entry(number, one.kind, one.at_us, one.at_us, one.actor, "", None, one.data)
        for number, one in enumerate(facts, start=1)
    ]
    return fold(facts[0].subject, entries, lambda _product, _revision: demo_weld_plan())


@pytest.mark.parametrize("number", range(1, 13))
def test_a_pass_is_a_ring_with_every_weld_accepted(number: int) -> None:
    ring = ring_of(told_of(f"C22-{number:04}", ("pass", "")))
    assert ring.done


@pytest.mark.parametrize("defect", DEFECTS)
@pytest.mark.parametrize("number", range(20, 24))
def test_what_sent_a_case_back_is_found_in_a_weld_and_mended(number: int, defect: str) -> None:
    serial = f"C22-{number:04}"
    end = "stop" if defect.startswith("undercut") else "rework"
    before = ring_of(told_of(serial, (end, defect)))
    bad = [weld for weld in before.welds.values() if weld.state == "to excavate"]
    assert [one["kind"] in KINDS[defect] for one in bad[0].readings[-1].defects] == [True]

    after = ring_of(told_of(serial, (end, defect), ("rework", DEFECTS[0]), ("pass", "")))
    assert after.done
    assert sum(weld.repairs for weld in after.welds.values()) >= 2


def test_nothing_is_told_before_it_happens_nor_of_other_parts() -> None:
    told = told_of("C22-0007", ("rework", DEFECTS[0]), ("pass", ""))
    own = [one for one in told if one.subject_kind == "part"]
    assert own == list(visits("C22-0007", (("rework", DEFECTS[0]), ("pass", ""))))
    last_us = max(one.at_us for one in own)
    assert all(0 <= one.at_us <= last_us for one in told)
    assert told[0].kind == "weld-plan-set"
    blade = Told(0, "part", "B22-00001", "begin", "maker", "", {"step": 60})
    assert Welding(Blank()).beside([blade]) == [blade]  # type: ignore[arg-type]


def test_the_plan_names_steps_of_its_route_card() -> None:
    card = next(card for card in demo_routes() if card.product == PRODUCT)
    plan = demo_weld_plan()
    kinds = [card.by_number[step].kind for step in (plan.welding_step, plan.radiograph_step)]
    assert kinds == ["joining", "inspection"]
    assert card.by_number[plan.welding_step].authorisation == plan.welder
    assert card.by_number[plan.radiograph_step].authorisation == plan.reader
