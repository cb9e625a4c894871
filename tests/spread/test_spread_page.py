"""The Spread page of a small shop."""

from __future__ import annotations

from collections.abc import Iterator
from random import Random

import pytest

from ringwright.core.clock import FixedClock
from ringwright.core.instants import parse_instant
from ringwright.spread.queries import Asked, read_spreads
from tests.make.bench import HEADER, Screen, open_bench
from tests.make.html import read

NOW = "2026-10-01T22:00:00+02:00"


def history(chords: list[float]) -> str:
    """One vane a chord, read at step 20 a minute after the one before it."""
    lines = [HEADER]
    for n, chord in enumerate(chords):
        serial, minute = f"V-{n + 1:03}", f"{10 + n // 60:02}:{n % 60:02}"
        at = [f"2026-10-01T{hour}+02:00" for hour in ("07:00", "08:00", "09:00", "09:30")]
        at.append(f"2026-10-01T{minute}+02:00")
        lines += [
            f"{at[0]},{serial},VANE,create,,,,,,,,,\n",
            f"{at[1]},{serial},VANE,begin,10,,,,,,,,make-1\n",
            f"{at[2]},{serial},VANE,end,10,pass,,,,,,,make-1\n",
            f"{at[3]},{serial},VANE,begin,20,,,,,,,,insp-1\n",
            f"{at[4]},{serial},VANE,measure,20,,,chord,{chord},mm,,,insp-1\n",
        ]
    return "".join(lines)


def steady(n: int = 60) -> list[float]:
    """Chords about 10.0 that follow no pattern."""
    random = Random(0)
    return [round(10.0 + random.gauss(0, 0.1), 2) for _ in range(n)]


@pytest.fixture
def open_screen() -> Iterator[list[Screen]]:
    """Screens that a test opened, closed after it."""
    opened: list[Screen] = []
    yield opened
    for one in opened:
        one.ledger.store.close()


def page(opened: list[Screen], url: str, chords: list[float], **asked: str) -> str:
    """The page of a shop with these readings."""
    ledger = open_bench(url, FixedClock(parse_instant(NOW)), history(chords))
    screen = Screen(url, ledger)
    opened.append(screen)
    answer = screen.client.get("/spread", params=asked)
    assert answer.status_code == 200, answer.text
    return answer.text


def told(html: str) -> str:
    """All words of a page."""
    return " ".join(read(html).texts)


def test_a_steady_process_is_told_as_one(open_screen: list[Screen], sqlite_url: str) -> None:
    words = told(page(open_screen, sqlite_url, steady(), product="VANE"))

    assert "Nothing drifts among the latest 20 parts" in words
    assert "steady" in words


def test_a_drift_names_the_part_that_shows_it(
    open_screen: list[Screen], sqlite_url: str
) -> None:
    """The last reading lies far beyond three short-term standard deviations, inside limits."""
    html = page(open_screen, sqlite_url, [*steady(), 10.48], of="20.chord")

    assert "chord: V-061: beyond the control limits" in told(html)
    assert 'class="c-spread__dot is-flagged"' in html
    assert 'href="/parts/V-061"' in html


def test_the_figures_are_those_of_the_readings(
    open_screen: list[Screen], sqlite_url: str
) -> None:
    """Ppk by hand: the nearest limit less the mean over three standard deviations."""
    from statistics import fmean, stdev

    chords = steady()
    words = told(page(open_screen, sqlite_url, chords, of="20.chord"))
    mean, sigma = fmean(chords), stdev(chords)
    ppk = min(10.5 - mean, mean - 9.5) / (3 * sigma)

    assert f"{ppk:.2f}" in words
    assert f"{1.0 / (6 * sigma):.2f}" in words


def test_every_part_counts_once_with_its_latest_reading(
    open_screen: list[Screen], sqlite_url: str
) -> None:
    again = "2026-10-01T12:30+02:00,V-001,VANE,measure,20,,,chord,10.44,mm,,,insp-1\n"
    ledger = open_bench(sqlite_url, FixedClock(parse_instant(NOW)), history(steady(12)) + again)
    screen = Screen(sqlite_url, ledger)
    open_screen.append(screen)

    asked = {"of": "20.chord", "sheet": "readings", "product": "VANE"}
    screen.choose("sup-1")
    file = screen.client.get("/spread/file.csv", params=asked).text

    lines = [line for line in file.splitlines() if line.startswith("V-001,")]
    assert len(lines) == 1
    assert lines[0].startswith("V-001,10.44,")


def test_every_reading_counts_when_asked(open_screen: list[Screen], sqlite_url: str) -> None:
    again = "2026-10-01T12:30+02:00,V-001,VANE,measure,20,,,chord,10.44,mm,,,insp-1\n"
    ledger = open_bench(sqlite_url, FixedClock(parse_instant(NOW)), history(steady(12)) + again)
    screen = Screen(sqlite_url, ledger)
    open_screen.append(screen)
    screen.choose("sup-1")

    asked = {"of": "20.chord", "sheet": "readings", "product": "VANE", "counts": "every"}
    file = screen.client.get("/spread/file.csv", params=asked).text

    assert len([line for line in file.splitlines() if line.startswith("V-001,")]) == 2


def test_days_before_the_first_one_asked_are_left_out(
    open_screen: list[Screen], sqlite_url: str
) -> None:
    """The site's midnight parts the days: all was read on 1 October there."""
    page(open_screen, sqlite_url, steady(12))
    client = open_screen[0].client

    first = told(client.get("/spread", params={"since": "2026-10-01"}).text)
    second = told(client.get("/spread", params={"since": "2026-10-02"}).text)

    assert "Nothing drifts" in first
    assert "Nothing has been read of VANE" in second


def test_a_row_says_whether_its_drift_is_one_of_now(
    open_screen: list[Screen], sqlite_url: str
) -> None:
    now = told(page(open_screen, sqlite_url, [*steady(), 10.48]))

    assert "drifts now: V-061: beyond the control limits" in now


def test_an_old_drift_is_told_as_one_of_before(
    open_screen: list[Screen], sqlite_url: str
) -> None:
    words = told(page(open_screen, sqlite_url, [*steady(30), 10.48, *steady(30)]))

    assert "before the latest 20: V-031: beyond the control limits" in words
    assert "Nothing drifts among the latest 20 parts" in words


def test_no_reading_yet_and_too_few_are_told(
    open_screen: list[Screen], sqlite_url: str
) -> None:
    html = page(open_screen, sqlite_url, [10.0], of="20.chord")

    assert "too few readings" in told(html)
    assert "Fewer than two parts have been read" in told(html)


@pytest.mark.parametrize(
    ("asked", "status"),
    [
        ({"product": "NONE"}, 404),
        ({"of": "20.none"}, 404),
        ({"of": "chord"}, 422),
        ({"last": "7"}, 422),
        ({"last": "many"}, 422),
        ({"among": "elsewhere"}, 422),
        ({"counts": "some"}, 422),
        ({"since": "Monday"}, 422),
        ({"since": "0001-01-01"}, 422),
        ({"since": "9999-12-31"}, 422),
    ],
)
def test_what_cannot_be_shown_is_refused_in_words(
    open_screen: list[Screen], sqlite_url: str, asked: dict[str, str], status: int
) -> None:
    page(open_screen, sqlite_url, steady(12))

    answer = open_screen[0].client.get("/spread", params=asked)

    assert answer.status_code == status


def test_only_parts_in_the_cell_when_asked(open_screen: list[Screen], sqlite_url: str) -> None:
    page(open_screen, sqlite_url, steady(12))
    client = open_screen[0].client

    stock = told(client.get("/spread", params={"among": "stock"}).text)
    cell = told(client.get("/spread", params={"among": "cell"}).text)

    assert "Nothing has been read of VANE yet" in stock
    assert "Nothing drifts" in cell


def test_many_parts_in_the_cell_show_what_few_show(
    open_screen: list[Screen], sqlite_url: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Few are looked up part by part, many through the readings: the figures are the same."""
    page(open_screen, sqlite_url, steady(12))
    ledger = open_screen[0].ledger
    asked = Asked(product="VANE", among="cell")

    with ledger.read() as read:
        by_part = read_spreads(read, asked)
    monkeypatch.setattr("ringwright.spread.queries.FEW", 3)
    with ledger.read() as read:
        through_all = read_spreads(read, asked)

    assert by_part is not None
    assert len(by_part.spreads[0].points) == 12
    assert by_part == through_all


def test_parts_read_many_times_push_no_other_part_out(
    open_screen: list[Screen], sqlite_url: str
) -> None:
    """160 newer readings of one part are more than three rows a part wanted."""
    many = "".join(
        f"2026-10-01T{13 + n // 60}:{n % 60:02}+02:00,V-001,VANE,measure,20,,,chord,10.1,mm,,,"
        "insp-1\n"
        for n in range(160)
    )
    ledger = open_bench(sqlite_url, FixedClock(parse_instant(NOW)), history(steady(12)) + many)
    screen = Screen(sqlite_url, ledger)
    open_screen.append(screen)
    screen.choose("sup-1")
    asked = {"product": "VANE", "of": "20.chord", "last": "50"}

    page = told(screen.client.get("/spread", params=asked).text)
    file, again = (
        screen.client.get("/spread/file.csv", params=asked).content for _ in range(2)
    )

    assert file == again
    assert "12 rows here of 12 in all" in file.decode()
    account = (
        "0 opening + 12 created + 0 reopened = 0 released + 0 scrapped + 0 used in test or "
        "making + 12 closing. It balances."
    )
    for words in (page, file.decode()):
        assert "12 readings looked at = 12 counted + 0 suspect, left out" in words
        assert account.split("reopened = ")[1] in words
