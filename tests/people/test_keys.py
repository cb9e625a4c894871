"""API keys: whom they stand for, what they are narrowed to, when they end.

Sources: OWASP ASVS 5.0.0, 8.2.1, 8.3.1, 9.1.1 (a key is checked at each use), 10.3.2 (scopes
are obeyed), 14.2.1 (never in an address); RFC 6750 (bearer tokens: header, 401 with
WWW-Authenticate).
"""

from __future__ import annotations

from typing import Any

import pytest

from ringwright.core.errors import Missing, Refused
from ringwright.core.instants import HOUR_US
from ringwright.people import accounts, keys
from ringwright.people.service import make_token
from tests.make.people import PEOPLE, House

DAY_US = 24 * HOUR_US


def reads(house: House, headers: dict[str, str]) -> int:
    """How the API answers who asks for a part."""
    status: int = house.browser().get("/api/parts/V-1", headers=headers).status_code
    return status


def books(house: House, headers: dict[str, str], act: str = "begin", **rest: Any) -> Any:
    body = {"key": f"k-{act}", "act": act, "serial": "V-1", "step": 20, **rest}
    return house.browser().post("/api/bookings", json=body, headers=headers)


def end(house: House) -> None:
    for row in keys.keys(house.ledger, house.site_id):
        keys.end_key(house.desk, row.hash[:16])


def test_a_key_of_a_role_acts_as_that_role(house: House) -> None:
    assert books(house, house.key("inspector")).status_code == 200
    assert house.events("V-1")[-1].actor == "inspector"


def test_a_key_of_a_person_acts_as_that_person(house: House) -> None:
    assert books(house, house.key("inspector", "insp-1")).status_code == 200
    assert house.events("V-1")[-1].actor == "insp-1"


@pytest.mark.parametrize(
    "header", [{}, {"Authorization": "Bearer x"}, {"Authorization": "Basic eDp5"}]
)
def test_without_a_key_nothing_is_answered(house: House, header: dict[str, str]) -> None:
    answer = house.browser().get("/api/parts/V-1", headers=header)

    assert answer.status_code == 401
    assert answer.headers["www-authenticate"] == "Bearer"
    assert books(house, header).status_code == 401


def test_a_key_in_an_address_or_a_cookie_opens_nothing(house: House) -> None:
    key = house.key("inspector")["Authorization"].split()[1]
    browser = house.signed_in("adm-1")
    browser.cookies.set("Authorization", f"Bearer {key}")

    for name in ("token", "access_token", "api_key", "key", "Authorization"):
        assert browser.get("/api/parts/V-1", params={name: key}).status_code == 401


def test_a_key_that_was_ended_opens_nothing(house: House) -> None:
    key = house.key("inspector")
    assert reads(house, key) == 200

    end(house)

    assert reads(house, key) == 401
    assert [one.why for one in house.audit("token")] == ["made for inspector", "ended"]


def test_a_key_ends_by_itself_on_its_last_day(house: House) -> None:
    key = house.key("inspector", days=30)

    house.clock.at_us += 30 * DAY_US - 1
    assert reads(house, key) == 200
    house.clock.at_us += 1
    assert reads(house, key) == 401
    assert keys.keys(house.ledger, house.site_id) == []


def test_a_key_narrowed_to_looking_books_nothing(house: House) -> None:
    key = house.key("supervisor", scopes=("read",))
    before = house.ledger.head("NORD")

    answer = books(house, key)

    assert reads(house, key) == 200
    assert answer.status_code == 403
    assert "narrowed to read" in answer.json()["detail"]
    assert house.ledger.head("NORD") == before


def test_a_key_narrowed_to_one_act_does_that_and_no_other(house: House) -> None:
    key = house.key("supervisor", "sup-1", scopes=("visit",))

    assert reads(house, key) == 403
    assert books(house, key).status_code == 200
    # The door is open to whoever books anything; the command asks for the very act.
    assert books(house, key, "hold", reason="look at it").status_code == 403
    assert house.kinds("V-1")[-1] == "begin"


def test_a_narrowed_key_skips_no_step_that_its_role_could(house: House) -> None:
    whole = house.key("supervisor", "sup-1")
    narrow = house.key("supervisor", "sup-1", scopes=("visit",))
    skip: dict[str, Any] = {"serial": "V-2", "step": 30, "reason": "measured elsewhere"}

    assert books(house, narrow, **skip).status_code == 403
    assert books(house, whole, **skip, key="k-2").status_code == 200


def test_a_key_is_not_narrowed_to_what_its_role_may_not(house: House) -> None:
    for scope in ("concession", "no such thing"):
        with pytest.raises(Refused, match="has no permission"):
            house.key("inspector", scopes=(scope,))


def test_a_key_acts_no_more_in_a_role_that_was_taken_away(house: House) -> None:
    key = house.key("inspector", "insp-1")
    house.roles("insp-1", "maker")

    assert reads(house, key) == 403
    assert books(house, key).status_code == 403
    assert "has the role of this key no more" in books(house, key).json()["detail"]

    house.roles("insp-1", "maker", "inspector")
    assert reads(house, key) == 200


def test_a_key_gives_a_person_no_role_they_lack(house: House) -> None:
    with pytest.raises(Refused, match="gives no role away"):
        house.key("supervisor", "insp-1")
    with pytest.raises(Refused, match="gives no role away"):
        make_token(house.ledger.store, house.site_id, "supervisor", "insp-1", 0)
    with pytest.raises(Missing):
        house.key("supervisor", "nobody-1")


def test_a_key_of_somebody_whose_account_was_shut_opens_nothing(house: House) -> None:
    key, other = house.key("inspector", "insp-1"), house.key("inspector")

    accounts.shut_account(house.desk, "insp-1")

    assert (reads(house, key), reads(house, other)) == (401, 200)
    accounts.open_account(house.desk, "insp-1")
    assert reads(house, key) == 200


@pytest.mark.parametrize("days", [0, -1, 801])
def test_a_key_lasts_800_days_at_most(house: House, days: int) -> None:
    with pytest.raises(Refused, match="1 to 800"):
        house.key("inspector", days=days)


def test_a_key_is_shown_once_where_it_is_made(house: House) -> None:
    desk = house.signed_in(PEOPLE["administrator"])
    form = {"label": "balance rig", "role": "inspector", "days": "30", "scopes": "read"}

    made = desk.post("/keys", data=form)
    key = made.text.split('c-once__code--long">')[1].split("<")[0]

    assert reads(house, {"Authorization": f"Bearer {key}"}) == 200
    later = desk.get("/keys").text
    assert "balance rig" in later
    assert key not in later
