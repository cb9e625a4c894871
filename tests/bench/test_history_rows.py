"""Rows of a history file: what is taken in, and what is refused with its line.

The rules are the project's own contract (a history CSV); no outside source.
"""

# ruff: noqa: E501 - a table of cases is read by its columns

from __future__ import annotations

from collections.abc import Iterator

import pytest

from ringwright.assembly import SYSTEM
from ringwright.bench.history import LoadHistory, read_csv
from ringwright.core.errors import BadRows, Refused
from ringwright.ledger.service import Ledger
from tests.make.shop import open_shop

HEADER = "at,serial,product,act,step,outcome,defect,characteristic,value,unit,lot,station,by,reason,key"
WIDTH = HEADER.count(",")


def row(at: str, act: str, *rest: str, serial: str = "W-1") -> str:
    """A line at an hour and minute of one day, padded to the header's width."""
    cells = [f"2026-09-28T{at}:00+02:00", serial, "VANE", act, *rest]
    return ",".join(cells + [""] * (WIDTH + 1 - len(cells)))


CREATED = row("07:00", "create")
BEGUN = [CREATED, row("08:00", "begin", "10")]
PASSED = [*BEGUN, row("09:00", "end", "10", "pass")]
RELEASED = [*PASSED, row("10:00", "begin", "20"), row("11:00", "end", "20", "pass")]


@pytest.fixture
def shop(store_url: str) -> Iterator[Ledger]:
    ledger = open_shop(store_url, history="")
    yield ledger
    ledger.store.close()


def load(shop: Ledger, *lines: str, zone: str | None = None) -> dict[str, int]:
    text = "\n".join([HEADER, *lines]) + "\n"
    return shop.execute("NORD", LoadHistory(rows=read_csv(text), zone=zone), SYSTEM)


def problems(shop: Ledger, *lines: str) -> list[tuple[int, str]]:
    before = shop.head("NORD")
    with pytest.raises(BadRows) as caught:
        load(shop, *lines)
    assert shop.head("NORD") == before, "a refused file left something behind"
    return caught.value.problems


BAD: list[tuple[str, list[str], int, str]] = [
    ("a begin behind the step awaited", [*PASSED, row("10:00", "begin", "10")], 5, "behind"),
    ("a begin while a visit is open", [*BEGUN, row("08:30", "begin", "10")], 4, "in work"),
    ("a begin on hold", [CREATED, row("07:30", "hold"), row("08:00", "begin", "10")], 4, "hold"),
    ("an end without a visit", [CREATED, row("08:00", "end", "10", "pass")], 3, "no open visit"),
    ("an end at another step", [*BEGUN, row("09:00", "end", "20", "pass")], 4, "not at step 20"),
    ("a second hold", [CREATED, row("07:10", "hold"), row("07:20", "hold")], 4, "already"),
    ("an unhold of none", [CREATED, row("07:10", "unhold")], 3, "not on hold"),
    ("a send before release", [*PASSED, row("10:00", "send", "20")], 5, "not released"),
    ("a serial created twice", [CREATED, row("07:05", "create")], 3, "exists"),
    ("a part that never was", [row("08:00", "begin", "10")], 2, "create it first"),
    ("a pause without a visit", [CREATED, row("08:00", "pause", "10")], 3, "no open visit"),
    ("a second pause", [*BEGUN, row("08:10", "pause"), row("08:20", "pause")], 5, "paused"),
    ("a resume without a pause", [*BEGUN, row("08:10", "resume", "10")], 4, "not paused"),
    ("a step the route lacks", [CREATED, row("08:00", "begin", "15")], 3, "no step 15"),
    ("work after release", [*RELEASED, row("12:00", "begin", "20")], 7, "no step is due"),
    ("work after scrap", [*BEGUN, row("09:00", "end", "10", "scrap"), row("09:30", "hold")], 5, "scrap"),
    ("release while held",
     [*PASSED, row("10:00", "begin", "20"), row("10:10", "hold"), row("11:00", "end", "20", "pass")],
     7, "on hold"),
    ("a word that is no act", [CREATED, row("08:00", "start", "10")], 3, "act"),
    ("a word that is no outcome", [*BEGUN, row("09:00", "end", "10", "ok")], 4, "outcome"),
    ("an end without outcome", [*BEGUN, row("09:00", "end", "10")], 4, "outcome is missing"),
    ("a step that is no number", [CREATED, row("08:00", "begin", "ten")], 3, "step"),
    ("a serial a sheet would run", [row("07:00", "create", serial="=W")], 2, "serial"),
    ("a defect a sheet would run", [*BEGUN, row("09:00", "end", "10", "scrap", "@x")], 4, "defect"),
    ("a field beyond all measure", [*BEGUN, row("09:00", "end", "10", "scrap", "x" * 10_001)], 4, "10,000"),
    ("a control character in a serial", [row("07:00", "create", serial="W\x1d1")], 2, "control"),
    ("an outcome on a begin", [CREATED, row("08:00", "begin", "10", "pass")], 3, "belongs to end"),
    ("too many fields", [CREATED + ",x"], 2, "more fields"),
]  # fmt: skip


@pytest.mark.parametrize(
    ("lines", "line", "word"), [case[1:] for case in BAD], ids=[c[0] for c in BAD]
)
def test_a_bad_row_is_named_with_its_line(
    shop: Ledger, lines: list[str], line: int, word: str
) -> None:
    found = problems(shop, *lines)

    assert [number for number, _why in found] == [line]
    assert word in found[0][1]


def test_every_bad_row_of_a_file_is_named_in_one_run(shop: Ledger) -> None:
    found = problems(
        shop,
        CREATED,
        row("07:00", "create", serial="+W"),
        row("25:00", "begin", "10"),
        row("08:00", "begin", "99"),
        row("08:00", "begin", "10", serial="W-2"),
    )

    assert [number for number, _why in found] == [3, 4, 5, 6]


def test_the_same_file_again_adds_nothing(shop: Ledger) -> None:
    assert load(shop, *RELEASED)["added"] == 5

    again = load(shop, *RELEASED)

    assert (again["added"], again["already_there"]) == (0, 5)


def test_rows_may_stand_in_any_order(shop: Ledger) -> None:
    assert load(shop, *reversed(RELEASED))["added"] == 5


def test_rows_of_one_part_at_one_moment_keep_the_order_of_the_file(shop: Ledger) -> None:
    same = [
        row("07:00", "create"),
        row("07:00", "begin", "10"),
        row("07:00", "end", "10", "pass"),
    ]

    assert load(shop, *same)["added"] == 3

    other = [line.replace("W-1", "W-2") for line in (same[0], same[2], same[1])]
    assert [number for number, _ in problems(shop, *other)] == [3]


def keyed(line: str, key: str) -> str:
    return line.rstrip(",") + "," * (WIDTH - line.rstrip(",").count(",")) + key


def test_one_key_with_one_content_is_one_booking_in_any_offset(shop: Ledger) -> None:
    first = keyed(CREATED, "k-1")
    utc = first.replace("T07:00:00+02:00", "T05:00:00Z")

    answer = load(shop, first, utc)

    assert (answer["added"], answer["repeated_lines"]) == (1, 1)
    assert load(shop, utc)["already_there"] == 1


def test_one_key_with_other_content_is_a_bad_row(shop: Ledger) -> None:
    load(shop, keyed(CREATED, "k-1"))

    found = problems(shop, keyed(row("07:30", "create", serial="W-9"), "k-1"))

    assert found[0][0] == 2
    assert "k-1" in found[0][1]


def test_equal_lines_without_a_key_are_counted_once(shop: Ledger) -> None:
    answer = load(shop, CREATED, CREATED)

    assert (answer["added"], answer["repeated_lines"]) == (1, 1)


def test_a_begin_ahead_is_taken_in_and_counted_as_skips(shop: Ledger) -> None:
    answer = load(shop, CREATED, row("08:00", "begin", "20"), row("09:00", "end", "20", "pass"))

    assert (answer["added"], answer["skips"]) == (3, 1)


def test_a_late_row_is_taken_in_when_the_whole_history_obeys(shop: Ledger) -> None:
    load(shop, *PASSED)

    assert load(shop, row("08:20", "pause", "10"), row("08:40", "resume", "10"))["added"] == 2


def test_a_late_row_that_contradicts_the_record_is_refused(shop: Ledger) -> None:
    load(shop, *PASSED)

    (found,) = problems(shop, row("07:30", "hold"))

    assert found[0] == 2
    assert "recorded already" in found[1]


def test_a_time_without_an_offset_needs_the_zone_named(shop: Ledger) -> None:
    naive = CREATED.replace("+02:00", "")

    assert problems(shop, naive)[0][0] == 2
    assert load(shop, naive, zone="Europe/Oslo")["added"] == 1
    assert load(shop, CREATED)["already_there"] == 1


@pytest.mark.parametrize(
    "text",
    [
        "",
        "serial,act\n",
        "at;serial;product\n",
        HEADER + ",extra\n",
        HEADER.replace(",unit", "") + "\n",
    ],
)
def test_a_file_without_the_header_is_refused(text: str) -> None:
    with pytest.raises(Refused, match="line 1"):
        list(read_csv(text))


def test_a_byte_order_mark_quotes_and_line_ends_of_other_systems_are_read() -> None:
    text = (
        "\ufeff"
        + HEADER
        + '\r\n"2026-09-28T07:00:00Z",W-1,VANE,create,,,,,,,,,,"two\r\nlines",\r\n\r\nx\r\n'
    )

    numbers = [number for number, _row in read_csv(text)]

    assert numbers == [2, 5]
