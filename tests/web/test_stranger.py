"""A stranger's cell goes through Bench, Week, command and export, with nothing built for it.

Two sites in different zones, a route of random step numbers, units and words. The week's
numbers are worked out here from the bookings themselves: output by counting, yields by hand.
"""

from __future__ import annotations

import csv
import io
import json
import random
import re
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest
from fastapi.testclient import TestClient

from ringwright.assembly import open_ledger
from ringwright.bench.history import COLUMNS
from ringwright.cli import main
from ringwright.core.clock import FixedClock
from ringwright.core.instants import parse_instant
from ringwright.db import Store
from ringwright.settings import Settings
from ringwright.web.factory import create_app
from tests.make.signing import signed_in

MINUTE_US = 60_000_000
NOW, EVENING = "2026-10-29T09:00:00Z", "2026-10-29T18:00:00Z"
ZONES = ("America/St_Johns", "Asia/Kolkata")
KINDS = ("forming", "joining", "casting", "machining", "finishing")
UNITS = ("thou", "Hz", "g_mm", "%", "degC", "ångström", "ozf-in")


class Cell:
    """One invented cell: its site and route files, and what is booked in it."""

    def __init__(self, place: int, zone: str, dice: random.Random) -> None:
        self.code, self.zone = f"CELL-{place}", zone
        self.product = f"X/{dice.randrange(1000)} ({place})"
        self.steps = sorted(dice.sample(range(1, 900), 4))
        self.unit, self.decimals = dice.choice(UNITS), dice.randrange(4)
        self.nominal = round(dice.uniform(-50, 5000), self.decimals)
        self.target = dice.randrange(3, 40)
        self.kinds = [*(dice.choice(KINDS) for _ in range(3)), "inspection"]
        self.serials = [f"{chr(65 + place)}{dice.randrange(10**6):06d}é" for _ in range(6)]

    def site(self) -> str:
        return (
            f'[site]\ncode = "{self.code}"\nname = "Cell {self.code}"\nzone = "{self.zone}"\n'
            'week_starts = "sunday 22:00"\n'
            '[[station]]\ncode = "B-1"\nname = "Bench one"\n'
            '[[person]]\ncode = "ada"\nroles = ["maker", "supervisor"]\n'
            '[[person]]\ncode = "eve"\nroles = ["inspector"]\n'
        )

    def route(self) -> str:
        text = (
            f'[product]\ncode = "{self.product}"\nname = "Thing of {self.code}"\n'
            f"target_per_week = {self.target}\n"
        )
        for number, kind in zip(self.steps, self.kinds, strict=True):
            text += f'[[step]]\nnumber = {number}\nname = "Do {number}"\nkind = "{kind}"\n'
            text += "planned_hours = 0.5\nqueue_hours = 1.5\n"
        return text + (
            f'[[step.characteristic]]\ncode = "what {self.product[0]}"\nunit = "{self.unit}"\n'
            f"nominal = {self.nominal}\nlower = {self.nominal - 1}\n"
            f"upper = {self.nominal + 1}\n"
            f"decimals = {self.decimals}\n"
        )


class Bench:
    """A browser without scripts at the Bench of one cell."""

    def __init__(self, client: TestClient, cell: Cell, clock: FixedClock) -> None:
        self.client, self.cell, self.clock = client, cell, clock

    def sit(self, who: str) -> None:
        ledger = self.client.app.state.ledger  # type: ignore[attr-defined]
        signed_in(self.client, ledger, who, self.cell.code)
        chosen = {"station": "B-1", "then": "bench"}
        answer = self.client.post(
            "/bench/station", params={"site": self.cell.code}, data=chosen
        )
        assert answer.status_code == 200, answer.text

    def scan(self, serial: str) -> str:
        query = {"site": self.cell.code, "scan": serial}
        answer = self.client.get("/bench", params=query)
        assert answer.status_code == 200, answer.text
        return answer.text

    def press(self, serial: str, act: str, **typed: str) -> Any:
        self.clock.at_us += MINUTE_US
        page = self.scan(serial)
        form = re.search(r'<form[^>]*action="([^"]*/bench/acts/[^"]*)"', page)
        assert form, "the Bench offers no act on the part"
        hidden = dict(re.findall(r'<input type="hidden" name="([^"]+)" value="([^"]*)"', page))
        step = re.search(r'name="step"[^>]*value="(\d+)"', page)
        data = {**hidden, **({"step": step[1]} if step else {}), "act": act, **typed}
        return self.client.post(form[1].replace("&amp;", "&"), data=data)


@pytest.fixture(params=range(2))
def cells(request: pytest.FixtureRequest) -> list[Cell]:
    dice = random.Random(f"stranger {request.param}")
    return [Cell(place, zone, dice) for place, zone in enumerate(ZONES)]


@pytest.fixture
def shop(
    cells: list[Cell], store_url: str, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> Iterator[tuple[TestClient, FixedClock]]:
    monkeypatch.setenv("RINGWRIGHT_DATABASE_URL", store_url)
    monkeypatch.setenv("RINGWRIGHT_NOW", NOW)
    for cell in cells:
        (tmp_path / "site.toml").write_text(cell.site(), encoding="utf-8")
        (tmp_path / "route.toml").write_text(cell.route(), encoding="utf-8")
        assert main(["load", "site", str(tmp_path / "site.toml")]) == 0
        assert main(["load", "route", str(tmp_path / "route.toml"), "--site", cell.code]) == 0
        (tmp_path / "history.csv").write_text(created(cell), encoding="utf-8")
        assert (
            main(["load", "history", str(tmp_path / "history.csv"), "--site", cell.code]) == 0
        )
    monkeypatch.setenv("RINGWRIGHT_NOW", EVENING)
    clock = FixedClock(parse_instant(NOW))
    ledger = open_ledger(Store(store_url), clock)
    app = create_app(Settings(database_url=store_url), ledger)
    headers = {"Sec-Fetch-Site": "same-origin"}
    yield TestClient(app, base_url="http://127.0.0.1:8321", headers=headers), clock
    ledger.store.close()


def created(cell: Cell) -> str:
    out = io.StringIO()
    writer = csv.writer(out)
    writer.writerow(COLUMNS[:13])
    for place, serial in enumerate(cell.serials):
        at = f"2026-10-26T{place + 3:02d}:00:00+00:00"
        writer.writerow([at, serial, cell.product, "create", *[""] * 9])
    return out.getvalue()


def week(cell: Cell, capsys: pytest.CaptureFixture[str]) -> Any:
    capsys.readouterr()
    arguments = ["week", "--product", cell.product, "--week", "2026-W44", "--json"]
    assert main([*arguments, "--site", cell.code]) == 0
    return json.loads(capsys.readouterr().out)


def work_through(bench: Bench, serial: str) -> None:
    """From creation to release at the Bench; another than the maker inspects."""
    *making, last = bench.cell.steps
    bench.sit("ada")
    for _step in making:
        assert bench.press(serial, "begin").status_code == 200
        assert bench.press(serial, "pass").status_code == 200
    bench.sit("eve")
    assert bench.press(serial, "begin").status_code == 200
    reading = {f"reading.what {bench.cell.product[0]}": f"{bench.cell.nominal}"}
    answer = bench.press(serial, "pass", **reading)
    assert answer.status_code == 200, answer.text
    assert last in bench.cell.steps


def test_a_stranger_s_product_goes_all_the_way(
    shop: tuple[TestClient, FixedClock],
    cells: list[Cell],
    capsys: pytest.CaptureFixture[str],
) -> None:
    client, clock = shop
    for cell in cells:
        for serial in cell.serials[:2]:
            work_through(Bench(client, cell, clock), serial)

    for cell in cells:
        numbers = week(cell, capsys)
        assert numbers["output"] == 2
        assert numbers["created"] == 6
        assert numbers["target"] == cell.target
        assert numbers["wip"] == {str(cell.steps[0]): 4}
        assert [step["number"] for step in numbers["steps"]] == cell.steps
        assert numbers["steps"][-1]["first_pass_yield"]["n"] == 2
        assert numbers["steps"][-1]["first_pass_yield"]["value"] == 1.0
        offset = parse_instant(numbers["from"])
        assert numbers["from"].endswith({"CELL-0": "-02:30", "CELL-1": "+05:30"}[cell.code])
        assert parse_instant(numbers["to"]) - offset >= 7 * 24 * 60 * MINUTE_US
        Bench(client, cell, clock).sit("eve")
        page = client.get("/week", params={"site": cell.code, "week": "2026-W44"}).text
        assert f"Thing of {cell.code}" in page
        assert re.search(rf"<b[^>]*>2</b>\s*out of {cell.target}\b", page)


def test_what_one_store_exports_another_loads_to_the_same_numbers(
    shop: tuple[TestClient, FixedClock],
    cells: list[Cell],
    capsys: pytest.CaptureFixture[str],
    tmp_path: Path,
    new_store_url: Any,
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    client, clock = shop
    cell = cells[1]
    for serial in cell.serials[:3]:
        work_through(Bench(client, cell, clock), serial)
    there = week(cell, capsys)
    file = str(tmp_path / "events.csv")
    assert main(["export", file, "--site", cell.code]) == 0

    monkeypatch.setenv("RINGWRIGHT_DATABASE_URL", new_store_url())
    assert main(["load", "site", str(tmp_path / "site.toml")]) == 0
    assert main(["load", "route", str(tmp_path / "route.toml")]) == 0
    assert main(["load", "history", file]) == 0

    assert week(cell, capsys) == there
    assert main(["replay", "--compare"]) == 0
    assert main(["audit"]) == 0


def test_a_reading_outside_shuts_the_pass_and_keeps_what_was_typed(
    shop: tuple[TestClient, FixedClock], cells: list[Cell]
) -> None:
    client, clock = shop
    cell = cells[0]
    bench = Bench(client, cell, clock)
    serial = cell.serials[0]
    bench.sit("ada")
    for _step in cell.steps[:-1]:
        bench.press(serial, "begin")
        bench.press(serial, "pass")
    bench.sit("eve")
    bench.press(serial, "begin")
    far = f"{cell.nominal + 7:.{cell.decimals}f}"

    refused = bench.press(serial, "pass", **{f"reading.what {cell.product[0]}": far})

    assert refused.status_code == 422
    assert "othing was booked" in refused.text
    assert far in refused.text
    assert ledger_place(client, cell, serial) == "in work"


def ledger_place(client: TestClient, cell: Cell, serial: str) -> str:
    from ringwright.parts.queries import read_part

    ledger = client.app.state.ledger  # type: ignore[attr-defined]
    with ledger.read(cell.code) as read:
        return read_part(read, serial).place
