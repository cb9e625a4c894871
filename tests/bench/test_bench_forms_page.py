"""What scans and typed readings mean before any part is looked at.

The rules on commas and cards are ours (common practice, no source).
"""

from __future__ import annotations

import pytest

from ringwright.bench.forms import card_of, clean_scan, plain_reading
from ringwright.core.errors import Refused
from ringwright.kit.typed import parse_reading


@pytest.mark.parametrize(
    ("text", "value"),
    [("318.21", 318.21), ("-0.4", -0.4), ("\u22120.4", -0.4), (" 7 ", 7.0), (".5", 0.5)],
)
def test_a_reading_with_a_point_is_taken_as_it_stands(text: str, value: float) -> None:
    assert parse_reading(text) == value


@pytest.mark.parametrize("text", ["1,234", "12,5", "1,234.5", "1.234,5"])
def test_a_comma_is_refused_with_the_reason(text: str) -> None:
    with pytest.raises(Refused, match="comma"):
        parse_reading(text)


@pytest.mark.parametrize(
    "text", ["", "abc", "1e5", "nan", "inf", "1_000", "0x1", "1 2", "\u0663"]
)
def test_what_is_no_reading_is_refused(text: str) -> None:
    with pytest.raises(Refused, match="not a reading"):
        parse_reading(text)


def test_a_reading_keeps_its_decimals_and_never_loses_finer_ones() -> None:
    assert plain_reading(86.0, 3) == "86.000"
    assert plain_reading(86.0114, 3) == "86.0114"
    assert plain_reading(100.0, 0) == "100"


@pytest.mark.parametrize("text", ["RW:PASS", "rw:pass", "Rw:Pass", "RW;PASS", "RW\u00d6PASS"])
def test_an_act_card_is_known_in_any_case_and_keyboard_layout(text: str) -> None:
    assert card_of(text) == "PASS"


@pytest.mark.parametrize("text", ["HB-4127", "RW:", "RW:PASSED", "RW:SCRAP", "XRW:PASS"])
def test_other_texts_are_no_act_cards(text: str) -> None:
    assert card_of(text) is None


def test_a_scan_loses_what_the_scanner_adds() -> None:
    assert clean_scan("\tHB-4127\r\n") == "HB-4127"
