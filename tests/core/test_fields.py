"""Text and tables that people type: what is sound, and how a refusal reads."""

from __future__ import annotations

import pytest

from ringwright.core.errors import Refused
from ringwright.core.fields import Fields, problem_of_code, problem_of_text, read_toml


@pytest.mark.parametrize("code", ["HF22-BLADE", "7", "Ø12/b", "a b", "x" * 200])
def test_a_plain_code_is_sound(code: str) -> None:
    assert problem_of_code(code) is None


@pytest.mark.parametrize(
    ("code", "why"),
    [
        ("", "empty"),
        (" A", "space"),
        ("A ", "space"),
        ("=A1", "begin with"),
        ("+A", "begin with"),
        ("-A", "begin with"),
        ("@A", "begin with"),
        ("\tA", "space"),
        ("A\x00", "control"),
        ("A\nB", "control"),
        ("A\x1dB", "control"),
        ("A\ud800", "control"),
        ("A\u200bB", "invisible"),
        ("A\u2028B", "invisible"),
        ("x" * 201, "longer"),
    ],
)
def test_a_code_that_would_bite_later_is_named(code: str, why: str) -> None:
    assert why in (problem_of_code(code) or "sound")


def test_free_text_may_begin_with_a_sign_but_holds_no_control_character() -> None:
    assert problem_of_text("+45 degree trim") is None
    assert problem_of_text("bell\x07") is not None
    assert problem_of_text("x" * 201) is not None


@pytest.mark.parametrize(
    "text",
    ["a = ", "= 1", "a = 1\na = 2", "x = " + "[" * 5000, "n = " + "9" * 5000, "a = '\x00'"],
)
def test_a_file_that_is_no_toml_is_refused_in_one_line(text: str) -> None:
    with pytest.raises(Refused, match=r"^f\.toml: not valid TOML") as refusal:
        read_toml(text, "f.toml")

    assert "\n" not in refusal.value.message
    assert len(refusal.value.message) < 300


def test_a_byte_order_mark_and_windows_line_ends_do_no_harm() -> None:
    assert read_toml("\ufeffa = 1\r\nb = 2\r\n", "f").table == {"a": 1, "b": 2}


@pytest.mark.parametrize("value", [True, "3", 3.0, 0, -1, 10**30, None])
def test_a_count_is_a_whole_number_above_zero(value: object) -> None:
    with pytest.raises(Refused, match=r"^here: n must be"):
        Fields({"n": value}, "here").whole("n")


@pytest.mark.parametrize(
    "value", [True, "3", float("inf"), float("-inf"), float("nan"), 10**400]
)
def test_a_number_is_finite(value: object) -> None:
    with pytest.raises(Refused, match=r"^here: n "):
        Fields({"n": value}, "here").number("n")


def test_a_negative_zero_is_zero() -> None:
    assert str(Fields({"n": -0.0}, "here").number("n")) == "0.0"


def test_what_is_missing_is_named() -> None:
    with pytest.raises(Refused, match=r"^here: code is missing$"):
        Fields({}, "here").code("code")


def test_a_long_value_is_cut_in_the_message() -> None:
    with pytest.raises(Refused) as refusal:
        Fields({"n": "y" * 10_000}, "here").number("n")

    assert len(refusal.value.message) < 150
