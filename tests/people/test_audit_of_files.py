"""A file that is taken and a role that is changed leave a line: ASVS 5.0.0, 16.3."""

from __future__ import annotations

from starlette.testclient import TestClient

from ringwright.ledger.service import Ledger
from ringwright.people.audit_book import read_audit
from ringwright.settings import Settings
from ringwright.web.factory import create_app
from tests.make.bench import open_bench
from tests.make.signing import signed_in


def lines(ledger: Ledger, kind: str) -> list[tuple[str, str]]:
    with ledger.read("NORD") as read:
        return [(row.actor, row.subject) for row in read_audit(read, kind, "")[0]]


def test_a_file_that_is_taken_and_one_that_is_denied_are_kept(sqlite_url: str) -> None:
    ledger = open_bench(sqlite_url)
    app = create_app(Settings(database_url=sqlite_url), ledger)
    client = TestClient(app, follow_redirects=False)

    taken = signed_in(client, ledger, "sup-1").get("/week/file.csv").status_code
    denied = signed_in(client, ledger, "make-1").get("/week/file.csv").status_code

    assert (taken, denied) == (200, 403)
    assert lines(ledger, "export") == [("sup-1", "GET /week/file.csv")]
    assert lines(ledger, "denied") == [("make-1", "GET /week/file.csv")]
    ledger.store.close()


def test_a_change_of_roles_is_kept(sqlite_url: str) -> None:
    ledger = open_bench(sqlite_url)
    app = create_app(Settings(database_url=sqlite_url), ledger)
    here = {"Sec-Fetch-Site": "same-origin"}
    client = signed_in(TestClient(app, headers=here), ledger, "adm-1")
    form = {"kind": "person", "code": "make-2", "roles": "maker", "key": "p-1"}

    done = [client.post("/ground/rules", data=form).status_code for _ in range(2)]

    assert done == [200, 200]
    assert lines(ledger, "roles")[0] == ("adm-1", "make-2")
    ledger.store.close()
