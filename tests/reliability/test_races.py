"""Many people at once: everybody is answered, nothing is booked twice, one of many wins."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path

import pytest

from tests.make.floor import INSPECTORS
from tests.reliability.checker import ask
from tests.reliability.server import Server, all_at_once, calling, serving, tokens

pytestmark = [pytest.mark.reliability, pytest.mark.xdist_group("races")]

ROUNDS = 10


@pytest.fixture
def furnished(store_url: str) -> list[str]:
    """Tokens of a supervisor and of sixteen inspectors on a furnished store."""
    people = ((("inspector", f"insp-{number}")) for number in range(1, INSPECTORS + 1))
    return tokens(store_url, ("supervisor", None), *people)


@pytest.fixture
def server(store_url: str, furnished: list[str], tmp_path: Path) -> Iterator[Server]:
    """The real server on the furnished store."""
    assert furnished
    with serving(store_url, tmp_path / "server.log") as running:
        yield running


def head(url: str) -> int:
    """The number of the last entry."""
    return int(ask(url, "SELECT seq FROM ledger_head")[0][0])


def test_two_hundred_bookings_at_once_all_succeed_without_gaps(
    store_url: str, furnished: list[str], server: Server
) -> None:
    before = head(store_url)
    calls = [
        (
            furnished[0],
            {"act": "create", "serial": f"S{n}", "product": "OAR", "key": f"key {n}"},
        )
        for n in range(200)
    ]

    answers = all_at_once(server.port, calls)

    assert [answer.status for answer in answers] == [200] * 200
    given = sorted(answer.json["event"]["site_seq"] for answer in answers)
    assert given == list(range(before + 1, before + 201))
    assert {answer.json["event"]["serial"] for answer in answers} == {
        f"S{n}" for n in range(200)
    }
    assert head(store_url) == before + 200


def test_fifty_requests_with_one_key_are_one_booking_and_one_answer(
    store_url: str, furnished: list[str], server: Server
) -> None:
    before = head(store_url)
    body = {"act": "create", "serial": "S", "product": "OAR", "key": "the only key"}

    answers = all_at_once(server.port, [(furnished[0], body)] * 50)

    assert {answer.status for answer in answers} == {200}
    assert len({answer.body for answer in answers}) == 1
    booked = ask(store_url, "SELECT count(*) FROM event WHERE key = 'the only key'")
    assert (booked[0][0], head(store_url)) == (1, before + 1)


def test_a_key_sent_with_two_bodies_at_once_books_one_and_refuses_the_other(
    store_url: str, furnished: list[str], server: Server
) -> None:
    before = head(store_url)
    one = {"act": "create", "serial": "ONE", "product": "OAR", "key": "shared"}
    other = {**one, "serial": "OTHER"}

    answers = all_at_once(server.port, [(furnished[0], one), (furnished[0], other)] * 20)

    told = {answer.body for answer in answers if answer.status == 200}
    refused = [answer for answer in answers if answer.status != 200]
    assert len(told) == 1
    assert len(refused) == 20
    assert all(400 <= answer.status < 500 for answer in refused)
    assert all(set(answer.json) == {"error", "detail"} for answer in refused)
    assert all(answer.json["error"] and answer.json["detail"] for answer in refused)
    assert head(store_url) == before + 1


def test_of_sixteen_inspectors_ending_one_visit_exactly_one_wins(
    store_url: str, furnished: list[str], server: Server
) -> None:
    supervisor, *inspectors = furnished
    for number in range(ROUNDS):
        serial = f"V{number}"
        with calling(server.port, supervisor) as caller:
            for act in ({"act": "create", "product": "OAR"}, {"act": "begin", "step": 10}):
                body = {**act, "serial": serial, "key": f"{serial} {act['act']}"}
                assert caller.book(body).status == 200
        before = head(store_url)
        calls = [
            (
                token,
                {
                    "act": "end",
                    "serial": serial,
                    "step": 10,
                    "outcome": ("pass", "rework")[place % 2],
                    "key": f"{serial} end {place}",
                },
            )
            for place, token in enumerate(inspectors)
        ]

        answers = all_at_once(server.port, calls)

        losers = [answer for answer in answers if answer.status != 200]
        assert len(losers) == INSPECTORS - 1
        assert all(400 <= answer.status < 500 for answer in losers)
        assert all(answer.json["error"] and answer.json["detail"] for answer in losers)
        assert head(store_url) == before + 1
        ends = ask(
            store_url, f"SELECT key FROM event WHERE subject = '{serial}' AND kind = 'end'"
        )
        (winner,) = [answer for answer in answers if answer.status == 200]
        assert [key for (key,) in ends] == [winner.json["event"]["key"]]
