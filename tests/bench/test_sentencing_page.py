"""Sentences, witnesses and corrections, each by who may give them."""

from __future__ import annotations

from typing import Any

import pytest

from ringwright.parts.outline import outline_of
from tests.make.bench import Screen
from tests.make.second import signing


@pytest.fixture
def stopped(screen: Screen) -> Screen:
    """V-1 stopped at step 20 with a dent."""
    screen.press("V-1", "begin")
    assert screen.press("V-1", "stop", defect="dent", place_on_part="tip").status_code == 303
    return screen


def number(screen: Screen) -> int:
    return int(screen.part("V-1").last_seq)


def sentence(screen: Screen, who: str, decision: str, **given: str) -> Any:
    screen.choose(who)
    drawn = screen.client.get("/bench/nonconformities", params={"open": number(screen)}).text
    form = screen.fields(drawn, "/bench/sentences/V-1")
    for name in ("defect", "place_on_part", "reason", "document", "scope"):
        form.setdefault(name, "")
    data = {**form, **given, "decision": decision}
    return screen.client.post("/bench/sentences/V-1", data=data)


def test_the_list_shows_what_waits_oldest_first(stopped: Screen) -> None:
    stopped.press("V-2", "stop", defect="scratch")

    page = stopped.client.get("/bench/nonconformities").text

    assert "2 nonconformities wait" in page
    assert page.index("dent") < page.index("scratch")


def test_scrap_names_the_step_that_caused_it_beside_the_one_that_found_it(
    stopped: Screen,
) -> None:
    lacking = sentence(stopped, "qe-1", "scrap", kept="marked")
    done = sentence(stopped, "qe-1", "scrap", kept="locked-up", caused_step="10")
    whole = stopped.client.get("/bench/nonconformities").text

    assert lacking.status_code == 422
    assert "the step that caused it" in lacking.text
    assert done.status_code == 303
    assert stopped.part("V-1").place == "scrapped"
    assert "locked up" in whole


def test_a_scrapped_part_is_listed_until_somebody_saw_it_unusable(stopped: Screen) -> None:
    sentence(stopped, "qe-1", "scrap", kept="marked", caused_step="10")
    listed = stopped.client.get("/bench/nonconformities").text
    form = stopped.fields(listed, "/bench/witness/V-1")

    by_who_scrapped_it = stopped.client.post("/bench/witness/V-1", data={**form, "how": "cut"})
    stopped.choose("insp-1")
    silent = stopped.client.post("/bench/witness/V-1", data=form)
    stopped.client.post("/bench/witness/V-1", data={**form, "how": "cut in two"})
    after = stopped.client.get("/bench/nonconformities").text

    assert by_who_scrapped_it.status_code == 403
    assert silent.status_code == 422
    assert "No scrapped part is still whole." in after


def test_rework_needs_its_card_and_sends_the_part_there(stopped: Screen) -> None:
    assert sentence(stopped, "qe-1", "rework").status_code == 422
    assert sentence(stopped, "qe-1", "rework", card="R1").status_code == 303
    assert stopped.part("V-1").step == 10


def test_a_withdrawal_needs_its_reason_and_lifts_the_hold(stopped: Screen) -> None:
    assert sentence(stopped, "qe-1", "withdrawn").status_code == 422
    assert sentence(stopped, "qe-1", "withdrawn", reason="a shadow").status_code == 303
    assert stopped.part("V-1").hold is None


@pytest.mark.parametrize("decision", ["repair", "concession"])
def test_repair_and_concession_are_the_delegates_with_a_document(
    stopped: Screen, decision: str
) -> None:
    papers = {"document": "DA-7", "scope": "this vane", "expires": "2027-01-31"}

    by_engineer = sentence(stopped, "qe-1", decision, **papers)
    bare = sentence(stopped, "da-1", decision, scope="this vane")
    alone = sentence(stopped, "da-1", decision, **papers)
    with signing(stopped.ledger, "qe-1", "quality-engineer"):
        done = sentence(stopped, "da-1", decision, **papers)

    assert alone.status_code == 409
    assert "A second person signs" in alone.text
    assert "quality engineer, design-authority delegate." in alone.text
    assert 'name="document" value="DA-7"' in alone.text  # what was typed waits to be signed
    assert by_engineer.status_code == 403
    assert bare.status_code == 422
    assert 'value="this vane"' in bare.text
    assert done.status_code == 303


def test_an_inspector_may_not_sentence(stopped: Screen) -> None:
    answer = sentence(stopped, "insp-1", "withdrawn", reason="no")

    assert answer.status_code == 403
    assert "Nothing was booked" in answer.text


def correction(screen: Screen, kind: str, **given: str) -> Any:
    drawn = screen.client.get("/bench/entries/V-1").text
    with screen.ledger.read("NORD") as look:
        from ringwright.parts.queries import read_events

        entry = [row.site_seq for row in read_events(look, "V-1") if row.kind == kind][-1]
    fields: dict[str, str] = {}
    for piece in drawn.split("<form")[1:]:
        if f'name="entry" value="{entry}"' in piece:
            whole = f'<form action="/x"{piece.partition("</form>")[0]}</form>'
            fields = screen.fields(
                whole.replace('action="/x"', "", 1), "/bench/corrections/V-1"
            )
    assert fields["entry"] == str(entry)
    return screen.client.post("/bench/corrections/V-1", data={**fields, **given})


def test_a_reading_is_corrected_with_a_reason_and_by_a_supervisor(screen: Screen) -> None:
    screen.press("V-1", "begin")
    screen.press("V-1", "keep", **{"reading.chord": "10.1"})
    screen.choose("make-1")
    by_maker = correction(screen, "measure", **{"new.value": "10.2"}, reason="misread")
    screen.choose("sup-1")
    silent = correction(screen, "measure", **{"new.value": "10.2"})
    done = correction(screen, "measure", **{"new.value": "10.2"}, reason="misread")

    page = screen.client.get("/bench", params={"scan": "V-1"}).text

    assert (by_maker.status_code, silent.status_code) == (403, 422)
    assert 'value="10.2"' in silent.text
    assert done.status_code == 303
    assert 'value="10.20"' in page


def test_an_entry_can_be_void(screen: Screen) -> None:
    screen.press("V-1", "begin")
    screen.choose("sup-1")

    answer = correction(screen, "begin", void="1", reason="wrong part")
    listed = screen.client.get("/bench/entries/V-1").text

    assert answer.status_code == 303
    assert screen.part("V-1").place == "waiting"
    assert "(void)" in listed


def test_a_time_is_corrected_in_site_time(screen: Screen) -> None:
    screen.press("V-1", "begin")
    screen.choose("sup-1")

    answer = correction(screen, "begin", **{"new.at_us": "2026-10-01T11:30"}, reason="late")
    page = screen.client.get("/bench", params={"scan": "V-1"}).text

    assert answer.status_code == 303
    assert "begun 11:30" in page


def test_the_list_of_whole_scrap_is_cut_and_says_so(screen: Screen) -> None:
    from ringwright.assembly import SYSTEM
    from ringwright.bench.history import LoadHistory, read_csv
    from tests.make.bench import HEADER

    rows = HEADER + "".join(
        f"2026-10-01T07:{n:02}:00+02:00,S-{n:02},VANE,create,,,,,,,,,\n"
        f"2026-10-01T08:{n:02}:00+02:00,S-{n:02},VANE,begin,10,,,,,,,,\n"
        f"2026-10-01T09:{n:02}:00+02:00,S-{n:02},VANE,end,10,scrap,torn,,,,,,\n"
        for n in range(52)
    )
    screen.ledger.execute("NORD", LoadHistory(rows=read_csv(rows)), SYSTEM)

    whole = screen.client.get("/bench/nonconformities").text
    found = screen.client.get("/bench/nonconformities", params={"whole": "s-51"}).text

    assert "The first 50 of 52" in whole
    assert "S-51" not in whole
    assert "S-51" in found


def test_where_it_lies_is_pressed_from_the_outline_or_said_in_words(screen: Screen) -> None:
    screen.press("V-1", "begin")
    drawn = screen.client.get("/bench", params={"scan": "V-1"}).text
    zones = [zone.name for zone in outline_of("turbine-blade").zones]

    assert all(f'name="zone" value="{zone}"' in drawn for zone in zones)
    screen.press("V-1", "stop", defect="dent", zone=zones[0])
    assert f"dent, {zones[0]}" in screen.client.get("/bench/nonconformities").text

    screen.press("V-2", "stop", defect="dent", zone=zones[0], place_on_part="by the hole")
    assert "dent, by the hole" in screen.client.get("/bench/nonconformities").text
