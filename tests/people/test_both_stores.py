"""The doors on either database: what is asked of the store here is the same on both."""

from __future__ import annotations

from ringwright.people import accounts, devices, signing
from ringwright.people.overview import read_overview
from tests.make.people import PASSWORD, PIN, House, fields_of, is_in


def test_people_benches_and_programs_are_let_in_and_out(store_url: str) -> None:
    house = House(store_url)
    try:
        code = accounts.code_for_password(house.desk, "insp-1")
        browser = house.browser()
        form = {"one_time": code, "password": PASSWORD, "again": PASSWORD}
        assert browser.post("/sign-in/code", data=form).status_code == 303
        pin = {"act": "pin", "current": PASSWORD, "pin": PIN}
        assert browser.post("/account", data=pin).status_code == 303
        key = house.key("inspector", "insp-1", scopes=("read",), days=3)
        bench = house.device("bench")
        drawn = fields_of(bench.get("/bench?scan=V-1").text, "/bench/acts/V-1")
        signed = {**drawn, "act": "begin", "by.code": "insp-1", "by.secret": PIN}
        assert bench.post("/bench/acts/V-1", data=signed).status_code == 303
        assert house.events("V-1")[-1].actor == "insp-1"
        assert house.browser().get("/api/parts/V-1", headers=key).status_code == 200
        with house.ledger.read("NORD") as read:
            rows = {row.person.code: row for row in read_overview(read)}
        assert (rows["insp-1"].sessions, rows["sup-1"].account) == (1, None)

        accounts.shut_account(house.desk, "insp-1")
        for row in devices.devices(house.ledger, house.site_id):
            devices.end_device(house.desk, row.hash[:16])

        assert not is_in(browser)
        assert signing.sessions_of(house.ledger, house.site_id) == []
        assert bench.get("/bench").status_code == 303
        assert house.browser().get("/api/parts/V-1", headers=key).status_code == 401
        assert [line.subject for line in house.audit("account")][-1] == "insp-1"
        assert "shut" in house.signed_in("man-1").get("/audit").text
    finally:
        house.ledger.store.close()
