"""The Gauges pages and the Bench's choice of gauge, without scripts."""

from __future__ import annotations

from collections.abc import Iterator
from statistics import NormalDist

import pytest

from ringwright.core.clock import FixedClock
from ringwright.core.instants import parse_instant
from tests.make.bench import NOW, ROUTE, SITE, Screen, open_bench
from tests.make.html import read

GAUGES = """
[[gauge]]
code = "CMM-1"
kind = "cmm"
unit = "mm"
uncertainty = 0.01
station = "B4"
calibrated = "2026-03-01"
due = "2027-02-28"
[[gauge]]
code = "CMM-2"
kind = "cmm"
unit = "mm"
uncertainty = 0.02
calibrated = "2026-03-01"
due = "2026-08-31"
[[master]]
code = "MB-1"
gauge_kind = "cmm"
unit = "mm"
value = 25.0
allowed = 0.02
"""


@pytest.fixture
def screen(sqlite_url: str, monkeypatch: pytest.MonkeyPatch) -> Iterator[Screen]:
    """Bench 4, whose chord is read with a cmm and guarded; V-1 waits for its inspection."""
    chord = 'code = "chord"\n'
    monkeypatch.setattr("tests.make.bench.SITE", SITE + GAUGES)
    monkeypatch.setattr(
        "tests.make.bench.ROUTE",
        ROUTE.replace(chord, f'{chord}gauge_kind = "cmm"\ndecision = "guarded"\n'),
    )
    ledger = open_bench(sqlite_url, FixedClock(parse_instant(NOW)))
    yield Screen(sqlite_url, ledger)
    ledger.store.close()


def check(screen: Screen, value: str, gauge: str = "CMM-1") -> str:
    """Hold a gauge to the master on the page; what the page says then."""
    data = {"key": f"c-{gauge}-{value}", "gauge": gauge, "master": "MB-1", "value": value}
    answer = screen.client.post("/gauges/checks", data=data)
    assert answer.status_code in (303, 422), answer.text
    if answer.status_code == 422:
        return answer.text
    return screen.client.get(answer.headers["location"]).text


def told(html: str) -> str:
    """All the words of a page."""
    return " ".join(read(html).texts)


def test_the_register_says_which_decide_nothing_and_why(screen: Screen) -> None:
    page = told(screen.client.get("/gauges").text)

    assert "2 of 2 gauges in use decide nothing now" in page
    assert "not checked on MB-1 in this shift" in page
    assert "calibration overdue since 2026-09-01" in page


def test_a_check_is_kept_and_the_gauge_decides(screen: Screen) -> None:
    page = told(check(screen, "25.01"))

    assert "Checked" in page
    assert "1 of 2 gauges in use decide nothing now" in page


@pytest.mark.parametrize("value", ["", "25,01", "about 25"])
def test_a_check_without_a_figure_is_refused_and_kept_as_typed(
    screen: Screen, value: str
) -> None:
    page = check(screen, value)

    assert "Check not kept" in told(page)
    assert f'value="{value}"' in page


def test_at_the_bench_the_stations_gauge_is_chosen_and_decides(screen: Screen) -> None:
    check(screen, "25")
    screen.press("V-1", "begin")

    bench = screen.client.get("/bench", params={"scan": "V-1"}).text
    answer = screen.press(
        "V-1", "keep", **{"with.cmm": "CMM-1", "reading.chord": "10.1", "reading.twist": "1.5"}
    )

    assert '<option value="CMM-1" selected>' in bench
    assert answer.status_code == 303
    assert screen.kinds("V-1")[-2:] == ["measure", "measure"]


def test_an_overdue_gauge_says_so_at_the_bench_and_nothing_is_lost(screen: Screen) -> None:
    screen.press("V-1", "begin")

    answer = screen.press("V-1", "keep", **{"with.cmm": "CMM-2", "reading.chord": "10.1"})

    assert answer.status_code == 422
    assert "CMM-2 has been overdue for calibration since 2026-09-01" in told(answer.text)
    assert 'value="10.1"' in answer.text
    assert '<option value="CMM-2" selected>' in answer.text
    assert screen.kinds("V-1")[-1] == "begin"


def test_the_guard_band_is_drawn_and_said(screen: Screen) -> None:
    """Upper 10.5, u 0.01: the band begins at 10.48355 (ISO 14253-1:2017, 1.645 u)."""
    check(screen, "25")
    screen.press("V-1", "begin")

    asked = {"scan": "V-1", "with.cmm": "CMM-1", "reading.chord": "10.49"}
    bench = screen.client.get("/bench", params=asked).text

    assert "in the guard band, not booked" in told(bench)
    assert "It cannot pass." in told(bench)
    assert "-hatch)" in bench


def test_a_failed_check_leads_to_the_parts_and_to_trust(screen: Screen) -> None:
    check(screen, "25")
    screen.press("V-1", "begin")
    screen.press("V-1", "keep", **{"with.cmm": "CMM-1", "reading.chord": "10.1"})

    page = told(check(screen, "25.5"))
    one = screen.client.get("/gauges/CMM-1").text

    assert "Failed its check" in page
    assert "1 reading since its last good check is suspect." in page
    assert "/trace/part/V-1" in one or "V-1" in told(one)
    assert "gauge CMM-1 failed its check on master MB-1" in told(one)
    assert "/trace?gauge=CMM-1&amp;from=2026-03-01" in one


def test_the_quality_engineer_records_a_calibration_that_failed(screen: Screen) -> None:
    screen.choose("qe-1")
    data = {"key": "cal-1", "on": "2026-10-01", "due": "2027-09-30", "found": "failed"}

    without = screen.client.post("/gauges/CMM-1/calibrations", data=data)
    kept = screen.client.post(
        "/gauges/CMM-1/calibrations", data={**data, "note": "stylus bent"}
    )
    html = screen.client.get("/gauges/CMM-1").text
    page = told(html)

    assert "/trace?gauge=CMM-1&amp;to=2026-10-02" in html
    assert "from=2026-03-01" in html
    assert without.status_code == 422
    assert "say what the calibration found wrong" in told(without.text)
    assert kept.status_code == 303
    assert "CMM-1 decides nothing: failed its calibration" in page
    assert "stylus bent" in page


def test_what_was_read_with_it_is_held_in_one_act_part_by_part(screen: Screen) -> None:
    """From the gauge's page to Traceability: every part it read is held, each in the record."""
    check(screen, "25")
    for serial in ("V-1", "V-2"):
        screen.press(serial, "begin")
        screen.press(serial, "keep", **{"with.cmm": "CMM-1", "reading.chord": "10.1"})
    screen.choose("qe-1")
    address = "/trace/contain?gauge=CMM-1&from=2026-03-01T00:00:00%2B01:00"

    form = screen.client.get(address).text
    inputs = {
        one["name"]: one.get("value", "") for one in read(form).tags("input") if "name" in one
    }
    answer = screen.client.post(address, data={**inputs, "reason": "calibration failed"})

    assert answer.status_code == 303, told(answer.text)
    assert [screen.part(serial).hold is not None for serial in ("V-1", "V-2", "V-3")] == [
        True, True, False,
    ]  # fmt: skip
    assert screen.kinds("V-2")[-1] in ("contain", "hold")


def test_the_probability_of_conformity_is_the_quality_engineers_alone(screen: Screen) -> None:
    """JCGM 106:2012, 7.2: at 10.49, u 0.01, p = Phi((10.5 - 10.49) / 0.01) = Phi(1)."""
    check(screen, "25")
    screen.press("V-1", "begin")
    screen.press("V-1", "keep", **{"with.cmm": "CMM-1", "reading.chord": "10.49"})

    bench = told(screen.client.get("/bench", params={"scan": "V-1"}).text)
    inspectors = told(screen.client.get("/parts/V-1").text)
    screen.choose("qe-1")
    engineers = told(screen.client.get("/parts/V-1").text)

    assert "robability" not in bench + inspectors
    assert "in the guard band" in inspectors
    assert "Probability of conformity" in engineers
    assert f"{100 * NormalDist().cdf(1):.1f}" in engineers


def test_a_gauge_and_a_master_are_put_on_the_register(screen: Screen) -> None:
    screen.choose("qe-1")
    gauge = {"act": "gauge", "key": "g", "code": "TAP-1", "kind": "tap-rig", "unit": "Hz",
             "uncertainty": "0.4"}  # fmt: skip
    master = {"act": "master", "key": "m", "code": "MT-1", "gauge_kind": "tap-rig",
              "unit": "Hz", "value": "104.2", "allowed": "0.8"}  # fmt: skip

    assert screen.client.post("/gauges", data=gauge).status_code == 303
    assert screen.client.post("/gauges", data=master).status_code == 303
    again = screen.client.post("/gauges", data={**gauge, "key": "h", "uncertainty": "-1"})

    assert again.status_code == 422
    assert "uncertainty must be above zero" in told(again.text)
    assert "TAP-1" in told(screen.client.get("/gauges").text)


def test_a_gauge_scanned_first_is_told_for_what_it_is(screen: Screen) -> None:
    answer = screen.client.get("/bench", params={"scan": "CMM-1"})

    assert answer.status_code == 422
    assert "CMM-1 is a gauge; scan the part first, then the gauge" in told(answer.text)


def test_an_unknown_gauge_is_not_found(screen: Screen) -> None:
    assert screen.client.get("/gauges/NONE").status_code == 404
