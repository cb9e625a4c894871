"""A gauge study entered, uploaded or typed into the grid, and what its page says."""

from __future__ import annotations

from contextlib import suppress
from math import isfinite
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from ringwright.core.errors import BadRows, Missing, Refused
from ringwright.gauges.studies import KeepStudy, read_studies
from ringwright.gauges.study_file import grid_text, read_study
from ringwright.measure.study import StudyReading
from ringwright.replaying import compare
from tests.gauges.test_gauge_pages import screen, told
from tests.make.bench import Screen
from tests.make.floor import CODE, INSPECTOR
from tests.make.gauges import GaugeRoom
from tests.measure.test_study import readings

__all__ = ["screen"]

LINES = "\n".join(f"{one.part},{one.operator},{one.value}" for one in readings())


@pytest.mark.parametrize(
    "text",
    [
        "a,B,1.5\nb,B,2",
        "a;B;1.5\nb;B;2",
        "a\tB\t1.5\nb\tB\t2",
        "a B 1.5\n\nb  B  2\n",
        "Operator,Value,Part\nB,1.5,a\nB,2,b",
        "serial;trial;appraiser;reading\na;1;B;1.5\nb;1;B;2",
    ],
)
def test_a_study_is_read_however_its_columns_stand(text: str) -> None:
    assert read_study(text) == [
        StudyReading(part="a", operator="B", value=1.5),
        StudyReading(part="b", operator="B", value=2.0),
    ]


def test_every_bad_line_is_named() -> None:
    with pytest.raises(BadRows) as trouble:
        read_study("part,operator,value\na,B,1.5\na,B\na,,2\na,B,two\na,B,3")

    assert [line for line, _ in trouble.value.problems] == [3, 4, 5]


def test_a_header_that_lacks_a_column_says_which_and_its_names() -> None:
    with pytest.raises(Refused, match=r"no operator column \(operator: operator, appraiser"):
        read_study("part,value\na,1")
    with pytest.raises(Refused, match="no readings"):
        read_study(" \n")


def test_columns_of_other_names_are_found_when_they_are_told() -> None:
    """`By` is a known name too; the one that was told has the word."""
    text = "Teil;By;Who;mm\na;x;B;1.5\nb;x;B;2"

    found = read_study(text, {"part": "teil", "operator": "Who", "value": "MM"})

    assert [(one.part, one.operator, one.value) for one in found] == [
        ("a", "B", 1.5), ("b", "B", 2.0),
    ]  # fmt: skip
    with pytest.raises(Refused, match=r"no value column \(value: kg\)"):
        read_study(text, {"part": "Teil", "value": "kg"})


def test_the_grid_is_the_same_as_lines() -> None:
    fields = {
        "cell.1.1.1": "1.5", "cell.1.2.1": "", "cell.2.1.1": "2", "part.2": "blade two",
        "operator.1": "B",
    }  # fmt: skip

    assert grid_text(fields) == "1\tB\t1.5\nblade two\tB\t2"


@given(st.text(max_size=200))
def test_whatever_is_typed_is_read_or_refused_in_words(text: str) -> None:
    with suppress(Refused):
        found = read_study(text)
        assert found
        assert all(one.part and one.operator and isfinite(one.value) for one in found)


def test_a_study_is_kept_and_computed_from_the_record(room: GaugeRoom, store_url: str) -> None:
    room.set()
    command = KeepStudy(
        gauge="CMM-1", characteristic="chord", unit="mm", readings=tuple(readings()),
        lower=-4.0, upper=4.0, key="s-1",
    )  # fmt: skip

    first = room.floor.do(command, INSPECTOR)
    again = room.floor.do(command, INSPECTOR)

    with room.floor.ledger.read(CODE) as read:
        (study,) = read_studies(read)
    assert again == first
    assert study.number == first["study"]
    assert study.answer.component("gauge").sigma == pytest.approx(0.302372, abs=1e-5)
    assert study.readings == tuple(readings())
    assert compare(store_url)[1] is None


@pytest.mark.parametrize(
    ("given_fields", "why"),
    [
        ({"unit": ""}, "unit is missing"),
        ({"characteristic": " "}, "say what was read"),
        ({"lower": 4.0, "upper": 4.0}, "upper limit must lie above"),
        ({"readings": tuple(readings()[:89])}, "equally often"),
    ],
)
def test_an_unsound_study_is_refused_and_not_kept(
    room: GaugeRoom, given_fields: dict[str, object], why: str
) -> None:
    room.set()
    fields: dict[str, Any] = {
        "gauge": "CMM-1", "characteristic": "chord", "unit": "mm", "key": "s-1",
        "readings": tuple(readings()), **given_fields,
    }  # fmt: skip

    with pytest.raises(Refused, match=why):
        room.floor.do(KeepStudy(**fields), INSPECTOR)

    with room.floor.ledger.read(CODE) as read:
        assert read_studies(read) == []


def test_an_unknown_gauge_is_missing(room: GaugeRoom) -> None:
    command = KeepStudy(
        gauge="NONE", characteristic="chord", unit="mm", readings=tuple(readings()), key="s-1"
    )

    with pytest.raises(Missing, match="no gauge NONE"):
        room.floor.do(command, INSPECTOR)


def form(text: str = LINES, **given_fields: str) -> dict[str, str]:
    """The form of a study as somebody fills it."""
    fields = {"gauge": "CMM-1", "characteristic": "chord", "unit": "mm", "key": "s-1"}
    return {**fields, "readings": text, **given_fields}


def test_a_typed_study_leads_to_its_verdict_with_the_rule_named(screen: Screen) -> None:
    answer = screen.client.post("/gauges/studies", data=form())
    page = told(screen.client.get(answer.headers["location"]).text)

    assert answer.status_code == 303
    assert "CMM-1 on chord: usable with care" in page
    assert "27.9\u202f% of the total variation" in page or "27.9" in page
    assert "MSA manual (AIAG, 4th ed.)" in page
    assert "0.3024" in page  # the gauge's standard deviation, 0.302372
    assert "88.36" in page  # the sum of squares between parts
    assert "< 0.0001" in page  # parts differ by more than chance: F is 245.6
    assert "0.0000" not in page


def test_an_uploaded_study_is_the_same(screen: Screen) -> None:
    upload = {"file": ("study.csv", f"part,operator,value\n{LINES}".encode(), "text/csv")}

    answer = screen.client.post("/gauges/studies", data=form(text=""), files=upload)

    assert answer.status_code == 303
    assert "0.3024" in screen.client.get(answer.headers["location"]).text


def test_the_form_takes_the_names_of_a_files_columns(screen: Screen) -> None:
    content = f"Teil,Wer,Messwert\n{LINES}".encode()
    upload = {"file": ("study.csv", content, "text/csv")}
    names = {"column_part": "Teil", "column_operator": "Wer", "column_value": "Messwert"}

    untold = screen.client.post("/gauges/studies", data=form(text=""), files=upload)
    answer = screen.client.post("/gauges/studies", data=form(text="", **names), files=upload)

    assert untold.status_code == 422
    assert "Teil,Wer,Messwert" in untold.text
    assert answer.status_code == 303


def test_a_refused_file_stands_in_the_form_as_text(screen: Screen) -> None:
    upload = {"file": ("study.csv", b"part,operator,value\na,B,1\na,B,two", "text/csv")}

    answer = screen.client.post("/gauges/studies", data=form(text=""), files=upload)

    assert answer.status_code == 422
    assert "line 3" in told(answer.text)
    assert "a,B,two" in answer.text
    assert 'value="chord"' in answer.text


def test_the_grid_is_drawn_in_the_size_asked_for_and_kept(screen: Screen) -> None:
    drawn = screen.client.get("/gauges/studies", params={"parts": "3", "operators": "2"}).text
    cells = {
        f"cell.{p}.{o}.{r}": f"{p + o / 10 + r / 100}"
        for p in (1, 2, 3)
        for o in (1, 2)
        for r in (1, 2)
    }
    fields = {k: v for k, v in form().items() if k != "readings"}

    answer = screen.client.post("/gauges/studies", data={**fields, **cells})

    assert drawn.count('name="cell.') == 12
    assert answer.status_code == 303


def test_a_study_leaves_as_a_file(screen: Screen) -> None:
    where = screen.client.post("/gauges/studies", data=form()).headers["location"]
    screen.choose("sup-1")

    file = screen.client.get(f"{where}/file.csv", params={"sheet": "components"})

    assert file.status_code == 200
    assert "0.302371" in file.text


def test_a_study_that_is_not_there_is_not_found(screen: Screen) -> None:
    assert screen.client.get("/gauges/studies/9").status_code == 404
