"""Sending, marking anew, joining and parting at the Bench, without scripts."""

from __future__ import annotations

from tests.make.bench import Screen


def release(screen: Screen, serial: str) -> None:
    readings = {"reading.chord": "10.0", "reading.twist": "1.5"}
    for act, given in (("begin", {}), ("pass", readings), ("begin", {}), ("pass", {})):
        answer = screen.press(serial, act, **given)
        assert answer.status_code < 400, (act, answer.text)


def test_a_released_part_is_sent_by_whoever_may(screen: Screen) -> None:
    release(screen, "V-1")

    refused = screen.press("V-1", "send", send_reason="Hall 2")
    assert refused.status_code == 403
    assert "Not sent" in refused.text
    screen.choose("sup-1")
    screen.press("V-1", "send", send_reason="Hall 2, note 88")

    assert screen.part("V-1").place == "sent"
    assert "Hall 2, note 88" in screen.client.get("/bench/entries/V-1").text


def test_a_part_that_is_not_released_is_not_offered_for_sending(screen: Screen) -> None:
    assert 'value="send"' not in screen.client.get("/bench", params={"scan": "V-1"}).text


def test_a_new_mark_is_taken_only_when_it_was_scanned_alike(screen: Screen) -> None:
    refused = screen.press("V-1", "remark", mark="N-77", scanned="N-71")
    assert refused.status_code == 422
    assert 'value="N-77"' in refused.text

    screen.press("V-1", "remark", mark="N-77", scanned="N-77\r")

    assert screen.part("N-77").serial == "V-1"


def test_a_part_made_from_others_uses_them_up(screen: Screen) -> None:
    screen.press("V-1", "join", others="V-2\r\n V-3 \r\n")

    assert [screen.part(serial).place for serial in ("V-1", "V-2", "V-3")] == [
        "waiting",
        "fitted",
        "fitted",
    ]


def test_a_part_parted_into_others_is_used_up_itself(screen: Screen) -> None:
    screen.press("V-1", "split", others="V-2\nV-3")

    assert screen.part("V-1").place == "fitted"
    assert screen.kinds("V-3")[-1] == "split"


def test_an_unknown_serial_among_the_others_is_named_and_what_was_typed_stays(
    screen: Screen,
) -> None:
    refused = screen.press("V-1", "join", others="V-2\nV-99")

    assert refused.status_code == 404
    assert "there is no part V-99" in refused.text
    assert "V-2\nV-99" in refused.text.replace("\r", "")
    assert screen.part("V-2").place == "waiting"
