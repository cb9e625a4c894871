"""What spindles logged in the demo: within the visits, by the rules, with reasons."""

from __future__ import annotations

from ringwright.machines.rules import ACTS, STOPPED, Noted, check_act, spans_of
from seed_demo.plant import demo_routes
from seed_demo.spindles import CASE, demo_machining
from tests.demo.story import told

ACT_OF = {kind: act for act, kind in ACTS.items()}


def logs() -> dict[str, list[Noted]]:
    """Station to its log, as told in the first five weeks."""
    found: dict[str, list[Noted]] = {}
    for number, one in enumerate(told(5)):
        if one.subject_kind == "spindle":
            station = one.subject.partition(" ")[0]
            found.setdefault(station, []).append(
                Noted(number=number, at_us=one.at_us, kind=one.kind, **one.data)
            )
    return found


def test_every_line_of_a_log_may_follow_the_one_before() -> None:
    for log in logs().values():
        for place, line in enumerate(log):
            before = log[max(0, place - 50) : place]
            check_act(ACT_OF[line.kind], before, line.reason, line.text)


def test_a_spindle_turns_only_while_its_case_is_on() -> None:
    visits: dict[tuple[str, int], list[list[int]]] = {}
    for one in told(5):
        if one.kind == "begin" and one.station[:3] in ("VTL", "CML"):
            visits.setdefault((one.subject, one.data["step"]), []).append([one.at_us, 1 << 62])
        elif one.kind in ("end", "stop") and (one.subject, one.data.get("step")) in visits:
            visits[one.subject, one.data["step"]][-1][1] = one.at_us
    stopped = 0
    for log in logs().values():
        for span in spans_of(log, log[-1].at_us):
            on = visits[span.serial, span.step]
            assert any(a <= span.begin_us and span.end_us <= b for a, b in on)
            stopped += span.state == STOPPED
    assert stopped > 20


def test_the_machining_plan_speaks_of_every_machining_step_of_the_case() -> None:
    card = next(card for card in demo_routes() if card.product == CASE)
    steps = {step.number for step in card.steps if step.kind == "machining"}

    assert set(demo_machining().plan.by_step) == steps
