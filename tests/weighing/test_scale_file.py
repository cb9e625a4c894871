"""Files that scales write: delimiters, decimals, headings, units; what is booked of them."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from ringwright.balance.units import KNOWN, slip_of
from ringwright.core.clock import FixedClock
from ringwright.core.errors import Refused
from ringwright.core.instants import parse_instant
from ringwright.weighing.scale_file import Chosen, factor_of, guess, read_table, rows_of
from tests.make.bench import NOW, ROUTE, SITE, Screen, open_bench
from tests.make.html import read

GAUGE = """
[[gauge]]
code = "MS-1"
kind = "moment-scale"
unit = "g_mm"
uncertainty = 18.0
calibrated = "2026-03-01"
due = "2027-02-28"
"""
MOMENT = """[[step.characteristic]]
code = "moment"
nominal = 250000
lower = 245000
upper = 255000
unit = "g_mm"
decimals = 0
role = "moment"
gauge_kind = "moment-scale"
[[step]]
number = 30
"""
TYPED = "250100 250130\n250115"
FILE = "Serial,Moment,When\nV-1,250100,09:00\nV-1,250130,09:01\nV-2,249900,09:02\n"


@pytest.fixture
def screen(sqlite_url: str, monkeypatch: pytest.MonkeyPatch) -> Iterator[Screen]:
    """Bench 4; step 20 reads a moment too; V-1 and V-2 are in work there, V-3 waits."""
    monkeypatch.setattr("tests.make.bench.SITE", SITE + GAUGE)
    monkeypatch.setattr(
        "tests.make.bench.ROUTE", ROUTE.replace("[[step]]\nnumber = 30\n", MOMENT)
    )
    ledger = open_bench(sqlite_url, FixedClock(parse_instant(NOW)))
    screen = Screen(sqlite_url, ledger)
    for serial in ("V-1", "V-2"):
        screen.press(serial, "begin")
    yield screen
    ledger.store.close()


def test_units_are_those_of_the_tables() -> None:
    """NIST SP 811 and the 1959 agreement: 1 oz·in is 28.349523125 g times 25.4 mm."""
    assert factor_of("g_mm", "oz_in") == pytest.approx(720.077887375, rel=1e-12)
    assert factor_of("g_mm", "g_cm") == 10.0
    assert factor_of("g_mm", "") == 1.0
    with pytest.raises(Refused, match="'hz' is no unit"):
        factor_of("g_mm", "hz")


@pytest.mark.parametrize("used", ["g_mm", "g_cm", "oz_in", "kg_m"])
@pytest.mark.parametrize("true", ["g_mm", "g_cm", "oz_in", "kg_m"])
def test_a_slip_names_the_unit_that_would_fit(used: str, true: str) -> None:
    figures = [value / KNOWN["moment"][true] for value in (250e3, 251e3, 249e3)]
    taken = [figure * KNOWN["moment"][used] for figure in figures]

    told = slip_of(taken, 250e3, "moment", used)

    assert (told is None) == (used == true)
    if told:
        names = {"g_mm": "g·mm", "g_cm": "g·cm", "oz_in": "oz·in", "kg_m": "kg·m"}
        assert names[true] in told


@pytest.mark.parametrize(
    ("text", "delimiter", "comma"),
    [
        ("serial,moment\nA,1.5", ",", False),
        ("serial;moment\nA;1,5", ";", True),
        ("serial\tmoment\nA\t1,5", "\t", True),
        ("serial;moment\nA;1.5", ";", False),
    ],
)
def test_delimiter_and_decimals_are_found(text: str, delimiter: str, comma: bool) -> None:
    table = read_table(text)
    (row,) = rows_of(table, Chosen(serial=0, readings={"moment": 1}), {})

    assert (table.delimiter, table.comma) == (delimiter, comma)
    assert (row.serial, row.values, row.why) == ("A", {"moment": 1.5}, "")


def test_headings_say_which_column_is_which() -> None:
    table = read_table("Date;Serial number;moment_tangential;Moment (g mm)\n1;A;2;3")

    assert guess(table, ["moment", "moment_tangential"]) == {
        "serial": 1, "moment_tangential": 2, "moment": 3,
    }  # fmt: skip


@pytest.mark.parametrize(
    ("text", "why"),
    [
        ("", "file is empty"),
        (" ,\n,", "file is empty"),
        ("serial\nA", "one column only"),
        ("serial,moment\n", "no rows"),
        ("serial,moment\n" + "A,1\n" * 5_001, "up to 5000 rows"),
    ],
)
def test_a_file_that_is_none_is_refused(text: str, why: str) -> None:
    with pytest.raises(Refused, match=why):
        read_table(text)


@given(st.text(max_size=300))
def test_any_text_is_a_table_or_is_refused(text: str) -> None:
    try:
        table = read_table(text)
    except Refused:
        return
    rows = rows_of(table, Chosen(serial=0, readings={"moment": 1}), {})
    assert len(rows) == len(table.rows)
    assert all(row.why or row.values for row in rows)


def bring(screen: Screen, text: str = FILE, **given_fields: str) -> Any:
    """Post the file's text with what is chosen, as the page's second step does."""
    fields = {
        "gauge": "MS-1", "text": text, "column.serial": "0", "column.moment": "1",
        "unit.moment": "g_mm", "act": "look",
    }  # fmt: skip
    return screen.client.post(
        "/weighing/file", data={**fields, **given_fields}, files={"none": ("", b"")}
    )


def told(html: str) -> str:
    """All words of a page."""
    return " ".join(read(html).texts)


def test_a_file_is_looked_at_before_anything_is_booked(screen: Screen) -> None:
    upload = {"file": ("scale.csv", FILE.encode(), "text/csv")}
    first = screen.client.post("/weighing/file", data={"gauge": "MS-1"}, files=upload)
    look = bring(screen)

    assert "Choose its columns and units" in told(first.text)
    assert '<option value="0" selected>Serial</option>' in first.text
    assert "2 parts can be booked" in told(look.text)
    assert screen.kinds("V-1")[-1] == "begin"


def test_booked_the_repeats_of_a_part_are_one_reading(screen: Screen) -> None:
    page = told(bring(screen, act="book").text)
    bench = screen.client.get("/bench", params={"scan": "V-1"}).text

    assert "Booked: 2 parts" in page
    assert screen.kinds("V-1").count("measure") == 1
    assert 'value="250115"' in bench  # the mean of 250100 and 250130
    assert "23" in told(bench)  # u = sqrt(18² + 21.2²/2) = 23.4


def test_the_same_file_again_adds_nothing(screen: Screen) -> None:
    bring(screen, act="book")
    again = bring(screen, act="book")

    assert again.status_code == 200
    assert screen.kinds("V-1").count("measure") == 1


def test_the_columns_are_remembered(screen: Screen) -> None:
    text = FILE.replace("Serial,Moment", "Ident,Kraft")
    first = {"file": ("first.csv", text.encode(), "text/csv")}
    unknown = screen.client.post("/weighing/file", data={"gauge": "MS-1"}, files=first)
    bring(screen, text, act="book")
    upload = {"file": ("next.csv", text.replace("250100", "250200").encode(), "text/csv")}

    page = screen.client.post("/weighing/file", data={"gauge": "MS-1"}, files=upload).text

    assert "Choose its columns and units" in told(unknown.text)
    assert "The columns are as last time." in told(page)
    assert "2 parts can be booked" in told(page)


@pytest.mark.parametrize(
    ("unit", "hint"), [("g_cm", "were they g·mm"), ("oz_in", "were they g·mm")]
)
def test_a_slip_of_units_is_caught_before_anything_is_stored(
    screen: Screen, unit: str, hint: str
) -> None:
    refused = bring(screen, act="book", **{"unit.moment": unit})

    assert refused.status_code == 422
    assert hint in told(refused.text)
    assert screen.kinds("V-1")[-1] == "begin"


def test_a_unit_is_asked_and_never_assumed(screen: Screen) -> None:
    page = bring(screen, act="book", **{"unit.moment": ""})

    assert "Choose its columns and units" in told(page.text)
    assert screen.kinds("V-1")[-1] == "begin"


def test_rows_that_cannot_be_booked_are_named_and_the_rest_waits_for_a_word(
    screen: Screen,
) -> None:
    text = f"{FILE}V-3,250000,1\nV-9,250000,2\nV-2,heavy,3\n,1,4\n"

    refused = bring(screen, text, act="book")
    booked = bring(screen, text, act="book", rest="1")

    assert refused.status_code == 422
    page = told(refused.text)
    assert "V-3 waits for step 20; begin it there first" in page
    assert "V-9 is no part of this site" in page
    assert "line 7, V-2 moment: 'heavy' is not a figure" in page
    assert "line 8 no serial" in page
    assert "Booked: 2 parts" in told(booked.text)


def test_an_outlier_is_flagged_and_set_aside_only_with_a_reason(screen: Screen) -> None:
    values = (250100, 250103, 250098, 250101, 250099, 250180)
    text = "Serial,Moment,When\n" + "".join(f"V-1,{v},0\n" for v in values)

    look = bring(screen, text)
    without = bring(screen, text, act="book", **{"out.7.moment": "1"})
    booked = bring(screen, text, act="book", reason="bumped", **{"out.7.moment": "1"})

    assert "stands out" in told(look.text)
    assert without.status_code == 422
    assert "say why a repeat is set aside" in told(without.text)
    assert booked.status_code == 200
    bench = screen.client.get("/bench", params={"scan": "V-1"}).text
    assert 'value="250100.2"' in bench


def test_repeats_typed_at_the_bench_are_kept_as_one_reading(screen: Screen) -> None:
    page = screen.client.get("/weighing", params={"scan": "V-1"}).text
    data = {
        "key": "w-1",
        "repeats.moment": "250100 250130\n250115",
        "with.moment-scale": "MS-1",
    }
    look = screen.client.post("/weighing/V-1", data={**data, "act": "look"})
    nothing = screen.kinds("V-1").count("measure")
    kept = screen.client.post("/weighing/V-1", data={**data, "act": "keep"})

    assert 'name="repeats.moment"' in page
    assert "mean 250,115.0" in told(look.text)
    assert nothing == 0
    assert kept.status_code == 303
    assert screen.kinds("V-1").count("measure") == 1


def test_a_repeat_that_is_no_figure_is_told_and_nothing_is_lost(screen: Screen) -> None:
    data = {"key": "w-1", "repeats.moment": "250100 2501,30", "with.moment-scale": "MS-1"}

    refused = screen.client.post("/weighing/V-1", data={**data, "act": "keep"})

    assert refused.status_code == 422
    assert "2501,30" in refused.text
    assert "has a comma" in told(refused.text)
    assert screen.kinds("V-1")[-1] == "begin"
