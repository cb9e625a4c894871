"""Every page for everybody: wide and narrow, light and dark, in every state, and on paper.

Sources: W3C WCAG 2.2, levels A and AA, as axe-core tests it, and its criteria 1.4.4 (text at
200 %), 1.4.10 (reflow at 320 px), 1.4.11 (marks at 3:1) and 1.4.12 (text spacing); CSS Paged
Media Module Level 3 for the page foot. Targets of 44 px, 64 px at the Bench with 16 px between,
7:1 for all text and 32 px on a wall are this project's own rules.
"""

from __future__ import annotations

import re
import shutil
from collections.abc import Callable, Iterator, Sequence
from pathlib import Path

import pytest
from playwright.sync_api import Browser, Page, Response

from ringwright.people.demo import make_demo_accounts
from ringwright.sets.service import Reserve
from tests.browser.seeing import (
    LOOKS,
    PAGES,
    SAMPLES,
    SIZES,
    Scheme,
    arm,
    choose,
    found_at,
    found_by_axe,
    hear_nothing,
    look,
    page_paths,
    places_of_pages,
    sampled,
    see,
    show,
)
from tests.browser.serving import served
from tests.make import furnaces, states

pytestmark = pytest.mark.browser

PLAIN = page_paths({})
SAMPLED = sampled(PAGES, 10)
"""For what all pages do alike."""
PAST = "2026-09-30T12:00"
BOTH: tuple[Scheme, ...] = ("light", "dark")
BY_DAY: tuple[str, Scheme] = ("desk", "light")
BY_NIGHT: tuple[str, Scheme] = ("phone", "dark")
IN_SHORT: tuple[tuple[str, Scheme], ...] = (BY_DAY, BY_NIGHT)
"""Widest light, narrowest dark; ./check --long takes every pair of them, and closed too."""
A4_PX, A4_ACROSS_PX = 688, 1017
"""A4 less its margins, upright and across, at 96 px to the inch."""


@pytest.fixture(scope="module")
def works(_sqlite_template: Path, tmp_path_factory: pytest.TempPathFactory) -> Iterator[str]:
    """Where a works is served in which everything has happened."""
    store = shutil.copy(_sqlite_template, tmp_path_factory.mktemp("works") / "store.sqlite")
    record = states.open_states(f"sqlite:///{store}")
    pair = Reserve(key="pair", product="BLADE", slots=("B-022", "B-027"))
    record.execute(states.CODE, pair, states.PLANNER)
    furnaces.tell_runs(record, states.CODE)
    make_demo_accounts(record, states.CODE, ["sup-1", "insp-1"])
    with served(f"sqlite:///{store}", record) as where:
        yield where
    record.store.close()


@pytest.fixture(scope="module")
def bare(_sqlite_template: Path, tmp_path_factory: pytest.TempPathFactory) -> Iterator[str]:
    """Where a works is served in which nothing has happened."""
    store = shutil.copy(_sqlite_template, tmp_path_factory.mktemp("bare") / "store.sqlite")
    record = states.open_empty(f"sqlite:///{store}")
    make_demo_accounts(record, states.CODE, ["sup-1"])
    with served(f"sqlite:///{store}", record) as where:
        yield where
    record.store.close()


@pytest.fixture(scope="module")
def reader(chromium: Browser, works: str) -> Iterator[Page]:
    """One page for all that only looks: the supervisor at Bench 4."""
    context = chromium.new_context(timezone_id="Asia/Tokyo", locale="en-US")
    page = context.new_page()
    choose(page, works)
    yield page
    context.close()


@pytest.fixture(scope="module")
def beginner(chromium: Browser, bare: str) -> Iterator[Page]:
    """The supervisor where nothing has happened; in another browser: cookies know no port."""
    context = chromium.new_context(timezone_id="Asia/Tokyo", locale="en-US")
    page = context.new_page()
    choose(page, bare)
    yield page
    context.close()


@pytest.fixture
def seen(reader: Page) -> Iterator[Page]:
    """The reader's page, put back on the screen afterwards."""
    yield reader
    reader.emulate_media(reduced_motion="null", forced_colors="null")
    show(reader, *BY_DAY)


def test_every_place_in_the_path_of_a_page_has_a_sample() -> None:
    assert places_of_pages() <= set(SAMPLES)


def test_axe_finds_what_is_planted(seen: Page, works: str) -> None:
    see(seen, f"{works}/nowhere")
    arm(seen)
    assert found_by_axe(seen) == []

    seen.evaluate(
        """document.getElementById("main").insertAdjacentHTML("beforeend",
          '<input id="bare" type="text"><button id="tiny"></button><button id="near">x</button>'
          + '<p id="grey">Grey on paper, at 5.5 to 1</p>');
        document.getElementById("grey").style.color = "#5c5c5c";
        for (const id of ["tiny", "near"]) Object.assign(document.getElementById(id).style,
          { width: "12px", height: "12px", padding: "0" });"""
    )

    rules = {trouble.partition(":")[0] for trouble in found_by_axe(seen)}
    assert rules >= {"label", "button-name", "color-contrast-enhanced", "target-size"}


def test_our_own_looks_find_what_is_planted(seen: Page, works: str) -> None:
    names = ("sideways", "small", "pictures", "moving", "lost", "paper", "cut", "faint")
    see(seen, f"{works}/nowhere")
    show(seen, "phone", "light")
    before = {name: look(seen, name) for name in names[:5]}

    seen.evaluate(
        """document.getElementById("main").insertAdjacentHTML("beforeend",
          '<p id="wide">wide</p><button id="flat">flat</button><p id="cut">too-long-a-word</p>'
          + '<svg role="img"><title>t</title><desc>77 parts</desc>'
          + '<path id="pale" d="M0 0H9"/></svg><svg></svg>');
        const set = (id, style) => Object.assign(document.getElementById(id).style, style);
        set("wide", { width: "500px", transition: "width 1s" });
        set("flat", { height: "30px" });
        set("cut", { width: "20px", overflow: "hidden", overflowWrap: "normal" });
        set("pale", { stroke: "#dde", fill: "none" });"""
    )
    after = {name: " ".join(look(seen, name, 32)) for name in names}

    assert before == {name: [] for name in names[:5]}
    assert "scrolls sideways" in after["sideways"]
    assert "only 30 high" in after["small"]
    assert "in no table: 77" in after["pictures"]
    assert "no role" in after["pictures"]
    assert "moves" in after["moving"]
    assert "lost" in after["lost"]
    assert "printed" in after["paper"]
    assert "not black on white" in after["paper"]
    assert "cut off" in after["cut"]
    assert "only 15px" in after["faint"]


@pytest.mark.parametrize("path", sampled(PAGES, 6))
def test_nothing_is_found_on_a_page_however_it_is_looked_at(
    seen: Page, works: str, path: str
) -> None:
    see(seen, works + path)
    show(seen, *BY_DAY)

    found = look(seen, "pictures") + _as_the_reader_asks(seen) + _on_paper(seen)
    look(seen, "openAll")
    found += _zoomed(seen) + _spaced(seen)
    found += _by_axe(seen, works + path, IN_SHORT)

    assert found == []


@pytest.mark.long
@pytest.mark.parametrize("path", PAGES)
def test_nothing_is_found_in_any_pair_of_width_and_scheme(
    seen: Page, works: str, path: str
) -> None:
    pairs = [(size, scheme) for size in SIZES for scheme in BOTH]

    assert _by_axe(seen, works + path, pairs, closed=True) == []


def _as_the_reader_asks(page: Page) -> list[str]:
    """Nothing moves, and no mark is lost in colours that the reader's system forces."""
    page.emulate_media(reduced_motion="reduce")
    found = look(page, "moving")
    for scheme in BOTH:
        page.emulate_media(color_scheme=scheme, forced_colors="active")
        found += [f"forced {scheme}: {trouble}" for trouble in look(page, "lost")]
    page.emulate_media(reduced_motion="null", forced_colors="null")
    return found


def _on_paper(page: Page) -> list[str]:
    """The dark page of a reader with a dark screen, printed on A4."""
    page.set_viewport_size({"width": A4_PX, "height": 1000})
    page.emulate_media(media="print", color_scheme="dark")
    found = look(page, "paper", A4_ACROSS_PX)
    page.emulate_media(media="screen")
    return [f"on paper: {trouble}" for trouble in found]


def _zoomed(page: Page) -> list[str]:
    """200 % of a desk screen, and 400 % of 1280 px."""
    found = []
    for width in (683, 320):
        page.set_viewport_size({"width": width, "height": 384})
        found += [f"{width} px: {trouble}" for trouble in look(page, "sideways")]
    return found


def _spaced(page: Page) -> list[str]:
    look(page, "spaceOut", True)
    found = []
    for size in SIZES:
        show(page, size, "light")
        wrong = look(page, "sideways") + look(page, "cut")
        found += [f"spaced, {size}: {trouble}" for trouble in wrong]
    look(page, "spaceOut", False)
    return found


def _by_axe(
    page: Page, address: str, pairs: Sequence[tuple[str, Scheme]], *, closed: bool = False
) -> list[str]:
    """What is found with every detail opened, and before that with all of them closed."""
    see(page, address)
    arm(page)
    found = [t for one in pairs if closed for t in found_at(page, *one)]
    look(page, "openAll")
    return found + [f"opened, {t}" for one in pairs for t in found_at(page, *one)]


@pytest.mark.parametrize("path", sampled(PLAIN, 6))
def test_nothing_is_found_where_nothing_has_happened_yet(
    beginner: Page, bare: str, path: str
) -> None:
    see(beginner, bare + path)
    arm(beginner)

    assert look(beginner, "pictures") + found_at(beginner, "phone", "light") == []


@pytest.mark.parametrize("path", SAMPLED)
def test_nothing_is_found_as_of_the_past(seen: Page, works: str, path: str) -> None:
    past = f"{works}{path}{'&' if '?' in path else '?'}as_of={PAST}"
    if "is-as-of" not in seen.request.get(past).text():
        pytest.skip("this page knows no past")
    see(seen, past)
    arm(seen)

    assert found_at(seen, "phone", "light") == []


@pytest.mark.parametrize("path", SAMPLED)
def test_nothing_is_found_on_a_page_that_hears_nothing(
    page: Page, works: str, path: str
) -> None:
    choose(page, works)
    if "data-live-panel" not in page.request.get(works + path).text():
        pytest.skip("this page is drawn once")
    page.clock.install()
    see(page, works + path)
    hear_nothing(page, "**/*")
    assert page.locator("body.is-stale").count() == 1
    arm(page)

    assert found_at(page, *BY_DAY) + found_at(page, *BY_NIGHT) == []


@pytest.fixture(scope="module")
def shared(chromium: Browser, works: str, reader: Page) -> Iterator[Page]:
    """A shared bench: the supervisor made its code, nobody is signed in."""
    reader.goto(f"{works}/devices")
    reader.fill("#field-label", "moment scale")
    reader.get_by_role("button", name="Make a code").click()
    code = reader.locator(".c-once__code").inner_text()
    context = chromium.new_context(timezone_id="Asia/Tokyo", locale="en-US")
    page = context.new_page()
    page.goto(f"{works}/device")
    page.fill("#field-one_time", code)
    with page.expect_event("load"):
        page.get_by_role("button", name="Let this browser in").click()
    yield page
    context.close()


def waiting_for_a_badge(page: Page, works: str) -> None:
    """Press an act that nobody has signed, at the part that waits for its inspection."""
    page.goto(f"{works}/bench?scan=B-904")
    page.locator("button[name=act]:visible").first.click()
    page.wait_for_selector("#confirm-badge")


def refused(page: Page, works: str) -> None:
    """The same with a part's serial scanned for a badge: code and PIN stand open."""
    waiting_for_a_badge(page, works)
    page.fill("#confirm-badge", "B-902")
    page.keyboard.press("Enter")
    page.get_by_role("alert").filter(has_text="that is no badge").wait_for()


@pytest.mark.parametrize("come_to", [waiting_for_a_badge, refused])
def test_nothing_is_found_where_an_act_waits_for_its_signature(
    shared: Page, works: str, come_to: Callable[[Page, str], None]
) -> None:
    come_to(shared, works)
    shared.evaluate(LOOKS)
    arm(shared)
    look(shared, "openAll")

    found = [t for size, scheme in IN_SHORT for t in found_at(shared, size, scheme)]
    low = shared.evaluate(
        """() => [...document.querySelectorAll(".c-confirm *")]
          .filter((e) => e.matches(".c-field__box, button, a, summary"))
          .filter((e) => e.getBoundingClientRect().height < 63.5)
          .map((e) => e.outerHTML.slice(0, 120))"""
    )

    assert found + low == []


@pytest.mark.parametrize(
    "act", ["Make a code for a password", "Make a new badge", "End every sign-in"]
)
def test_nothing_is_found_after_an_account_was_changed(
    seen: Page, works: str, act: str
) -> None:
    see(seen, f"{works}/accounts")
    row = seen.locator("tr", has=seen.locator("th", has_text="insp-1"))
    if act == "End every sign-in":
        # The browser of somebody else; one's own stays signed in.
        other = seen.context.browser
        assert other is not None
        context = other.new_context()
        page = context.new_page()
        page.goto(f"{works}/sign-in")
        page.get_by_role("button", name="insp-1", exact=True).click()
        context.close()
        see(seen, f"{works}/accounts")
    row.locator("summary").click()
    with seen.expect_event("load"):
        row.get_by_role("button", name=act).click()
    seen.evaluate(LOOKS)
    arm(seen)

    assert found_at(seen, *BY_DAY) + found_at(seen, *BY_NIGHT) == []


def test_nothing_is_found_where_nobody_is_let_in(
    chromium: Browser, shared: Page, works: str
) -> None:
    see(shared, f"{works}/accounts")
    arm(shared)
    found = found_at(shared, *BY_DAY) + found_at(shared, *BY_NIGHT)
    context = chromium.new_context()
    page = context.new_page()
    for path in ("/sign-in", "/sign-in?then=/week", "/sign-in/code", "/first", "/device"):
        see(page, works + path)
        arm(page)
        found += found_at(page, *BY_DAY) + found_at(page, *BY_NIGHT)
    page.goto(f"{works}/sign-in")
    page.fill("#field-code", "sup-1")
    page.fill("#field-password", "not the password")
    with page.expect_event("load"):
        page.get_by_role("button", name="Sign in", exact=True).click()
    page.evaluate(LOOKS)
    arm(page)
    found += found_at(page, *BY_DAY) + found_at(page, *BY_NIGHT)
    context.close()

    assert found == []


def test_what_hangs_on_a_wall_is_read_from_afar(seen: Page, works: str) -> None:
    seen.set_viewport_size({"width": 1920, "height": 1080})
    see(seen, f"{works}/floor/wall")
    arm(seen)

    assert found_by_axe(seen) + look(seen, "sideways") + look(seen, "faint", 32) == []


SEND_EMPTY = """(place) => {
  const form = [...document.forms].filter((f) => f.method === "post")[place];
  form.noValidate = true;
  for (const field of form.elements) {
    if (field.matches("input[type=radio], input[type=checkbox]")) field.checked = false;
    else if (!field.matches("[type=hidden], button, select, fieldset")) field.value = "";
  }
  for (let e = form; e; e = e.parentElement) if (e.matches("details")) e.open = true;
  form.requestSubmit(form.querySelector("button[type=submit]:enabled"));
}"""
"""Send one form of the page with nothing in it."""


@pytest.mark.parametrize("path", sampled(PAGES, 8))
def test_nothing_is_found_after_a_form_is_sent_empty(seen: Page, works: str, path: str) -> None:
    see(seen, works + path)
    actions: list[str] = seen.evaluate(
        "[...document.forms].filter((f) => f.method === 'post').map((f) => f.action)"
    )
    # One of the forms that differ in their part only.
    kinds = {re.sub(r"/[BC]-\d+", "", action): place for place, action in enumerate(actions)}
    # Signing out has nothing to fill in, and every page after it would be the sign-in page.
    kinds.pop(f"{works}/sign-out", None)
    found = []
    for place in kinds.values():
        see(seen, works + path)
        _send_empty(seen, place)
        seen.evaluate(LOOKS)
        arm(seen)
        found += [f"{actions[place]}: {trouble}" for trouble in found_at(seen, *BY_NIGHT)]

    assert found == []


def _is_page(answer: Response) -> bool:
    """True for a page to be shown; a redirect only leads to one."""
    return answer.request.is_navigation_request() and not 300 <= answer.status < 400


def _send_empty(page: Page, place: int) -> None:
    """Send the form and wait until its answer stands, in a new page or in a piece of this."""
    forms = page.locator("form[method=post]")
    if forms.nth(place).get_attribute("hx-post") is None:
        # Not `expect_navigation`: catching up, a live page writes its own address anew, and
        # that would count as one.
        with page.expect_event("load"), page.expect_response(_is_page) as led:
            page.evaluate(SEND_EMPTY, place)
        assert led.value.status < 500
        return
    with page.expect_response(lambda answer: answer.request.method == "POST") as sent:
        page.evaluate(SEND_EMPTY, place)
    assert sent.value.status < 500
    page.wait_for_timeout(100)  # until the piece is put in its place
