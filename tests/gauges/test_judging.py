"""What a gauge may decide: calibration, coarseness, guard band, kind and unit."""

from __future__ import annotations

import pytest

from ringwright.core.errors import Refused
from ringwright.core.instants import parse_instant
from tests.make.gauges import GaugeRoom


def test_a_reading_carries_its_gauge_and_its_uncertainty(guarded: GaugeRoom) -> None:
    guarded.floor.bring_to("O-1", 30)

    guarded.read("O-1", 11.2)

    assert guarded.uncertainty_of("O-1") == 0.02


def test_a_calibration_that_gave_an_uncertainty_stands_over_the_register(
    guarded: GaugeRoom,
) -> None:
    guarded.calibrate(on="2026-09-20", uncertainty=0.03)
    guarded.floor.bring_to("O-1", 30)

    guarded.read("O-1", 11.2)

    assert guarded.uncertainty_of("O-1") == 0.03


def test_an_overdue_gauge_decides_nothing_and_the_message_says_since_when(
    guarded: GaugeRoom,
) -> None:
    guarded.calibrate(on="2026-09-02", due="2026-09-25")
    guarded.floor.bring_to("O-1", 30)

    with pytest.raises(
        Refused, match="CMM-1 has been overdue for calibration since 2026-09-26"
    ):
        guarded.read("O-1", 11.2)

    assert guarded.floor.part("O-1").place == "in work"
    assert guarded.uncertainty_of("O-1") is None


def test_on_its_last_day_a_calibration_is_still_good(guarded: GaugeRoom) -> None:
    guarded.calibrate(on="2026-09-02", due="2026-09-28")
    guarded.floor.bring_to("O-1", 30)

    guarded.read("O-1", 11.2)

    assert guarded.standing().decides


def test_the_day_ends_at_the_sites_midnight_not_at_utc(guarded: GaugeRoom) -> None:
    """23:30 UTC is 01:30 of the next day in Oslo, in summer time."""
    guarded.calibrate(on="2026-09-02", due="2026-09-28")

    before = guarded.standing(at_us=parse_instant("2026-09-28T21:30:00+00:00"))
    after = guarded.standing(at_us=parse_instant("2026-09-28T22:30:00+00:00"))

    assert before.decides
    assert after.state == "overdue"


def test_a_gauge_without_a_calibration_decides_nothing(guarded: GaugeRoom) -> None:
    guarded.set("CMM-2")
    guarded.floor.bring_to("O-1", 30)

    with pytest.raises(Refused, match="CMM-2 has no calibration on record"):
        guarded.read("O-1", 11.2, gauges={"cmm": "CMM-2"})


def test_a_failed_calibration_decides_nothing_from_its_day_on(guarded: GaugeRoom) -> None:
    guarded.calibrate(on="2026-09-28", good=False, note="stylus bent")
    guarded.floor.bring_to("O-1", 30)

    with pytest.raises(Refused, match="CMM-1 failed its calibration on 2026-09-28"):
        guarded.read("O-1", 11.2)


def test_where_gauges_of_the_kind_are_kept_one_must_be_named(guarded: GaugeRoom) -> None:
    guarded.floor.bring_to("O-1", 30)

    with pytest.raises(Refused, match="chord is read with a cmm; say with which one"):
        guarded.read("O-1", 11.2, gauges={})


@pytest.mark.parametrize(
    ("given", "why"),
    [
        ({"kind": "caliper"}, "chord is read with a cmm; CMM-9 is a caliper"),
        ({"unit": "um"}, "CMM-9 reads in um, chord is in mm"),
    ],
)
def test_another_kind_or_unit_is_refused(
    guarded: GaugeRoom, given: dict[str, str], why: str
) -> None:
    guarded.set("CMM-9", **given)
    guarded.calibrate("CMM-9")
    guarded.floor.bring_to("O-1", 30)

    with pytest.raises(Refused, match=why):
        guarded.read("O-1", 11.2, gauges={"chord": "CMM-9"})


def test_a_gauge_is_refused_above_a_quarter_of_the_limit_and_not_at_it(
    guarded: GaugeRoom,
) -> None:
    """Limits 10 to 12: the half tolerance is 1, a quarter of it 0.25, so u is at most 0.125
    (a test uncertainty ratio of 4 to 1, ANSI/NCSL Z540.3)."""
    guarded.set("FINE", uncertainty=0.125)
    guarded.set("COARSE", uncertainty=0.126)
    guarded.calibrate("FINE")
    guarded.calibrate("COARSE")
    guarded.floor.bring_to("O-1", 30)

    guarded.read("O-1", 11.0, gauges={"cmm": "FINE"})
    with pytest.raises(Refused, match="COARSE is too coarse"):
        guarded.read("O-1", 11.0, gauges={"cmm": "COARSE"})


def test_guarded_a_part_passes_inside_the_guard_band_only(guarded: GaugeRoom) -> None:
    """ISO 14253-1:2017: 1.645 u inside the limit; u = 0.02, so from 10.0329 to 11.9671."""
    for serial in ("O-1", "O-2"):
        guarded.floor.bring_to(serial, 30)

    with pytest.raises(Refused, match="in the guard band: chord"):
        guarded.pass_on("O-1", 11.97)
    guarded.pass_on("O-2", 11.967)

    assert guarded.floor.part("O-1").place == "in work"
    assert guarded.floor.part("O-2").step == 40


def test_guarded_without_an_uncertainty_nothing_is_decided(guarded: GaugeRoom) -> None:
    guarded.set("CMM-2", uncertainty=None, unit="mm")
    guarded.calibrate("CMM-2")
    guarded.floor.bring_to("O-1", 30)

    with pytest.raises(Refused, match="has no uncertainty in mm on record"):
        guarded.pass_on("O-1", 11.0, gauges={"cmm": "CMM-2"})


def test_where_no_gauge_is_kept_a_reading_is_decided_by_its_limits(room: GaugeRoom) -> None:
    room.floor.bring_to("O-1", 30)

    room.pass_on("O-1", 12.0, gauges={})

    assert room.floor.part("O-1").step == 40


def test_a_gauge_out_of_use_decides_nothing(guarded: GaugeRoom) -> None:
    guarded.set(withdrawn=True)
    guarded.set("CMM-2")
    guarded.calibrate("CMM-2")
    guarded.floor.bring_to("O-1", 30)

    with pytest.raises(Refused, match="CMM-1 is out of use"):
        guarded.read("O-1", 11.0)


def test_a_gauge_keeps_its_kind(guarded: GaugeRoom) -> None:
    with pytest.raises(Refused, match="CMM-1 is a cmm; a gauge keeps its kind"):
        guarded.set(kind="caliper")


def test_a_digit_is_worth_at_least_its_own_uncertainty(guarded: GaugeRoom) -> None:
    """GUM (JCGM 100:2008), F.2.2.1: resolution d gives d / sqrt(12)."""
    guarded.set("CMM-2", uncertainty=0.001, resolution=0.1)
    guarded.calibrate("CMM-2")

    assert guarded.standing("CMM-2").uncertainty == pytest.approx(0.1 / 12**0.5)


def test_the_mean_of_repeats_combines_scatter_and_gauge(guarded: GaugeRoom) -> None:
    """GUM (JCGM 100:2008), 4.2.3 and 5.1.2: u² = u_gauge² + s²/n; here s = 0.02 and n = 4."""
    from ringwright.bench.acts import EnterReadings
    from ringwright.bench.reading import Taken
    from tests.make.floor import INSPECTOR

    guarded.floor.bring_to("O-1", 30)
    repeats = (11.0, 11.02, 11.04, 11.02)
    command = EnterReadings(
        serial="O-1",
        taken={"chord": Taken(repeats=repeats)},
        gauges={"cmm": "CMM-1"},
        key=guarded.floor.key(),
    )
    guarded.floor.do(command, INSPECTOR)

    variance = (0.02**2 + 0.02**2) / 3
    assert guarded.uncertainty_of("O-1") == pytest.approx((0.02**2 + variance / 4) ** 0.5)
