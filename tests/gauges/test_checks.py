"""A check on a master opens a shift; a failed one makes readings suspect."""

from __future__ import annotations

import pytest

from ringwright.core.errors import Forbidden, Missing, Refused
from ringwright.replaying import compare
from tests.make.floor import DELEGATE, INSPECTOR, SUPERVISOR
from tests.make.gauges import GaugeRoom


@pytest.fixture
def checked(guarded: GaugeRoom) -> GaugeRoom:
    """CMM-1 has a master and was good on it this shift."""
    guarded.master()
    guarded.check()
    return guarded


def test_with_a_master_nothing_is_decided_before_the_check(guarded: GaugeRoom) -> None:
    guarded.master()
    guarded.floor.bring_to("O-1", 30)

    with pytest.raises(Refused, match="has not been checked on master MB-1 in this shift"):
        guarded.read("O-1", 11.0)
    guarded.check()
    guarded.read("O-1", 11.0)

    assert guarded.floor.part("O-1").place == "in work"


def test_the_next_day_asks_a_check_anew(checked: GaugeRoom) -> None:
    checked.floor.clock.at_us += 24 * 3600 * 1_000_000
    checked.floor.bring_to("O-1", 30)

    with pytest.raises(Refused, match="not been checked on master MB-1"):
        checked.read("O-1", 11.0)


@pytest.mark.parametrize(("value", "good"), [(11.1, True), (10.9, True), (11.101, False)])
def test_the_edge_of_what_is_allowed_is_good(
    checked: GaugeRoom, value: float, *, good: bool
) -> None:
    assert checked.check(value)["good"] is good


def test_a_failed_check_makes_readings_since_the_last_good_one_suspect(
    checked: GaugeRoom,
) -> None:
    for serial in ("O-1", "O-2", "O-3"):
        checked.floor.bring_to(serial, 30)
    checked.read("O-1", 11.0)
    checked.check()
    checked.read("O-2", 11.0)
    checked.read("O-3", 11.0)

    answer = checked.check(11.3)

    why = "gauge CMM-1 failed its check on master MB-1"
    assert answer["suspect"] == 2
    assert checked.suspects() == [("O-2", why), ("O-3", why)]


def test_a_suspect_reading_passes_nothing(checked: GaugeRoom) -> None:
    checked.floor.bring_to("O-1", 30)
    checked.read("O-1", 11.0)
    checked.check(11.3)

    with pytest.raises(Refused, match="chord is suspect"):
        checked.pass_on("O-1")


def test_read_again_with_a_sound_gauge_it_passes(checked: GaugeRoom) -> None:
    checked.floor.bring_to("O-1", 30)
    checked.read("O-1", 11.0)
    checked.check(11.3)
    checked.check()

    checked.pass_on("O-1", 11.01)

    assert checked.floor.part("O-1").step == 40


def test_a_part_that_passed_on_a_suspect_reading_is_not_released(checked: GaugeRoom) -> None:
    checked.floor.bring_to("O-1", 30)
    checked.pass_on("O-1", 11.0)
    checked.check(11.3)
    checked.floor.book("begin", "O-1", step=40)

    with pytest.raises(Refused, match="suspect"):
        checked.floor.book("end", "O-1", step=40, outcome="pass")

    assert checked.floor.part("O-1").place == "in work"


def test_trusted_with_a_reason_it_is_released(checked: GaugeRoom) -> None:
    checked.floor.bring_to("O-1", 30)
    checked.pass_on("O-1", 11.0)
    checked.check(11.3)

    checked.trust()
    checked.floor.visit("O-1", 40)

    assert checked.suspects() == []
    assert checked.floor.part("O-1").place == "released"


def test_trust_is_the_quality_engineers_and_needs_a_reason(checked: GaugeRoom) -> None:
    from ringwright.gauges.service import Trust

    checked.floor.bring_to("O-1", 30)
    checked.read("O-1", 11.0)
    checked.check(11.3)
    command = Trust(gauge="CMM-1", reason="seen", key=checked.floor.key())

    with pytest.raises(Forbidden):
        checked.floor.do(command, SUPERVISOR)
    with pytest.raises(Refused, match="say how it is known"):
        checked.trust(reason=" ")
    with pytest.raises(Refused, match="no suspect reading of O-9"):
        checked.trust(serials=("O-9",))

    assert len(checked.suspects()) == 1


def test_a_failed_check_told_late_ends_at_the_next_good_one(checked: GaugeRoom) -> None:
    checked.floor.bring_to("O-1", 30)
    failed_us = checked.floor.clock.at_us
    checked.read("O-1", 11.0)
    checked.check()
    checked.floor.bring_to("O-2", 30)
    checked.read("O-2", 11.0)

    answer = checked.check(11.3, at_us=failed_us)

    assert answer["suspect"] == 1
    assert [serial for serial, _ in checked.suspects()] == ["O-1"]


def test_a_reading_told_late_is_suspect_from_the_first(checked: GaugeRoom) -> None:
    checked.floor.bring_to("O-1", 30)
    taken_us = checked.floor.clock.at_us
    checked.floor.clock.at_us += 10 * 60 * 1_000_000
    checked.check(11.3)

    checked.read("O-1", 11.0, at_us=taken_us + 1)

    assert [serial for serial, _ in checked.suspects()] == ["O-1"]


def test_a_failed_check_bars_the_gauge_until_a_good_one(checked: GaugeRoom) -> None:
    checked.check(11.3)
    checked.floor.bring_to("O-1", 30)

    with pytest.raises(Refused, match="failed its check on master MB-1"):
        checked.read("O-1", 11.0)
    checked.check()
    checked.read("O-1", 11.0)

    assert checked.standing().decides


def test_only_a_master_of_its_kind_checks_a_gauge(checked: GaugeRoom) -> None:
    checked.master("MB-7", kind="tap-rig", unit="Hz")

    with pytest.raises(Refused, match=r"MB-7 is no master for a cmm \(masters: MB-1\)"):
        checked.check(master="MB-7")
    with pytest.raises(Refused, match="MB-1 is read in mm, not in um"):
        checked.check(unit="um")
    with pytest.raises(Missing, match="no gauge CMM-9"):
        checked.check(code="CMM-9")


def test_whoever_does_no_work_on_the_floor_checks_nothing(checked: GaugeRoom) -> None:
    from ringwright.gauges.service import CheckGauge

    command = CheckGauge(gauge="CMM-1", master="MB-1", value=11.0, key=checked.floor.key())

    with pytest.raises(Forbidden):
        checked.floor.do(command, DELEGATE)
    assert checked.floor.do(command, INSPECTOR)["good"]


def test_the_projections_are_what_the_record_says(checked: GaugeRoom, store_url: str) -> None:
    checked.floor.bring_to("O-1", 30)
    checked.read("O-1", 11.0)
    checked.check(11.3)
    checked.trust()
    checked.check(11.2)

    assert compare(store_url)[1] is None
