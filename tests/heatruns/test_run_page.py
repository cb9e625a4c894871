"""The page of one furnace run, as the maker, the supervisor and the reviewer use it."""

from __future__ import annotations

import base64
import re
import zlib
from collections.abc import Callable
from typing import Any

import numpy as np
import pytest
from sqlalchemy import event
from starlette.testclient import TestClient

from ringwright.heat.trace import Trace
from ringwright.heatruns.run_board import read_run_board
from ringwright.ledger.remembered import forget_everything
from ringwright.settings import Settings
from ringwright.web.factory import create_app
from tests.make.floor import MINUTE_US
from tests.make.furnaces import Hall, open_hall
from tests.make.hostile import SCRIPTS
from tests.make.html import read
from tests.make.signing import signed_in

Act = Callable[..., Any]


@pytest.fixture
def hall(sqlite_url: str) -> Hall:
    found = open_hall(sqlite_url)
    found.ready()
    return found


@pytest.fixture
def client(hall: Hall) -> TestClient:
    url = str(hall.floor.ledger.store.engine.url)
    app = create_app(Settings(database_url=url), hall.floor.ledger)
    return TestClient(app, follow_redirects=False, headers={"Origin": "http://testserver"})


class Screen:
    """One run on a screen: who is signed in presses its buttons."""

    def __init__(self, client: TestClient, hall: Hall, run: str, who: str = "maker-1") -> None:
        self.client, self.hall, self.run = client, hall, run
        self.path, self.who = f"/furnace/runs/{run}", who

    def sign(self, who: str) -> None:
        """Somebody else stands before the screen."""
        self.who = who

    def _here(self) -> None:
        """A session ends after two hours without use, and the clock goes on in these tests."""
        signed_in(self.client, self.hall.floor.ledger, self.who)

    def get(self, path: str) -> Any:
        """Another page."""
        self._here()
        return self.client.get(path)

    def post(self, what: str, **sent: Any) -> Any:
        """A form as it is, whatever the page draws."""
        self._here()
        return self.client.post(f"{self.path}/{what}", **sent)

    def html(self, **asked: str) -> str:
        self._here()
        answer = self.client.get(self.path, params=asked)
        assert answer.status_code == 200, answer.text[:400]
        return answer.text

    def text(self) -> str:
        return flat(self.html())

    def act(self, act: str, **fields: str) -> Any:
        """Press the button of a form as it is drawn now."""
        html = self.html()
        form = next(
            piece
            for piece in re.findall(r"<form.*?</form>", html, re.S)
            if f'name="act" value="{act}"' in piece
            and (act != "unload" or f'value="{fields["serial"]}"' in piece)
        )
        hidden = re.findall(r'type="hidden" name="([^"]+)" value="([^"]*)"', form)
        return self.post("acts", data={**dict(hidden), **fields})

    def look(self, content: bytes | str, name: str = "rec.csv") -> Any:
        """Hand a file in."""
        data = content.encode() if isinstance(content, str) else content
        return self.post("readings", data={"act": "look"}, files={"file": (name, data)})

    def again(self, answer: Any, act: str, **fields: str) -> Any:
        """Press a button under what the file said, with fields as drawn unless told other."""
        html = answer.text
        drawn = dict(re.findall(r'<input type="hidden" name="([^"]+)" value="([^"]*)"', html))
        drawn["packed"] = re.search(r'name="packed"[^>]*>([^<]*)<', html)[1]  # type: ignore[index]
        drawn["zone"] = re.search(r'name="zone" value="([^"]*)"', html)[1]  # type: ignore[index]
        for name, body in re.findall(r'<select[^>]*name="([^"]+)">(.*?)</select>', html, re.S):
            chosen = re.search(r'<option value="([^"]*)" selected', body)
            drawn[name] = chosen[1] if chosen else ""
        return self.post("readings", data={**drawn, "act": act, **fields})


def flat(html: str) -> str:
    return " ".join(" ".join(read(html).texts).split())


def answer_of(html: str) -> str:
    found = re.search(r'<h1 class="l-answer"[^>]*>(.*?)</h1>', html, re.S)
    assert found
    return flat(f"<p>{found[1]}</p>")


def recorder(
    hall: Hall, held_c: float = 900.0, minutes: int = 130, unit: str = "C", first: int = 0
) -> str:
    """A recorder's file of its own making: semicolons, decimal commas, its own titles."""
    trace = hall.trace(held_c, minutes)
    names = {"tc1_c": "Zone 1", "tc2_c": "Zone 2"}
    lines = ["Clock;" + ";".join(names.values())]
    for place in range(first, trace.size):
        read = [trace.temperatures_c[name][place] for name in names]
        shown = [value * 1.8 + 32 if unit == "F" else value for value in read]
        stamp = np.datetime64(round(float(trace.at_s[place])), "s")
        figures = ";".join(f"{value:.2f}".replace(".", ",") for value in shown)
        lines.append(f"{stamp}Z;{figures}")
    return "\n".join(lines) + "\n"


CHOSEN = {
    "column.at": "0", "column.tc1_c": "1", "column.tc2_c": "2", "unit.temperature": "degC"
}  # fmt: skip


def loaded(client: TestClient, hall: Hall, *serials: str) -> Screen:
    hall.waiting(*serials)
    screen = Screen(client, hall, hall.open())
    for serial in serials:
        assert screen.act("load", serial=serial).status_code == 303
    return screen


def running(client: TestClient, hall: Hall, *serials: str) -> Screen:
    screen = loaded(client, hall, *serials)
    assert screen.act("start").status_code == 303
    hall.started_s = (hall.run(screen.run).started_us or 0) / 1e6
    return screen


def test_parts_are_laid_in_by_scan_and_taken_out(client: TestClient, hall: Hall) -> None:
    hall.waiting("S-1", "S-2")
    screen = Screen(client, hall, hall.open())
    assert "Takes parts: 0 of 3 positions are filled" in screen.text()

    answer = screen.act("load", serial="]d1s-1\r", position="middle")
    assert answer.status_code == 303
    assert "S-1 lies in" in flat(screen.get(answer.headers["location"]).text)
    screen.act("load", serial="S-2")
    screen.act("unload", serial="S-1")

    assert hall.run(screen.run).load == {"S-2": "left"}
    html = screen.html()
    assert html.count("Take out") == 1
    assert "data-scan autofocus" in html
    assert html.count('id="scan"') == 1


def test_what_was_scanned_is_kept_when_it_is_refused(client: TestClient, hall: Hall) -> None:
    screen = Screen(client, hall, hall.open())

    answer = screen.act("load", serial="S-77", position="right")

    assert answer.status_code == 404
    assert "no part S-77" in answer.text
    assert 'value="S-77"' in answer.text
    assert '<option value="right" selected>' in answer.text
    assert "data-live-panel" not in answer.text


def test_an_empty_scan_is_told(client: TestClient, hall: Hall) -> None:
    screen = Screen(client, hall, hall.open())

    assert "scan the part that is laid in" in screen.act("load", serial=" ").text


def test_a_full_furnace_asks_no_more_scans(client: TestClient, hall: Hall) -> None:
    screen = loaded(client, hall, "S-1", "S-2", "S-3")

    assert "The furnace is full: 3 parts" in screen.text()
    assert "run-scan" not in screen.html()


def test_a_furnace_that_may_not_be_started_says_why(client: TestClient, hall: Hall) -> None:
    screen = loaded(client, hall, "S-1")
    hall.floor.clock.at_us += 8 * 24 * 60 * MINUTE_US

    html = screen.html()

    assert "it may not be started" in answer_of(html)
    assert "has been overdue for its leak rate since 2026-10-06" in flat(html)
    assert re.search(r"<button[^>]*disabled>Start the cycle with 1 part", html)
    assert screen.act("start").status_code == 422


def test_the_caution_stands_where_somebody_may_be_hurt(client: TestClient, hall: Hall) -> None:
    screen = running(client, hall, "S-1")

    text = screen.text()

    assert "inert gas that suffocates" in text
    assert "local codes and licensed practice decide" in text


def test_a_run_goes_from_start_to_acceptance(client: TestClient, hall: Hall) -> None:
    screen = running(client, hall, "S-1", "S-2")
    hall.floor.clock.at_us += 130 * MINUTE_US
    assert "Has run for 2 h 10 min, no readings yet" in screen.text()

    assert screen.act("finish").status_code == 303
    assert "its readings are missing" in screen.text()
    looked = screen.look(recorder(hall))
    kept = screen.again(looked, "keep", **CHOSEN)
    assert kept.status_code == 303
    assert "131 samples kept" in flat(screen.get(kept.headers["location"]).text)

    screen.sign("insp-1")
    assert "The trace met SLOW; somebody who did not run it must review it" in screen.text()
    ticks = {"gas.good": "1", "thermocouples.good": "1", "coupons.good": "1"}
    assert screen.act("accept", **ticks, gas="dew point -61").status_code == 303

    text = screen.text()
    assert "Accepted by insp-1" in text
    assert "as it should be: dew point -61" in text
    assert hall.run(screen.run).looked_at["coupons"] == "as it should be"
    assert hall.floor.part("S-1").step == 30


@pytest.mark.parametrize("lacking", ["gas", "thermocouples", "coupons"])
def test_a_review_without_a_tick_accepts_nothing(
    client: TestClient, hall: Hall, lacking: str
) -> None:
    run = hall.whole_run("S-1")
    screen = Screen(client, hall, run, "insp-1")
    ticks = {f"{name}.good": "1" for name in ("gas", "thermocouples", "coupons")}
    del ticks[f"{lacking}.good"]

    silent = screen.act("accept", **ticks)
    told = screen.act("accept", **ticks, **{lacking: "coupon is blue"})

    assert "tick it as it should be" in silent.text
    assert "stop its parts at the Bench" in flat(told.text)
    assert 'value="coupon is blue"' in told.text
    assert told.text.count(" checked>") == 2
    assert hall.run(run).state == "for review"


def test_who_ran_it_may_not_accept_it(client: TestClient, hall: Hall) -> None:
    screen = Screen(client, hall, hall.whole_run("S-1"), "maker-1")

    answer = screen.act("accept", **{"gas.good": "1"})

    assert answer.status_code == 422
    assert "Their role does not allow this" in answer.text


def test_a_run_that_did_not_meet_leads_to_what_is_held(client: TestClient, hall: Hall) -> None:
    run = hall.whole_run("S-1", "S-2", held_at_c=880.0)
    screen = Screen(client, hall, run, "qe-1")

    html = screen.html()

    told = answer_of(html)
    assert "Held: the trace did not meet SLOW" in told
    assert "2 parts wait for their sentence" in told
    links = re.findall(r'href="(/bench/nonconformities\?open=\d+)"', html)
    assert len(set(links)) == 2
    assert screen.get(links[0]).status_code == 200
    refused = screen.act("close", reason="all clear")
    assert "still waits for its sentence" in refused.text
    assert 'value="all clear"' in refused.text


def test_a_cycle_is_broken_off_with_its_reason(client: TestClient, hall: Hall) -> None:
    screen = running(client, hall, "S-1")

    without = screen.act("abort", reason="")
    assert without.status_code == 422
    assert "say why it is aborted" in without.text
    assert screen.act("abort", reason="power lost").status_code == 303

    text = screen.text()
    assert "Broken off: the cycle is not proved; 1 part waits for its sentence" in text
    assert "power lost" in text


def test_a_run_is_given_up_before_it_begins(client: TestClient, hall: Hall) -> None:
    screen = loaded(client, hall, "S-1")

    assert screen.act("abort", reason="wrong recipe").status_code == 303

    assert "Given up before it began" in screen.text()
    assert hall.floor.part("S-1").hold is None


def test_a_cycle_that_ended_earlier_is_told_so(client: TestClient, hall: Hall) -> None:
    screen = running(client, hall, "S-1")
    hall.floor.clock.at_us += 130 * MINUTE_US
    started_us = hall.run(screen.run).started_us or 0

    bad = screen.act("finish", ended="half past")
    assert "is not an ISO 8601 date and time" in bad.text
    # The run began at 06:12 site time on 28 September: its tenth minute after two hours.
    ended_us = started_us + 120 * MINUTE_US
    wall = np.datetime64(ended_us // 1_000_000 + 7200, "s").astype(str)[:16]
    assert screen.act("finish", ended=wall).status_code == 303

    assert abs((hall.run(screen.run).ended_us or 0) - ended_us) < MINUTE_US


def test_somebody_who_acted_first_is_told(client: TestClient, hall: Hall) -> None:
    screen = loaded(client, hall, "S-1")
    form = {"act": "start", "key": "k-old", "seen": str(hall.run(screen.run).last_seq)}
    hall.waiting("S-2")
    hall.load(screen.run, "S-2")

    answer = screen.post("acts", data=form)

    assert answer.status_code == 409
    assert "somebody acted on" in answer.text


@pytest.mark.parametrize("act", ["", "explode", "accept\x00"])
def test_an_act_that_is_not_known_does_nothing(
    client: TestClient, hall: Hall, act: str
) -> None:
    screen = Screen(client, hall, hall.open())

    answer = screen.post("acts", data={"act": act, "key": "k1"})

    assert answer.status_code == 422


def test_a_run_that_is_not_there_is_missing(client: TestClient, hall: Hall) -> None:
    signed_in(client, hall.floor.ledger, "maker-1")

    for path in ("/furnace/runs/HF-9-0001", "/furnace/runs/%00", "/furnace/runs/a%2Fb"):
        assert client.get(path).status_code in (404, 422), path
    assert client.get("/furnace/runs/HF-9-0001/file.csv").status_code in (403, 404)


def test_the_panel_asks_for_itself_and_stands_still_between(
    client: TestClient, hall: Hall
) -> None:
    screen = loaded(client, hall, "S-1")
    html = screen.html()
    panel = next(a for _, a in read(html).elements if "data-live-panel" in a)
    asks = {"HX-Request": "true"}

    piece = client.get(panel["hx-get"], headers=asks)
    assert piece.text.strip() in html
    same = client.get(panel["hx-get"], headers={**asks, "HX-PTag": piece.headers["HX-PTag"]})
    assert same.status_code == 304
    hall.floor.clock.at_us += MINUTE_US
    later = client.get(panel["hx-get"], headers={**asks, "HX-PTag": piece.headers["HX-PTag"]})
    assert later.status_code == 200


def test_a_file_of_unknown_columns_is_asked_about_first(client: TestClient, hall: Hall) -> None:
    screen = running(client, hall, "S-1")
    hall.floor.clock.at_us += 60 * MINUTE_US

    looked = screen.look(recorder(hall, minutes=50))

    assert looked.status_code == 200
    assert "Choose its columns and units" in answer_of(looked.text)
    assert "parted by semicolons, decimals with a comma, 51 rows" in flat(looked.text)
    early = screen.again(looked, "keep")
    assert early.status_code == 422
    assert "choose the column of the time" in early.text
    shown = screen.again(looked, "look", **CHOSEN)
    assert f"51 samples can be kept with {screen.run}" in answer_of(shown.text)
    assert hall.run(screen.run).batches == []
    assert screen.again(shown, "keep").status_code == 303
    assert hall.run(screen.run).batches[0].samples == 51


def test_the_columns_are_remembered_and_pieces_put_together(
    client: TestClient, hall: Hall
) -> None:
    screen = running(client, hall, "S-1")
    hall.floor.clock.at_us += 130 * MINUTE_US
    first = screen.look(recorder(hall, minutes=50))
    assert screen.again(first, "keep", **CHOSEN).status_code == 303

    second = screen.look(recorder(hall))

    assert "The columns are as last time." in flat(second.text)
    assert "51 of its times were kept before." in flat(second.text)
    assert screen.again(second, "keep").status_code == 303
    assert "in heat" not in screen.text()
    assert ", in form" in answer_of(screen.html())
    drawn = re.findall(r'<path class="c-trace__line[^"]*" d="(M[^"]*)"', screen.html())
    assert len(drawn) >= 2


def test_degrees_fahrenheit_are_shown_as_what_they_become(
    client: TestClient, hall: Hall
) -> None:
    screen = running(client, hall, "S-1")
    hall.floor.clock.at_us += 130 * MINUTE_US
    looked = screen.look(recorder(hall, unit="F"))

    slip = screen.again(looked, "look", **CHOSEN)
    assert "The figures look like a slip of units" in answer_of(slip.text)
    assert "look like degF, not degC" in flat(slip.text)
    refused = screen.again(slip, "keep")
    assert refused.status_code == 422
    assert "Choose the unit, or say that the figures are right" in refused.text
    right = screen.again(slip, "look", **{"unit.temperature": "degF"})

    assert "68.0 °F = 20.0 °C" in flat(right.text)
    assert screen.again(right, "keep").status_code == 303
    judged = screen.act("finish")
    assert judged.status_code == 303
    assert hall.run(screen.run).state == "for review"


def test_figures_may_be_right_as_they_are(client: TestClient, hall: Hall) -> None:
    screen = running(client, hall, "S-1")
    hall.floor.clock.at_us += 130 * MINUTE_US
    slip = screen.again(screen.look(recorder(hall, unit="F")), "look", **CHOSEN)

    assert screen.again(slip, "keep", sure="1").status_code == 303


@pytest.mark.parametrize(
    ("content", "name", "why"),
    [
        (b"\x89PNG\r\n\x1a\n000", "rec.csv", "is a picture"),
        (b"at,tc1_c\n1,2\n", "rec.xlsx", "is named as no CSV file"),
        (b"at;tc1\xff\n1;2\n", "rec.csv", "is not UTF-8"),
        (b"", "rec.csv", "choose the recorder"),
        (b"dear all\n\nsee you\n", "rec.txt", "one column only"),
        (b"a,b\n" + b"1,2\n" * 1_400_000, "rec.csv", "larger than 5 MB"),
    ],
)
def test_a_wrong_file_is_refused_in_words(
    client: TestClient, hall: Hall, content: bytes, name: str, why: str
) -> None:
    screen = running(client, hall, "S-1")

    answer = screen.look(content, name)

    assert answer.status_code in (413, 422)
    assert why in flat(answer.text)


def test_readings_of_another_day_are_told_before_they_are_kept(
    client: TestClient, hall: Hall
) -> None:
    screen = running(client, hall, "S-1")
    hall.started_s -= 3 * 86_400

    looked = screen.again(screen.look(recorder(hall)), "look", **CHOSEN)
    refused = screen.again(looked, "keep")

    assert "These readings lie wholly outside the run" in answer_of(looked.text)
    assert refused.status_code == 422
    assert "wholly outside" in flat(refused.text)
    assert hall.run(screen.run).batches == []


def test_bad_rows_are_named_and_the_rest_is_kept_when_told_so(
    client: TestClient, hall: Hall
) -> None:
    screen = running(client, hall, "S-1")
    hall.floor.clock.at_us += 60 * MINUTE_US
    lines = recorder(hall, minutes=50).splitlines()
    lines[7] = lines[7].rpartition(";")[0] + ";OPEN"
    lines[9] = "soon;1,0;2,0"
    looked = screen.again(screen.look("\n".join(lines)), "look", **CHOSEN)

    assert "2 cells or rows cannot be read" in answer_of(looked.text)
    assert "8 Zone 2: 'OPEN' is no figure" in flat(looked.text)
    refused = screen.again(looked, "keep")
    assert "(the first on line 8" in flat(refused.text)
    assert screen.again(looked, "keep", rest="1").status_code == 303
    assert hall.run(screen.run).batches[0].samples == 50


def test_a_file_that_says_another_thing_is_doubted(client: TestClient, hall: Hall) -> None:
    screen = running(client, hall, "S-1")
    hall.floor.clock.at_us += 130 * MINUTE_US
    screen.again(screen.look(recorder(hall)), "keep", **CHOSEN)

    looked = screen.look(recorder(hall, held_c=905.0))
    refused = screen.again(looked, "keep")

    assert "It says another thing than was read before" in answer_of(looked.text)
    assert refused.status_code == 422
    assert screen.again(looked, "keep", clash="1").status_code == 303


def test_the_same_file_again_is_refused(client: TestClient, hall: Hall) -> None:
    screen = running(client, hall, "S-1")
    hall.floor.clock.at_us += 130 * MINUTE_US
    screen.again(screen.look(recorder(hall)), "keep", **CHOSEN)

    again = screen.again(screen.look(recorder(hall)), "keep")

    assert "in the record already" in flat(again.text)


@pytest.mark.parametrize("packed", ["", "no base64!", "AAAA", "eJwDAAAAAAI="])
def test_a_file_that_was_lost_on_the_way_is_asked_for_again(
    client: TestClient, hall: Hall, packed: str
) -> None:
    screen = running(client, hall, "S-1")
    form = {"act": "keep", "key": "k", "packed": packed, "name": "rec.csv"}

    answer = screen.post("readings", data=form)

    assert answer.status_code == 422
    assert "choose" in flat(answer.text)


def test_a_bomb_is_not_unpacked(client: TestClient, hall: Hall) -> None:
    screen = running(client, hall, "S-1")
    packed = base64.b64encode(zlib.compress(b"1" * 200_000_000, 9)).decode()

    answer = screen.post("readings", data={"act": "look", "packed": packed, "name": "rec.csv"})

    assert answer.status_code == 422
    assert "lost on the way" in answer.text


def test_a_run_that_is_over_takes_no_file(client: TestClient, hall: Hall) -> None:
    run = hall.whole_run("S-1")
    hall.accept(run)
    screen = Screen(client, hall, run)

    assert "run-bring" not in screen.html()
    looked = screen.look(recorder(hall, held_c=901.0))
    assert "is accepted; it cannot be given readings" in flat(
        screen.again(looked, "keep", **CHOSEN, clash="1").text
    )


def test_the_file_says_what_the_screen_says(client: TestClient, hall: Hall) -> None:
    run = hall.whole_run("S-1", held_at_c=880.0)
    screen = Screen(client, hall, run, "qe-1")

    book = screen.get(f"{screen.path}/file.csv?sheet=segments").text
    load = screen.get(f"{screen.path}/file.csv?sheet=load").text

    assert "form,soak,900 ± 8" in book
    assert "not met" in book
    assert "left,S-1,20" in load
    assert screen.get(f"{screen.path}/file.xlsx").status_code == 200
    why = re.search(r'data-sheet="segments">.*?<td>([^<]+)</td></tr>', screen.html(), re.S)
    assert why
    assert screen.get(f"{screen.path}/file.pdf").status_code == 404


def test_times_in_the_judgement_are_the_site_s(client: TestClient, hall: Hall) -> None:
    hall.waiting("S-1")
    run = hall.open()
    hall.load(run, "S-1")
    hall.start(run)
    hall.floor.clock.at_us += 130 * MINUTE_US
    hall.finish(run)
    trace = hall.trace()
    hot = {name: values.copy() for name, values in trace.temperatures_c.items()}
    hot["tc2_c"][90] = 930.0
    hall.keep(run, Trace(at_s=trace.at_s, temperatures_c=hot))
    screen = Screen(client, hall, run)
    wall = np.datetime64(round(float(trace.at_s[90])) + 7200, "s").astype(str)[11:19]

    text = screen.text()

    assert f"tc2_c read 930 °C at {wall}, above 908 °C" in text
    assert "+00:00" not in text


def test_the_rules_stand_on_the_page(client: TestClient, hall: Hall) -> None:
    text = Screen(client, hall, hall.open()).text()

    assert "The edges of a band are inside." in text
    assert "one of more than 5 min fails the soak" in text
    assert "at least 2 must work" in text
    assert "a person signs" in text


@pytest.mark.parametrize("hostile", SCRIPTS[:12])
def test_hostile_texts_are_shown_as_texts(client: TestClient, hall: Hall, hostile: str) -> None:
    screen = running(client, hall, "S-1")
    hall.floor.clock.at_us += 5 * MINUTE_US
    titles = hostile.replace(";", "").replace('"', "'")
    file = f"at;{titles};tc2_c\n1;2;3\n2;3;{titles}\n"

    looked = screen.look(file, f"{titles[:40]}.csv".replace("/", ""))
    shown = screen.again(looked, "look", **CHOSEN)
    refused = screen.act("abort", reason=hostile)
    broken = screen.html()

    for html in (looked.text, shown.text, broken, refused.text):
        tags = {tag for tag, _ in read(html).elements}
        assert not tags & {"img", "iframe", "animate", "math", "object"}, html[:200]
        names = {name for _, held in read(html).elements for name in held}
        assert not any(name.startswith("on") for name in names)
    assert hostile.split()[0] in flat(broken)


def test_many_batches_ask_the_store_no_more_than_one(client: TestClient, hall: Hall) -> None:
    """A recorder that sends each minute must not make the page slower by the hour."""
    screen = running(client, hall, "S-1")
    whole = hall.trace()
    asked: list[int] = []
    engine = hall.floor.ledger.store.engine
    for batches in (1, 12):
        for number in range(len(hall.run(screen.run).batches), batches):
            hall.floor.clock.at_us += MINUTE_US
            place = slice(number * 5, number * 5 + 5)
            hall.keep(screen.run, _cut(whole, place))
        statements: list[str] = []

        def note(_c: Any, _cursor: Any, statement: str, *_rest: Any) -> None:
            statements.append(statement)  # noqa: B023

        forget_everything()
        event.listen(engine, "before_cursor_execute", note)
        with hall.floor.ledger.read() as found:
            read_run_board(found, screen.run)
        event.remove(engine, "before_cursor_execute", note)
        asked.append(sum(not one.startswith(("PRAGMA", "BEGIN")) for one in statements))

    assert asked[0] == asked[1]
    assert asked[0] > 0


def _cut(trace: Trace, place: slice) -> Trace:
    return Trace(
        at_s=trace.at_s[place],
        temperatures_c={name: read[place] for name, read in trace.temperatures_c.items()},
    )
