"""The ring test in a browser: a file chosen, heard, kept; no microphone told in words."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path

import pytest
from playwright.sync_api import Page, expect

from ringwright.ledger.service import Ledger
from ringwright.parts.queries import read_events
from tests.make.signing import AS
from tests.ringtest.test_ring_page import open_rig, ring, wav

pytestmark = pytest.mark.browser


@pytest.fixture
def ledger(sqlite_url: str, monkeypatch: pytest.MonkeyPatch) -> Iterator[Ledger]:
    """A tap rig at Bench 4, V-1 in work there."""
    record = open_rig(sqlite_url, monkeypatch).ledger
    yield record
    record.store.close()


def test_a_recording_is_heard_and_kept(
    page: Page, address: str, ledger: Ledger, said: list[str], tmp_path: Path
) -> None:
    taps = tmp_path / "taps.wav"
    taps.write_bytes(wav(ring()))
    page.set_extra_http_headers({AS: "insp-1"})
    page.goto(f"{address}/bench?scan=V-1")
    page.get_by_role("link", name="Ring test").click()

    page.set_input_files("#ring-file", taps)
    page.get_by_role("button", name="Work it out").click()
    expect(page.get_by_text("first flap", exact=True)).to_be_visible()
    expect(page.locator("table")).to_contain_text("142.37")
    page.get_by_role("button", name="Keep the readings").click()

    expect(page.locator("#bench-serial")).to_have_text("V-1")
    with ledger.read("NORD") as read:
        assert [one.kind for one in read_events(read, "V-1")][-3:] == [
            "attach", "measure", "measure",
        ]  # fmt: skip
    assert said == []


def test_without_a_microphone_the_page_says_so(page: Page, address: str) -> None:
    page.set_extra_http_headers({AS: "insp-1"})
    page.goto(f"{address}/ringtest?scan=V-1")

    page.get_by_role("button", name="Record 3 seconds here").click()

    told = page.locator("[data-told]")
    expect(told).to_have_text("This browser gives no microphone here; bring a file instead.")
