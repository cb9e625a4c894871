"""Two answers at once, on both stores."""

from __future__ import annotations

import json
import threading

from sqlalchemy import insert

from ringwright.core.errors import Refused
from ringwright.ledger.service import Ledger
from ringwright.people import sign_on
from ringwright.people.marks import hash_of
from ringwright.people.tables import OneTimeCode
from tests.make import shop

AT_ONCE = 8


def test_of_answers_that_come_at_once_one_is_taken(store_url: str) -> None:
    # RFC 6749, 10.5: a code is good once; so is what was begun for it.
    record = shop.open_shop(store_url, history="")
    _begun(record)
    taken: list[str] = []
    together = threading.Barrier(AT_ONCE)

    def take() -> None:
        together.wait(10)
        try:
            taken.append(sign_on.take(record, "state", "browser").nonce)
        except Refused:
            taken.append("")

    threads = [threading.Thread(target=take) for _ in range(AT_ONCE)]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join(30)
    record.store.close()

    assert sorted(taken) == [""] * (AT_ONCE - 1) + ["n"]


def _begun(record: Ledger) -> None:
    row = {
        "hash": hash_of("state browser"),
        "site_id": 0,
        "purpose": sign_on.PURPOSE,
        "code": "",
        "label": json.dumps({"nonce": "n", "verifier": "v", "then": ""}),
        "made_by": "",
        "ends_us": record.clock.now_us() + 1,
    }
    with record.store.write(0) as connection:
        connection.execute(insert(OneTimeCode).values(row))
