"""A browser without scripts on the pages of one set, for tests of those pages."""

from __future__ import annotations

import re
from typing import Any

from starlette.testclient import TestClient

from ringwright.sets.building import HandOver
from ringwright.sets.service import Reserve
from ringwright.settings import Settings
from ringwright.web.factory import create_app
from tests.make.html import read
from tests.make.sets import PRODUCT, SLOTS, RingHall
from tests.make.signing import AS, open_to_readers

FIRST = tuple(f"RB-{n}" for n in range(1, SLOTS + 1))
"""The blades of the set, slot 1 first."""
HERE = {"sec-fetch-site": "same-origin"}


class SetScreen:
    """One set of the hall, and who acts on it."""

    def __init__(self, url: str, hall: RingHall, who: str = "planner-1") -> None:
        app = open_to_readers(create_app(Settings(database_url=url), hall.ledger))
        self.client = TestClient(app, follow_redirects=False)
        self.hall, self.who = hall, who
        command = Reserve(key=hall.key(), product=PRODUCT, slots=FIRST)
        self.code = str(hall.act("planner", command)["set"])

    @property
    def headers(self) -> dict[str, str]:
        """From this site, by the person chosen."""
        return {AS: self.who, **HERE} if self.who else HERE

    def hand_over(self) -> None:
        """Give the set to build, as its planner would."""
        self.hall.act("planner", HandOver(key=self.hall.key(), set=self.code, to="bay 2"))

    def see(self, sub: str = "", **query: Any) -> Any:
        """A page of the set."""
        return self.client.get(f"/sets/{self.code}{sub}", params=query, headers=self.headers)

    def send(self, sub: str, **fields: Any) -> Any:
        """Send a form of the set."""
        address = f"/sets/{self.code}{sub}"
        return self.client.post(address, data=fields, headers=self.headers)

    def scan(self, scanned: str, slot: int | None = None, key: str = "") -> Any:
        """Scan at the fit page, as it is drawn, and go where it leads."""
        drawn = self.see("/fit", **({} if slot is None else {"slot": slot})).text
        form = hidden(drawn, f"/sets/{self.code}/fit")
        form |= {"key": key} if key else {}
        return self.send("/fit", **{**form, "scan": scanned})

    def follow(self, answer: Any) -> str:
        """The text of the page that an act leads to."""
        assert answer.status_code == 303, answer.text
        return seen_in(self.client.get(answer.headers["location"], headers=self.headers).text)

    def fitted(self) -> dict[int, str]:
        """What stands in the disc."""
        return self.hall.set(self.code).fitted


def hidden(html: str, action: str) -> dict[str, str]:
    """The hidden fields of the form that posts to an address, whatever its query."""
    form = re.search(rf'<form[^>]*action="{re.escape(action)}[?"].*?</form>', html, re.S)
    assert form is not None, action
    inputs = read(form[0]).tags("input")
    return {one["name"]: one["value"] for one in inputs if one.get("type") == "hidden"}


def seen_in(html: str) -> str:
    """What a person reads on a page, on one line."""
    return re.sub(r"\s+", " ", " ".join(read(html).texts))


def posts_of(html: str) -> list[str]:
    """Where the forms of a page post to."""
    forms = [form for form in read(html).tags("form") if form.get("method") == "post"]
    return [form["action"] for form in forms]
