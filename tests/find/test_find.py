"""One box finds everything by its name, and leads to it."""

from __future__ import annotations

import pytest
from sqlalchemy import event
from starlette.testclient import TestClient

from ringwright.bench.acts import Stop
from ringwright.bench.genealogy import Remark
from ringwright.find.service import find
from ringwright.heatruns.running import OpenRun
from tests.make import furnaces
from tests.make.floor import CODE, INSPECTOR, MAKER, Floor
from tests.make.html import read


def texts(client: TestClient, asked: str) -> str:
    answer = client.get("/find", params={"q": asked})
    assert answer.status_code == 200, answer.headers.get("location")
    return " ".join(" ".join(read(answer.text).texts).split())


def groups(floor: Floor, asked: str) -> dict[str, list[str]]:
    with floor.ledger.read(CODE) as snapshot:
        found = find(snapshot, asked)
    return {group.kind: [hit.name for hit in group.hits] for group in found.groups}


@pytest.mark.parametrize("scanned", ["OB-007", "ob-007", " OB-007\r\n"])
def test_a_serial_leads_straight_to_its_part(client: TestClient, scanned: str) -> None:
    answer = client.get("/find", params={"q": scanned})

    assert answer.status_code == 302
    assert "OB-007" in answer.headers["location"]
    assert client.get(answer.headers["location"]).status_code == 200


def test_a_mark_leads_to_the_part_that_bears_it_and_a_retired_one_is_listed(
    client: TestClient, parts: Floor
) -> None:
    parts.do(Remark(serial="OB-007", mark="NEW-7", scanned="NEW-7", key="m1"))

    straight = client.get("/find?q=NEW-7").headers["location"]
    assert client.get(straight).status_code == 200
    assert "a mark it bears no more" in texts(client, "OB-007")
    links = read(client.get("/find?q=OB-007").text).tags("a")
    assert {a["href"] for a in links if "NEW-7" in a["href"]} == {straight}


def test_a_beginning_lists_the_first_twenty_and_says_how_many_there_are(
    client: TestClient,
) -> None:
    page = texts(client, "OB-")

    assert "Parts, the first 20 of 25" in page
    assert "OB-020" in page
    assert "OB-021" not in page
    assert "XX-9" not in page


def test_lots_are_found_by_their_beginning(parts: Floor) -> None:
    assert groups(parts, "TI-22") == {"lot": ["TI-2207", "TI-2208"]}
    assert groups(parts, "ti-2208") == {"lot": ["TI-2208"]}


def test_a_defect_is_found(parts: Floor) -> None:
    parts.book("begin", "OB-001", step=10)
    parts.do(Stop(serial="OB-001", defect="porosity", key="s1"), INSPECTOR)

    assert groups(parts, "poro") == {"defect": ["porosity"]}


@pytest.mark.parametrize("asked", ["2026-W40", "w40", "week 40", "W 40"])
def test_a_week_is_found_however_it_is_written(parts: Floor, asked: str) -> None:
    assert groups(parts, asked)["week"] == ["2026-W40"]


@pytest.mark.parametrize("asked", ["2026-W54", "W0", "9999-W99"])
def test_a_week_that_no_year_has_is_not_found(parts: Floor, asked: str) -> None:
    assert "week" not in groups(parts, asked)


def test_steps_products_and_people_are_found(parts: Floor) -> None:
    assert groups(parts, "20") == {"step": ["20 Weld"]}
    assert groups(parts, "weld") == {"step": ["20 Weld"]}
    assert groups(parts, "OAR/30") == {"step": ["30 Measure"]}
    assert groups(parts, "oar bl") == {"product": ["OAR"]}
    assert groups(parts, "sup-")["person"] == ["sup-1"]


def test_what_is_not_there_is_answered_with_what_stands_next_to_it(
    client: TestClient,
) -> None:
    page = texts(client, "OB-0115")

    assert "Nothing begins with OB-0115" in page
    assert "Next to it in the list of serials OB-011" in page
    assert "What can be found" in page


def test_an_empty_box_says_what_can_be_found(client: TestClient) -> None:
    assert "Scan or type what you look for" in texts(client, "")


HOSTILE = (
    "'; DROP TABLE part_now; --", '" OR 1=1', "%", "_", "%%%", "\x00", "a\x00b", "\ud800",
    "../../etc/passwd", "<script>alert(1)</script>", "O" * 2_000, "\u202eOB", "${7*7}",
    "{{7*7}}", "W" * 99 + "1", "\uffff", "INF-1@9999-99-99T99:99", "@" * 90,
    "INF-1@2026-11-25T14:20:00 01:00", "x@0001-01-01", "x@9999-12-31", "\u0130", "\ufb01",
)  # fmt: skip


@pytest.mark.parametrize("asked", HOSTILE)
def test_hostile_texts_find_nothing_and_hurt_nothing(client: TestClient, asked: str) -> None:
    safe = asked.encode("utf-8", "surrogatepass")
    answer = client.get("/find?" + "q=" + "".join(f"%{byte:02X}" for byte in safe))

    assert answer.status_code == (422 if "\x00" in asked else 200)
    assert "<script>alert" not in answer.text
    assert "OB-001" not in answer.text
    assert len(answer.text) < 20_000


def test_a_box_asks_as_many_questions_of_many_parts_as_of_few(parts: Floor) -> None:
    statements: list[str] = []
    event.listen(
        parts.ledger.store.engine,
        "before_cursor_execute",
        lambda *given: statements.append(given[2]),
    )
    counts = []
    for asked in ("OB-", "XX-"):
        statements.clear()
        groups(parts, asked)
        counts.append(len(statements))

    assert counts[0] == counts[1]


def test_the_head_line_leads_here_and_the_bench_keeps_its_own_field(
    client: TestClient,
) -> None:
    forms = [a for a in read(client.get("/week").text).tags("form") if "data-scan-form" in a]
    bench = [a for a in read(client.get("/bench").text).tags("form") if "data-scan-form" in a]

    assert [form["action"] for form in forms] == ["/find"]
    assert [form["action"] for form in bench] == ["/bench"]


def test_every_hit_leads_to_a_page_that_is_there(client: TestClient) -> None:
    found: list[str] = []
    for asked in ("OB-", "20", "TI-", "oar", "sup-", "w40"):
        text = client.get(f"/find?q={asked}").text
        text = text[text.index('class="c-found"') : text.index("</main>")]
        found += [a["href"] for a in read(text).tags("a")]

    assert len(found) > 20
    assert {client.get(href).status_code for href in found} == {200}


def test_a_furnace_run_and_a_recipe_are_found_by_their_beginning(parts: Floor) -> None:
    for command, who in furnaces.commands():
        parts.do(command, who)
    opened = OpenRun(furnace=furnaces.FURNACE, recipe=furnaces.RECIPE, key="run")
    parts.do(opened, MAKER)

    assert groups(parts, "hf-1-0")["furnace-run"] == ["HF-1-0001"]
    assert groups(parts, "SLO")["recipe"] == ["SLOW"]
