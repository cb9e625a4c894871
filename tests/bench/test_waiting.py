"""What waited in a browser: booked once, as of when it was pressed, by whoever pressed it."""

from __future__ import annotations

from typing import Any

import pytest

from ringwright.bench.acts import Stop
from ringwright.core.clock import FixedClock
from ringwright.parts.queries import read_events
from tests.make.bench import Screen
from tests.make.floor import INSPECTOR
from tests.make.people import PIN, House

MINUTE_MS = 60_000


def clock_of(screen: Screen) -> FixedClock:
    clock = screen.ledger.clock
    assert isinstance(clock, FixedClock)
    return clock


def now_ms(screen: Screen) -> int:
    return clock_of(screen).at_us // 1000


def begun(screen: Screen) -> int:
    """V-1 in work, and the entry its screen was drawn from; then an hour goes by."""
    assert screen.press("V-1", "begin").status_code == 303
    clock_of(screen).at_us += 60 * MINUTE_MS * 1000
    return seen(screen)


def seen(screen: Screen) -> int:
    return int(rows(screen)[-1].site_seq)


def rows(screen: Screen) -> list[Any]:
    with screen.ledger.read("NORD") as read:
        return list(read_events(read, "V-1"))


def send(screen: Screen, act: str = "keep", serial: str = "V-1", **given: Any) -> Any:
    form = {"act": act, "key": f"k-{act}", "who": "insp-1", "at_ms": str(now_ms(screen))}
    if act in ("keep", "pass"):
        form |= {"reading.chord": "10.1", "reading.twist": "1.5"}
    form |= {name.replace("__", "."): str(value) for name, value in given.items()}
    return screen.client.post(f"/bench/sent/{serial}", data=form)


def test_readings_are_booked_as_of_when_they_were_taken(screen: Screen) -> None:
    begun(screen)
    taken = now_ms(screen) - 20 * MINUTE_MS

    answer = send(screen, at_ms=taken)

    assert answer.status_code == 200
    assert answer.json() == {"entry": seen(screen), "fresh": False}
    measured = [row for row in rows(screen) if row.kind == "measure"]
    assert [row.at_us for row in measured] == [taken * 1000] * 2
    assert [row.recorded_at_us for row in measured] == [now_ms(screen) * 1000] * 2


def test_sent_again_it_is_told_the_same_and_books_nothing(screen: Screen) -> None:
    drawn = begun(screen)
    first = send(screen, seen=drawn)
    clock_of(screen).at_us += 1_000_000

    assert send(screen, seen=drawn, at_ms=now_ms(screen) - 1000).json() == first.json()
    assert first.json()["fresh"] is True
    assert screen.kinds("V-1").count("measure") == 2


def test_what_had_arrived_before_the_line_broke_is_not_booked_again(screen: Screen) -> None:
    drawn = begun(screen)
    sent = {
        "reading.chord": "10.1",
        "reading.twist": "1.5",
        "seen": str(drawn),
        "key": "k-keep",
    }
    assert (
        screen.client.post("/bench/acts/V-1", data={"act": "keep", **sent}).status_code == 303
    )

    answer = send(screen, seen=drawn)

    assert answer.status_code == 200
    assert screen.kinds("V-1").count("measure") == 2


def test_a_key_used_for_something_else_is_refused_still(screen: Screen) -> None:
    begun(screen)
    send(screen)

    answer = send(screen, reading__chord="10.2")

    assert answer.status_code == 409
    assert answer.json()["code"] == "key-reused"


def test_a_proposed_pass_is_judged_by_what_others_did_meanwhile(screen: Screen) -> None:
    drawn = begun(screen)
    screen.ledger.execute("NORD", Stop(serial="V-1", key="s", defect="crack"), INSPECTOR)

    answer = send(screen, "pass", seen=drawn)

    assert answer.status_code == 409
    assert "somebody acted on V-1 first" in answer.json()["why"]
    assert "end" not in screen.kinds("V-1")[3:]


def test_readings_are_kept_for_a_visit_that_ended_meanwhile(screen: Screen) -> None:
    drawn = begun(screen)
    taken = now_ms(screen) - 10 * MINUTE_MS
    assert send(screen, "pass", seen=drawn).status_code == 200

    answer = send(screen, key="late", at_ms=taken, reading__chord="10.0")

    assert answer.status_code == 200, answer.json()
    assert screen.kinds("V-1").count("measure") == 4


def test_readings_taken_while_the_part_was_in_no_work_are_refused_with_the_reason(
    screen: Screen,
) -> None:
    begun(screen)
    before = now_ms(screen) - 90 * MINUTE_MS

    answer = send(screen, at_ms=before)

    assert answer.status_code == 422
    assert "no open visit" in answer.json()["why"]


def test_nobody_sends_what_another_pressed(screen: Screen) -> None:
    begun(screen)

    answer = send(screen, who="make-1")

    assert answer.status_code == 409
    assert answer.json()["code"] == "not-yours"
    assert "goes out when they sign in" in answer.json()["why"]
    assert "measure" not in screen.kinds("V-1")


@pytest.mark.parametrize("act", ["send", "remark", "take-back", "attach", "unhold", "witness"])
def test_what_asks_the_server_cannot_wait(screen: Screen, act: str) -> None:
    begun(screen)

    assert send(screen, act).status_code == 422


def test_a_moment_ahead_of_the_server_s_clock_is_refused(screen: Screen) -> None:
    begun(screen)

    answer = send(screen, at_ms=now_ms(screen) + 10 * MINUTE_MS)

    assert answer.status_code == 422
    assert "ahead of the server's clock" in answer.json()["why"]


def test_at_a_shared_bench_each_waiting_act_is_signed_when_it_is_sent(sqlite_url: str) -> None:
    house = House(sqlite_url)
    house.give("insp-1")
    bench = house.device("bench")
    note = {"act": "note", "key": "n", "who": "", "note_text": "scratch"}
    note["at_ms"] = str(house.clock.at_us // 1000)
    signed = {"by.code": "insp-1", "by.secret": PIN}

    unsigned = bench.post("/bench/sent/V-1", data=note)
    wrong = bench.post("/bench/sent/V-1", data={**note, **signed, "by.secret": "000000"})
    right = bench.post("/bench/sent/V-1", data={**note, **signed})

    assert (unsigned.status_code, wrong.status_code) == (401, 401)
    assert right.json()["entry"] > 0
    house.ledger.store.close()


def test_the_worker_may_look_after_the_bench_alone(screen: Screen) -> None:
    answer = screen.client.get("/bench/worker.js")

    assert answer.headers["service-worker-allowed"] == "/bench"
    assert answer.headers["content-type"].startswith("text/javascript")
    assert answer.headers["cache-control"] == "no-cache"


def test_signing_out_takes_all_from_the_browser_but_what_is_not_sent(screen: Screen) -> None:
    kept = screen.client.post("/sign-out", data={"waiting": "kept"})

    assert kept.headers["clear-site-data"] == '"cache"'
    screen.choose("insp-1")
    assert screen.client.post("/sign-out").headers["clear-site-data"] == '"cache", "storage"'
