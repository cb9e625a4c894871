"""Windows: what is too late, what starts one anew, and who lets a part go on.

That a step must follow another within some hours, and that the earlier one is then done again,
is common practice, no source. The instants are checked with pandas; when the clocks of Oslo
change is told by the zone database and by Directive 2000/84/EC, articles 2 and 3 (01:00 UTC on
the last Sundays of March and October).
"""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any

import pandas as pd
import pytest

from ringwright.assembly import SYSTEM, open_ledger
from ringwright.bench.acts import Inspect
from ringwright.bench.correcting import Correct
from ringwright.bench.history import LoadHistory, read_csv
from ringwright.core.errors import BadRows, Refused
from ringwright.core.facts import Entry
from ringwright.core.instants import parse_instant
from ringwright.db import Store
from ringwright.flow.service import read_week_numbers
from ringwright.ledger.verify import audit
from ringwright.parts.knowledge import fold
from ringwright.parts.tables import Visit
from ringwright.parts.windows import windows_of
from ringwright.replaying import compare
from ringwright.routecards.card import RouteCard
from ringwright.routecards.toml import parse_route
from tests.make.floor import CODE, INSPECTOR, MAKER, MINUTE_US, SUPERVISOR
from tests.make.windows import FIN, HOUR_US, WINDOW_US, Fins, open_fins

HEADER = "at,serial,product,act,step,outcome,defect,characteristic,value,unit,lot,station,by"


@pytest.fixture
def fins(sqlite_url: str) -> Iterator[Fins]:
    """The floor on SQLite: what is judged does not differ between stores."""
    opened = open_fins(sqlite_url)
    yield opened
    opened.ledger.store.close()


@pytest.fixture
def both(store_url: str) -> Iterator[Fins]:
    """The same, once on each store."""
    opened = open_fins(store_url)
    yield opened
    opened.ledger.store.close()


def begin(fins: Fins, serial: str = "A", step: int = 40, **given: Any) -> None:
    fins.book("begin", serial, MAKER, step=step, **given)


def refused(fins: Fins, serial: str = "A", **given: Any) -> str:
    """Why the bond may not begin; nothing is booked."""
    before = fins.events()
    with pytest.raises(Refused) as caught:
        begin(fins, serial, **given)
    assert (caught.value.code, caught.value.status) == ("window", 422)
    assert fins.events() == before
    return caught.value.message


# ---- the edge


def test_a_begin_at_the_deadline_is_in_time(fins: Fins) -> None:
    fins.at(fins.due())

    begin(fins)

    assert fins.part("A").place == "in work"


def test_a_begin_a_microsecond_after_the_deadline_is_too_late(fins: Fins) -> None:
    fins.at(fins.due() + 1)

    told = refused(fins)

    assert "the window of A ran out at 2026-09-28 09:05+02:00" in told
    assert "step 40 had to begin within 3 h of the end of step 20" in told
    assert "Clean it again (step 20 Wash), or hold it for the design authority" in told


def test_the_window_is_told_with_both_its_ends(fins: Fins) -> None:
    washed_us = fins.washed()
    (one,) = windows_of(fins.folded(), washed_us + WINDOW_US)

    assert (one.after, one.before, one.began_us) == (20, 40, washed_us)
    assert (one.deadline_us, one.left_us) == (washed_us + WINDOW_US, 0)
    assert not one.ran_out
    (late,) = windows_of(fins.folded(), washed_us + WINDOW_US + 1)
    assert (late.left_us, late.ran_out, late.bars) == (-1, True, True)


def test_no_window_runs_before_its_step_nor_once_the_other_has_begun(fins: Fins) -> None:
    fins.book("create", "A", product="FIN")
    assert windows_of(fins.folded(), fins.clock.at_us) == ()
    fins.visit("A", 10)
    fins.book("begin", "A", step=20)
    assert windows_of(fins.folded(), fins.clock.at_us) == ()
    fins.book("end", "A", step=20, outcome="pass")
    fins.visit("A", 30)
    begin(fins)

    assert windows_of(fins.folded(), fins.clock.at_us + 100 * HOUR_US) == ()


def test_a_step_in_between_may_begin_after_the_window_ran_out(fins: Fins) -> None:
    fins.at(fins.washed() + WINDOW_US + HOUR_US)

    begin(fins, step=30)

    assert fins.part("A").step == 30


def test_a_washing_that_was_not_accepted_starts_no_window(fins: Fins) -> None:
    washed_us = fins.washed()
    fins.visit("A", 30, outcome="rework", who=SUPERVISOR)
    fins.clock.at_us += 2 * HOUR_US
    fins.visit("A", 20, outcome="rework", who=SUPERVISOR)

    fins.at(washed_us + WINDOW_US + 1)
    with pytest.raises(Refused, match="ran out at 2026-09-28 09:05"):
        fins.book("begin", "A", SUPERVISOR, step=40, reason="dry enough")


def test_who_skips_the_washing_with_a_reason_has_no_window(fins: Fins) -> None:
    fins.book("create", "A", product="FIN")
    fins.visit("A", 10)
    fins.clock.at_us += 10 * HOUR_US

    fins.book("begin", "A", SUPERVISOR, step=40, reason="came clean from the supplier")

    assert fins.part("A").place == "in work"


def test_a_skip_ahead_is_judged_by_the_window_too(fins: Fins) -> None:
    fins.at(fins.washed() + WINDOW_US + 1)

    with pytest.raises(Refused, match="ran out"):
        fins.book("begin", "A", SUPERVISOR, step=40, reason="no need to dry it")


# ---- what does not stop its clock


def test_a_hold_does_not_stop_the_clock(fins: Fins) -> None:
    deadline_us = fins.due()
    fins.book("hold", "A", SUPERVISOR, reason="look at the paper")
    fins.at(deadline_us + 1)
    fins.book("unhold", "A", SUPERVISOR)

    assert "ran out" in refused(fins)


def test_a_pause_in_between_does_not_stop_the_clock(fins: Fins) -> None:
    washed_us = fins.washed()
    begin(fins, step=30)
    fins.book("pause", "A", MAKER)
    fins.at(washed_us + WINDOW_US - 2 * MINUTE_US)
    fins.book("resume", "A", MAKER)
    fins.book("end", "A", MAKER, step=30, outcome="pass")
    fins.at(washed_us + WINDOW_US + 1)

    assert "ran out" in refused(fins)


def test_a_restart_does_not_stop_the_clock(sqlite_url: str) -> None:
    fins = open_fins(sqlite_url)
    deadline_us = fins.due()
    fins.due("B")
    fins.ledger.store.close()

    again = open_ledger(Store(sqlite_url), fins.clock)
    after = Fins(again, fins.clock, fins.numbers)
    after.at(deadline_us)
    begin(after)
    after.at(deadline_us + WINDOW_US)
    refused(after, "B")
    again.store.close()


@pytest.mark.parametrize(
    "washed", ["2026-10-25T00:40:00+02:00", "2026-03-29T00:40:00+01:00"], ids=["back", "on"]
)
def test_a_change_of_the_site_s_clock_does_not_move_the_deadline(
    fins: Fins, washed: str
) -> None:
    """Three hours of the wall clock would be an hour too many, or too few."""
    fins.at(parse_instant(washed) - 4 * MINUTE_US)
    washed_us = fins.washed()
    due = pd.Timestamp(washed).tz_convert("Europe/Oslo") + pd.Timedelta(hours=3)
    fins.visit("A", 30)
    fins.due("B")

    assert washed_us == parse_instant(washed)
    fins.at(int(due.timestamp()) * 1_000_000)
    begin(fins)
    fins.at(int(due.timestamp()) * 1_000_000 + 8 * MINUTE_US)
    assert (due + pd.Timedelta(minutes=7)).isoformat(sep=" ")[:16] in refused(fins, "B")


# ---- what happened earlier, and other records


def test_a_begin_told_late_is_judged_by_its_own_hour(fins: Fins) -> None:
    deadline_us = fins.late()

    begin(fins, at_us=deadline_us - MINUTE_US)

    assert fins.rows([Visit.begin_us], Visit.step == 40) == [(deadline_us - MINUTE_US,)]


def test_a_begin_told_late_that_was_too_late_is_refused(fins: Fins) -> None:
    deadline_us = fins.late()
    fins.book("hold", "A", SUPERVISOR, reason="look at the paper")
    fins.book("unhold", "A", SUPERVISOR)

    refused(fins, at_us=deadline_us + 1)
    begin(fins, step=40, at_us=deadline_us)


def test_a_begin_told_late_is_not_judged_by_a_washing_that_came_after(fins: Fins) -> None:
    deadline_us = fins.late()
    fins.visit("A", 20)

    assert "ran out at 2026-09-28 09:05" in refused(fins, at_us=deadline_us + MINUTE_US)


def loaded(fins: Fins, *rows: str) -> None:
    lines = [HEADER, *(row + "," * (HEADER.count(",") - row.count(",")) for row in rows)]
    fins.ledger.execute(CODE, LoadHistory(rows=read_csv("\n".join(lines) + "\n")), SYSTEM)


WASHED = (
    "2026-09-21T06:00+02:00,H,FIN,create",
    "2026-09-21T06:10+02:00,H,FIN,begin,10",
    "2026-09-21T06:20+02:00,H,FIN,end,10,pass",
    "2026-09-21T06:30+02:00,H,FIN,begin,20",
    "2026-09-21T06:40+02:00,H,FIN,end,20,pass",
    "2026-09-21T06:50+02:00,H,FIN,begin,30",
    "2026-09-21T07:00+02:00,H,FIN,end,30,pass",
)


def test_another_record_is_taken_in_whatever_its_windows(fins: Fins) -> None:
    loaded(fins, *WASHED, "2026-09-22T12:00+02:00,H,FIN,begin,40")

    assert fins.part("H").place == "in work"


def test_a_row_that_goes_back_for_a_window_stays_a_bad_row(fins: Fins) -> None:
    with pytest.raises(BadRows, match="line 9: step 20 lies behind the step awaited"):
        loaded(fins, *WASHED, "2026-09-22T12:00+02:00,H,FIN,begin,20")


# ---- clean again


def test_once_it_ran_out_the_fin_is_washed_again_and_goes_on_along_the_route(
    both: Fins, store_url: str
) -> None:
    both.late()

    both.visit("A", 20)
    washed_us = both.clock.at_us
    assert both.part("A").step == 30
    both.visit("A", 30)
    (one,) = windows_of(both.folded(), both.clock.at_us)
    assert one.deadline_us == washed_us + WINDOW_US
    both.visit("A", 40)

    assert both.part("A").step == 50
    assert compare(store_url)[1] is None
    with both.ledger.store.read() as connection:
        assert audit(connection)[1] is None


def test_the_first_visit_stays_the_first(fins: Fins) -> None:
    fins.late()
    fins.visit("A", 20)
    fins.visit("A", 30)

    steps = fins.rows(
        [Visit.number, Visit.step, Visit.first, Visit.skipped], Visit.step.in_((20, 30))
    )

    assert [row[1:] for row in steps] == [
        (20, True, 0), (30, True, 0), (20, False, 0), (30, False, 0),
    ]  # fmt: skip


def test_a_washing_for_the_window_is_a_visit_but_no_first_one(fins: Fins) -> None:
    """First-pass yield counts first visits; the rework ratio counts what ended in rework."""
    fins.late()
    fins.visit("A", 20)

    with fins.ledger.read(CODE) as read:
        week = read_week_numbers(read, "FIN", "2026-W40")
    (washing,) = [step for step in week.steps if step.number == 20]

    assert (washing.visits, washing.first_visits, washing.first_passes) == (2, 1, 1)
    assert (washing.first_pass_yield.value, washing.rework_ratio) == (1.0, 0.0)


def test_while_it_runs_the_fin_is_not_washed_again(fins: Fins) -> None:
    fins.at(fins.due())

    with pytest.raises(Refused, match="lies behind the step awaited"):
        begin(fins, step=20)


def test_another_step_is_not_begun_again_for_the_window(fins: Fins) -> None:
    fins.late()

    for step in (10, 30):
        with pytest.raises(Refused, match="lies behind the step awaited"):
            begin(fins, step=step)


def test_the_fin_is_washed_again_before_a_step_in_between(fins: Fins) -> None:
    fins.at(fins.washed() + WINDOW_US + 1)

    begin(fins, step=20)

    assert fins.part("A").step == 20


def test_it_is_washed_no_more_often_than_the_step_allows(fins: Fins) -> None:
    fins.late()
    fins.visit("A", 20)
    fins.visit("A", 30)
    fins.clock.at_us += 4 * HOUR_US

    told = refused(fins)
    assert "been at step 20 Wash as often as it may; hold it for the design authority" in told
    with pytest.raises(Refused, match="at step 20 2 times, the most allowed"):
        begin(fins, step=20)


def test_a_washing_told_late_counts_as_one(fins: Fins) -> None:
    deadline_us = fins.late()
    fins.visit("A", 20)
    fins.visit("A", 30)

    with pytest.raises(Refused, match="at step 20 2 times, the most allowed"):
        begin(fins, step=20, at_us=deadline_us + MINUTE_US)


def test_a_fin_on_a_rework_card_goes_back_to_its_card(fins: Fins) -> None:
    fins.at(fins.due())
    fins.visit("A", 40)
    fins.book("begin", "A", INSPECTOR, step=50)
    fins.clock.at_us += 4 * HOUR_US
    act = Inspect(serial="A", key="k-gap", outcome="rework", card="RW-BOND", defect="gap")
    answer = fins.do(act, INSPECTOR)
    assert answer["part"]["step"] == 40

    assert "ran out" in refused(fins)
    walked: list[int | None] = []
    while (step := fins.part("A").step) != 50:
        step = 20 if not walked else step
        fins.visit("A", step or 0)
        walked.append(step)

    assert walked == [20, 30, 40]
    assert fins.folded().rework == (50,)


def test_a_begin_that_was_taken_back_leaves_the_fin_where_it_was(fins: Fins) -> None:
    fins.late()
    answer = fins.book("begin", "A", SUPERVISOR, step=20)
    act = Correct(
        serial="A", key="k-back", entry=answer["event"]["site_seq"], void=True, reason="no"
    )
    fins.do(act, SUPERVISOR)

    assert fins.part("A").step == 40
    assert "Clean it again (step 20 Wash)" in refused(fins)


# ---- the rule of the record


def card_of_fins(_product: str, _revision: str) -> RouteCard:
    return parse_route(FIN, "route")


def entries(*acts: tuple[float, str, dict[str, object]]) -> list[Entry]:
    """(hour, kind, data) as facts known when they happened."""
    return [
        Entry(n, kind, int(hour * HOUR_US), int(hour * HOUR_US), "maker-1", "", None, data)
        for n, (hour, kind, data) in enumerate(acts, start=1)
    ]


STORY: tuple[tuple[float, str, dict[str, object]], ...] = (
    (0.0, "create", {"product": "FIN", "revision": "1"}),
    (0.1, "begin", {"step": 10}),
    (0.2, "end", {"step": 10, "outcome": "pass"}),
    (0.5, "begin", {"step": 20}),
    (1.0, "end", {"step": 20, "outcome": "pass"}),
    (1.1, "begin", {"step": 30}),
    (1.2, "end", {"step": 30, "outcome": "pass"}),
)


@pytest.mark.parametrize(
    ("hour", "step", "renews", "why"),
    [
        (4.0, 20, 40, "had not run out"),
        (4.1, 20, 50, "no window that a begin at step 20 would renew"),
        (4.1, 30, 40, "no window that a begin at step 30 would renew"),
        (4.1, 20, 70, "no window that a begin at step 20 would renew"),
        (4.1, 20, None, "lies behind"),
    ],
)
def test_the_record_takes_no_begin_behind_for_a_window_that_had_not_run_out(
    hour: float, step: int, renews: int | None, why: str
) -> None:
    data: dict[str, object] = {"step": step}
    if renews is not None:
        data["renews"] = renews

    with pytest.raises(Refused, match=why):
        fold("A", entries(*STORY, (hour, "begin", data)), card_of_fins)


def test_the_record_takes_one_for_a_window_that_had_run_out() -> None:
    told = entries(*STORY, (4.1, "begin", {"step": 20, "renews": 40}))

    part = fold("A", told, card_of_fins)

    assert (part.place, part.step, part.visits_at[20]) == ("in work", 20, 2)


def test_a_part_on_a_card_that_passes_the_step_by_has_no_window_there() -> None:
    """A card that repeats drying alone, and then goes to the inspection."""
    card = parse_route(FIN.replace("repeat = [40]", "repeat = [30]"), "route")
    told = entries(
        *STORY,
        (1.3, "begin", {"step": 40}),
        (2.0, "end", {"step": 40, "outcome": "pass"}),
        (2.1, "begin", {"step": 50}),
        (2.2, "end", {"step": 50, "outcome": "rework", "card": "RW-BOND"}),
    )

    part = fold("A", told, lambda _p, _r: card)

    assert part.step == 30
    assert windows_of(part, 99 * HOUR_US) == ()


# ---- the design authority


def test_a_concession_lets_the_fin_begin_though_its_window_ran_out(
    both: Fins, store_url: str
) -> None:
    both.late()
    number = both.stop()
    with pytest.raises(Refused, match="on hold"):
        begin(both)

    both.sentence("A", number, "concession")

    (one,) = windows_of(both.folded(), both.clock.at_us)
    assert (one.ran_out, one.bars, one.let_on) == (True, False, number)
    begin(both)
    assert both.part("A").place == "in work"
    assert compare(store_url)[1] is None


def test_a_concession_lets_it_begin_once(fins: Fins) -> None:
    fins.late()
    fins.sentence("A", fins.stop(), "concession")
    fins.visit("A", 40, outcome="rework", who=SUPERVISOR)

    assert fins.part("A").step == 40
    assert "ran out" in refused(fins)


def test_a_repair_lets_it_begin_where_the_repair_sent_it_back_to(fins: Fins) -> None:
    """A repair sends a part that waits to the step it last ended at; from there it goes on."""
    fins.late()
    fins.sentence("A", fins.stop(), "repair")
    assert fins.part("A").step == 30

    fins.visit("A", 30)
    begin(fins)

    assert fins.part("A").place == "in work"


def test_withdrawn_lets_nothing_begin_but_it_may_be_washed_again(fins: Fins) -> None:
    fins.late()
    fins.sentence("A", fins.stop(), "withdrawn")

    assert "ran out" in refused(fins)
    begin(fins, step=20)


def test_a_concession_of_something_else_lets_nothing_begin(fins: Fins) -> None:
    fins.late()
    fins.sentence("A", fins.stop(defect="scratch"), "concession")

    assert "ran out" in refused(fins)


def test_a_stop_before_it_ran_out_lets_nothing_begin(fins: Fins) -> None:
    fins.at(fins.due())
    number = fins.stop()
    fins.sentence("A", number, "concession")

    assert "ran out" in refused(fins)


def test_what_let_a_fin_begin_does_not_serve_a_later_window(fins: Fins) -> None:
    fins.late()
    fins.sentence("A", fins.stop(), "concession")
    fins.visit("A", 20)
    fins.visit("A", 30)
    fins.clock.at_us += 4 * HOUR_US

    assert "ran out" in refused(fins)


# ---- held against pandas


def test_what_is_refused_agrees_with_pandas(fins: Fins) -> None:
    """Begins every five minutes around the deadlines of forty fins."""
    tried = []
    for n in range(40):
        serial = f"F{n:02}"
        deadline_us = fins.due(serial)
        fins.at(deadline_us + (n - 20) * 5 * MINUTE_US)
        try:
            begin(fins, serial)
            fine = True
        except Refused:
            fine = False
        tried.append((serial, fins.clock.at_us, fine))

    visits = pd.DataFrame(
        fins.rows([Visit.serial, Visit.end_us], Visit.step == 20, Visit.outcome == "pass"),
        columns=["serial", "end"],
    )
    asked = pd.DataFrame(tried, columns=["serial", "at", "fine"]).merge(visits, on="serial")
    waited = pd.to_datetime(asked["at"], unit="us") - pd.to_datetime(asked["end"], unit="us")
    assert (asked["fine"] == (waited <= pd.Timedelta(hours=3))).all()
    assert (len(asked), asked["fine"].sum()) == (40, 21)
