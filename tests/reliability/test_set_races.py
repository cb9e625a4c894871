"""Sixteen planners want the same blades at once: one has them all, the others have none."""

from __future__ import annotations

from collections import Counter
from functools import partial
from pathlib import Path
from threading import Barrier

import pytest

from ringwright.people.service import make_token
from tests.make.sets import PRODUCT, finished, open_hall
from tests.reliability.checker import ask
from tests.reliability.server import Answer, calling, in_threads, serving

pytestmark = [pytest.mark.reliability, pytest.mark.xdist_group("races")]

PLANNERS = 16
ROUNDS = 20
SHARED = 3
"""Blades that every planner wants; the rest of each one's set are its own."""


def wanted(planner: int) -> list[str]:
    """Eight blades: five of the planner's own and three that all want, in another order."""
    own = [f"RB-{SHARED + 1 + planner * 5 + n}" for n in range(5)]
    shared = [f"RB-{1 + (n + planner) % SHARED}" for n in range(SHARED)]
    return [*own, *shared]


def test_of_sixteen_planners_one_gets_the_set_and_nobody_a_part_of_one(
    store_url: str, tmp_path: Path
) -> None:
    hall = open_hall(store_url, finished(SHARED + 5 * PLANNERS))
    token = make_token(hall.ledger.store, 1, "planner", None, hall.clock.now_us())
    hall.ledger.store.close()
    with serving(store_url, tmp_path / "server.log") as server:
        for number in range(ROUNDS):
            answers = race(server.port, token, number)

            assert Counter(answer.status for answer in answers) == {201: 1, 409: PLANNERS - 1}
            (won,) = [answer.json for answer in answers if answer.status == 201]
            kept = ask(store_url, "SELECT serial, set_code FROM reservation ORDER BY slot")
            assert kept == [(serial, won["set"]) for serial in won["slots"]]
            with calling(server.port, token) as caller:
                body = {"key": f"back {number}", "reason": "the next round"}
                back = caller.ask("POST", f"/api/sets/{won['set']}/give-back", body)
            assert back.status == 200
            assert ask(store_url, "SELECT count(*) FROM reservation") == [(0,)]


def race(port: int, token: str, number: int) -> list[Answer]:
    """All planners reserve at the same moment; their answers."""
    gate = Barrier(PLANNERS)
    answers: dict[int, Answer] = {}

    def plan(planner: int) -> None:
        with calling(port, token) as caller:
            caller.wire.connect()
            body = {"product": PRODUCT, "slots": wanted(planner)}
            gate.wait(60)
            key = f"round {number} planner {planner}"
            answers[planner] = caller.ask("POST", "/api/sets", {**body, "key": key})

    in_threads([partial(plan, planner) for planner in range(PLANNERS)])
    return list(answers.values())
