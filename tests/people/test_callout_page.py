"""The call-out page as a browser sees it, and what the Bench says where nobody may."""

from __future__ import annotations

from typing import Any

import pytest

from ringwright.core.clock import FixedClock
from ringwright.core.instants import HOUR_US
from ringwright.people.contacts import read_contacts
from tests.make.bench import Screen

GRANT = {"person": "insp-1", "permission": "lift a hold", "hours": "4", "reason": "night"}


def send(screen: Screen, place: str, who: str = "", **data: Any) -> Any:
    """Send a form of the page, with a key of its own."""
    if who:
        screen.choose(who)
    data.setdefault("key", f"{place}-{sorted(data.items())}"[:150])
    return screen.client.post(f"/callout/{place}", data=data)


def page_of(screen: Screen, **asked: str) -> str:
    """The page as it stands."""
    return screen.client.get("/callout", params=asked).text


def test_a_refusal_at_the_bench_says_hold_it_and_leads_to_whom_to_call(screen: Screen) -> None:
    screen.choose("sup-1")
    screen.press("V-1", "hold", hold_reason="look")
    screen.choose("insp-1")

    told = screen.press("V-1", "unhold")

    assert told.status_code == 403
    assert "It stays held. Call somebody who may do it." in told.text
    assert 'href="/callout?need=lift+a+hold"' in told.text
    page = page_of(screen, need="lift a hold")
    assert page.index('id="call-supervisor"') < page.index('id="call-design-authority"')
    assert page.count("May do it.") == 2


def test_where_nothing_holds_the_part_the_safe_thing_is_to_hold_it(screen: Screen) -> None:
    screen.choose("make-1")

    told = screen.press("V-1", "hold", hold_reason="look")

    assert told.status_code == 403
    assert "hold the part, or stop it" in told.text


def test_a_list_is_set_by_a_supervisor_and_shown_with_its_numbers(screen: Screen) -> None:
    refused = send(screen, "lists", "insp-1", role="quality-engineer", call1="qe-1")
    done = send(screen, "lists", "sup-1", role="quality-engineer", call1="qe-1", key="own")
    no_number = page_of(screen)
    kept = send(screen, "contacts", "adm-1", person="qe-1", name="A. Tester",
                phone="01632 960001")  # fmt: skip

    assert [refused.status_code, done.status_code, kept.status_code] == [403, 303, 303]
    assert "no number kept" in no_number
    assert 'href="tel:01632960001">01632 960001</a>' in page_of(screen)


def test_only_an_administrator_keeps_and_erases_names(screen: Screen) -> None:
    told = send(screen, "contacts", "sup-1", person="qe-1", name="<b>x</b>", phone="01632")
    send(screen, "contacts", "adm-1", person="qe-1", name="<b>x</b>", phone="01632 960001")

    assert told.status_code == 403
    assert "&lt;b&gt;x&lt;/b&gt;" in page_of(screen)
    assert "<b>x</b>" not in page_of(screen) + told.text
    assert send(screen, "erasures", "sup-1", person="qe-1").status_code == 403
    assert send(screen, "erasures", "adm-1", person="qe-1").status_code == 303
    with screen.ledger.read("NORD") as read:
        assert read_contacts(read.connection, read.site.id) == {}


def test_a_permission_is_granted_used_ended_and_reviewed(
    screen: Screen, clock: FixedClock
) -> None:
    screen.choose("sup-1")
    screen.press("V-1", "hold", hold_reason="look")
    assert send(screen, "permits", **GRANT).status_code == 303
    screen.choose("insp-1")
    assert screen.press("V-1", "unhold").status_code == 303
    assert "in force to" in page_of(screen)

    clock.at_us += 5 * HOUR_US
    screen.choose("sup-1")
    screen.press("V-1", "hold", hold_reason="look")
    screen.choose("insp-1")
    assert screen.press("V-1", "unhold").status_code == 403
    clock.at_us += 16 * HOUR_US  # nine the next morning
    screen.choose("qe-1")

    page = page_of(screen)
    assert "review overdue since" in page
    assert 'href="/bench/entries/V-1"' in page
    assert "should have been reviewed" in screen.client.get("/ground").text
    refused = send(screen, "reviews", "qe-1", code="P-1", agreed="no", note="", key="r1")
    done = send(screen, "reviews", code="P-1", agreed="no", note="held again", key="r2")
    assert [refused.status_code, done.status_code] == [422, 303]
    assert "not agreed by qe-1: held again" in page_of(screen)


@pytest.mark.parametrize("permission", ["concession", "repair", "scrap", "authorise", "<i>"])
def test_no_form_lends_what_is_never_lent(screen: Screen, permission: str) -> None:
    told = send(screen, "permits", "qe-1", **{**GRANT, "permission": permission})

    assert told.status_code in (403, 422)
    assert "Not granted" in told.text
    assert "<i>" not in told.text


def test_nobody_chosen_grants_nothing_and_what_was_typed_stays(screen: Screen) -> None:
    told = send(screen, "permits", who="", **{**GRANT, "hours": "13"})

    assert told.status_code == 403
    told = send(screen, "permits", "sup-1", **{**GRANT, "hours": "13"})
    assert told.status_code == 422
    assert 'value="night"' in told.text
