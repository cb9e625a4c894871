"""What a code on a route card asks. Abbreviations and levels of ISO 9712, from memory."""

from __future__ import annotations

import pytest

from ringwright.core.authorisation import NDT_METHODS, asked_of, words_of_method


@pytest.mark.parametrize(
    ("code", "method", "level"),
    [
        ("RT-2", "RT", 2),
        ("rt-2", "RT", 2),
        ("UT", "UT", 1),
        ("PT-3", "PT", 3),
        ("weld-tig", "weld-tig", 0),
        ("weld-tig-2", "weld-tig-2", 0),
        ("WPS-31-2", "WPS-31-2", 0),
        ("RTX-2", "RTX-2", 0),
        ("MT-tech", "MT-tech", 0),
        ("furnace", "furnace", 0),
    ],
)
def test_a_code_asks_a_method_and_a_level(code: str, method: str, level: int) -> None:
    asked = asked_of(code)

    assert (asked.method, asked.level) == (method, level)
    assert asked.is_ndt == (level > 0)
    assert asked.sound


@pytest.mark.parametrize("method", ["RT", "UT", "PT", "MT", "ET", "VT", "TT", "LT", "AT", "ST"])
def test_the_ten_methods_of_iso_9712_are_testing_methods(method: str) -> None:
    assert asked_of(f"{method}-2").is_ndt
    assert words_of_method(method) == NDT_METHODS[method]
    assert asked_of(asked_of(f"{method}-2").text) == asked_of(f"{method}-2")


@pytest.mark.parametrize("code", ["RT-0", "RT-4", "UT-22"])
def test_a_level_that_no_standard_knows_is_not_sound(code: str) -> None:
    assert asked_of(code).is_ndt
    assert not asked_of(code).sound
