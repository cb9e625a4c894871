"""Blade sets in a browser: the planner's whole job, and what the pages show to everybody."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path

import pytest
from playwright.sync_api import Page, expect

from ringwright.ledger.service import Ledger
from ringwright.sets.building import SetRotor
from tests.browser.seeing import LOOKS as LOOKS_JS
from tests.browser.seeing import Scheme, arm, found_at, look, see, show
from tests.browser.serving import served
from tests.make.sets import CODE, PRODUCT, RingHall, finished, open_hall
from tests.make.signing import AS

pytestmark = pytest.mark.browser

ANSWER = "#sets-answer"
LOOKS: tuple[tuple[str, Scheme], ...] = (
    ("desk", "light"),
    ("tablet", "dark"),
    ("phone", "dark"),
)
STATES = (
    "/sets",
    "/sets?exchange=1-5&lock=3:RB-11",
    "/sets?opposite=0.01",
    "/sets?find=RB-1&moment_from=200000",
    "/sets?as_of=2026-09-30T12:00",
    "/sets?slots=7",
    "/sets?answer=C",
    "/sets/stock",
    "/sets/pool",
)


@pytest.fixture
def hall(sqlite_url: str) -> RingHall:
    """Twenty-four blades of a known scale, eight to a set, one of them held."""
    shop = open_hall(sqlite_url, finished(24))
    rotor = {"moment_u_g_mm": 10.0, "slot_angle_u_deg": 0.01, "share_g_mm": 400.0}
    act = SetRotor(key=shop.key(), product=PRODUCT, rotor=rotor, reason="drawing 7")
    shop.act("design-authority", act)
    shop.book("supervisor", serial="RB-24", act="hold", reason="dropped")
    return shop


@pytest.fixture
def ledger(hall: RingHall) -> Iterator[Ledger]:
    yield hall.ledger
    hall.ledger.store.close()


@pytest.fixture
def planner(page: Page, address: str) -> Page:
    """A page at which the planner acts."""
    page.set_extra_http_headers({AS: "planner-1"})
    page.goto(f"{address}/sets")
    return page


def test_nothing_is_found_on_any_state_of_the_pages(planner: Page, address: str) -> None:
    found = []
    for path in STATES:
        see(planner, address + path)
        show(planner, "desk", "light")
        wrong = look(planner, "pictures") + look(planner, "moving")
        arm(planner)
        for size, scheme in LOOKS:
            wrong += found_at(planner, size, scheme)
        look(planner, "openAll")
        wrong += found_at(planner, "phone", "light")
        look(planner, "spaceOut", True)
        wrong += look(planner, "sideways") + look(planner, "cut")
        look(planner, "spaceOut", False)
        found += [f"{path}: {trouble}" for trouble in wrong]

    assert found == []


def test_the_ring_and_the_pairs_print_on_one_sheet(planner: Page, address: str) -> None:
    see(planner, f"{address}/sets")
    planner.set_viewport_size({"width": 688, "height": 1000})
    planner.emulate_media(media="print", color_scheme="dark")

    assert look(planner, "paper", 1017) == []


def test_two_blades_are_exchanged_by_hand_put_back_and_the_answer_reserved(
    planner: Page, said: list[str], address: str, hall: RingHall
) -> None:
    planner.goto(f"{address}/sets")
    expect(planner.locator(ANSWER)).to_contain_text("Answer A pairs every blade")

    planner.fill("#sets-slot", "1")
    planner.fill("#sets-with", "2")
    planner.keyboard.press("Enter")
    expect(planner.locator(ANSWER)).to_contain_text("By hand, answer A goes from")
    assert "slot=1&with=2" in planner.url
    expect(planner.locator("#sets-ring .is-changed")).to_have_count(2)

    planner.get_by_role("link", name="Put back").click()
    expect(planner.locator(ANSWER)).to_contain_text("Answer A pairs every blade")

    planner.get_by_role("link", name="Choose answer C").click()
    button = planner.get_by_role("button", name="Reserve C as RH8-S001")
    with planner.expect_event("load"):
        button.click()
    assert len(hall.set("RH8-S001").slots) == 8
    assert said == []


def test_slots_are_locked_from_the_list_and_the_set_built_again(
    planner: Page, address: str
) -> None:
    planner.goto(f"{address}/sets")
    planner.locator("#sets-locks > summary").click()
    first = planner.locator("#sets-locks input").first
    value = first.get_attribute("value")
    first.check()
    planner.get_by_role("button", name="Build with these rules").click()

    expect(planner.locator("#sets-locks > summary")).to_contain_text("1 locked")
    expect(planner.locator("#sets-locks input:checked")).to_have_attribute("value", str(value))
    expect(planner.locator("#sets-ring .is-locked")).to_have_text("1")


def test_a_run_shows_how_far_it_is_and_its_answer_comes_by_itself(
    planner: Page, said: list[str], address: str
) -> None:
    planner.goto(f"{address}/sets?frequency_spread=1.5")
    planner.check("#sets-prove")
    with planner.expect_event("load"):
        planner.get_by_role("button", name="Start the run").click()

    expect(planner.locator("#sets-run-name")).to_contain_text("done", timeout=30_000)
    expect(planner.locator("#sets-run")).to_contain_text("proved")
    see(planner, planner.url)
    arm(planner)
    assert found_at(planner, "desk", "light") + found_at(planner, "phone", "dark") == []
    assert said == []


def test_a_long_run_is_watched_stopped_and_survives_a_reload(
    planner: Page, said: list[str], address: str, tmp_path: Path
) -> None:
    file = tmp_path / "many.csv"
    rows = "".join(f"Q-{n},{b.moment}\n" for n, b in enumerate(finished(300, seed=7)))
    file.write_text("serial,moment\n" + rows)
    planner.goto(f"{address}/sets/pool")
    planner.set_input_files("#pool-file", file)
    planner.fill("#pool-slots", "150")
    with planner.expect_event("load"):
        planner.get_by_role("button", name="Take the file").click()
    expect(planner.locator(ANSWER)).to_contain_text("is a longer search")
    planner.fill("#sets-number", "1")
    planner.select_option("#sets-run-effort", "5")
    with planner.expect_event("load"):
        planner.get_by_role("button", name="Start the run").click()

    expect(planner.locator("#sets-run")).to_contain_text("%")
    planner.reload()
    expect(planner.locator("#sets-run-name")).to_contain_text("searches")
    planner.evaluate(LOOKS_JS)
    arm(planner)
    assert found_at(planner, "phone", "dark") == []
    show(planner, "desk", "light")
    planner.get_by_role("button", name="Stop and keep the best so far").click()
    expect(planner.locator("#sets-run-name")).to_contain_text("stopped", timeout=30_000)
    expect(planner.locator(ANSWER)).to_contain_text("Answer A pairs every blade")
    assert said == []


def test_without_scripts_the_whole_job_is_done_by_links_and_forms(
    page: Page, sqlite_url: str, hall: RingHall
) -> None:
    assert page.context.browser is not None
    with served(sqlite_url, hall.ledger) as where:
        context = page.context.browser.new_context(java_script_enabled=False)
        bare = context.new_page()
        bare.set_extra_http_headers({AS: "planner-1"})
        bare.goto(f"{where}/sets?lock=4:RB-7")
        bare.fill("#sets-slot", "1")
        bare.fill("#sets-with", "2")
        bare.get_by_role("button", name="Exchange").click()
        expect(bare.locator(ANSWER)).to_contain_text("By hand, answer A goes from")
        bare.get_by_role("button", name="Reserve A as RH8-S001").click()
        context.close()

    assert hall.set("RH8-S001").slots[3] == "RB-7"
    assert hall.ledger.sites()[0][0] == CODE
