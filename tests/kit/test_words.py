"""Languages: which one a reader gets, and the made-up one."""

from __future__ import annotations

import pytest

from ringwright.kit.words import PSEUDO, asked_language, words_of


@pytest.mark.parametrize(
    ("accept", "tag"),
    [
        ("", "en"),
        ("en-GB,en;q=0.9", "en"),
        ("tlh, *;q=0.1", "en"),
        ("en-XA", "en-XA"),
        ("nb-NO, en-xa", "en-XA"),
        ("," * 5000, "en"),
    ],
)
def test_a_reader_gets_the_first_language_that_is_offered(accept: str, tag: str) -> None:
    assert asked_language(accept) == tag


def test_without_a_wish_the_sites_language_rules() -> None:
    assert asked_language("", "en_XA") == "en-XA"
    assert asked_language("tlh", "en-XA") == "en-XA"


def test_the_made_up_language_keeps_its_holes_and_grows_by_two_fifths() -> None:
    text = "%(parts)s held at 100 %% of the steps"
    made = words_of(PSEUDO)._(text, parts=12)

    assert "12" in made
    assert "100 %" in made
    assert len(made) >= 1.35 * len(text.replace("%(parts)s", "").replace("%%", "%"))


def test_a_count_chooses_its_form() -> None:
    words = words_of("en")

    assert words.ngettext("%(n)s part", "%(n)s parts", 1) == "1 part"
    assert words.ngettext("%(n)s part", "%(n)s parts", 2) == "2 parts"
