"""The ring test's page: recordings of known rings, brought as files, kept as readings."""

from __future__ import annotations

import io
import re
from collections.abc import Iterator
from typing import Any

import numpy as np
import pytest
import soundfile
from sqlalchemy import select

from ringwright.attachments.queries import read_attachment
from ringwright.core.clock import FixedClock
from ringwright.core.instants import parse_instant
from ringwright.db import FOREVER_US
from ringwright.parts.tables import Reading
from tests.make.bench import NOW, ROUTE, SITE, Screen, open_bench
from tests.make.html import read

RIG = """
[[gauge]]
code = "TR-1"
kind = "tap-rig"
unit = "Hz"
uncertainty = 0.12
calibrated = "2026-03-01"
due = "{due}"
"""
MODES = """[[step.characteristic]]
code = "flap_1"
lower = 136
upper = 148
unit = "Hz"
decimals = 2
role = "frequency"
gauge_kind = "tap-rig"
mode = "first flap"
search = [115, 175]
[[step.characteristic]]
code = "flap_2"
lower = 800
upper = 1000
unit = "Hz"
decimals = 1
gauge_kind = "tap-rig"
mode = "second flap"
search = [700, 1100]
[[step]]
number = 30
"""
# Cantilever roots of Euler and Bernoulli: 1.8751, 4.6941; frequencies go with their squares.
FIRST = 142.37
SECOND = FIRST * (4.6941 / 1.8751) ** 2
RATE = 48_000


def ring(noise: float = 1e-3, seconds: float = 1.0, rate: int = RATE) -> Any:
    """One tap: both modes decaying, in noise of that standard deviation."""
    random = np.random.default_rng(3)
    t = np.arange(int(seconds * rate)) / rate
    found = 0.5 * np.exp(-2 * np.pi * FIRST * 0.002 * t) * np.sin(2 * np.pi * FIRST * t)
    found += 0.3 * np.exp(-2 * np.pi * SECOND * 0.001 * t) * np.sin(2 * np.pi * SECOND * t + 1)
    return found + random.normal(0, noise, len(t))


def wav(samples: Any, subtype: str = "PCM_16", rate: int = RATE) -> bytes:
    """The samples as a WAV file."""
    out = io.BytesIO()
    soundfile.write(out, samples, rate, format="WAV", subtype=subtype)
    return out.getvalue()


def table(samples: Any) -> bytes:
    """The samples as time and amplitude."""
    rows = (f"{n / RATE:.8f},{value:.6f}" for n, value in enumerate(samples))
    return ("time_s,amplitude\n" + "\n".join(rows)).encode()


def open_rig(url: str, monkeypatch: pytest.MonkeyPatch, due: str = "2027-02-28") -> Screen:
    """Bench 4 with a tap rig; step 20 asks for two modes; V-1 is in work there."""
    monkeypatch.setattr("tests.make.bench.SITE", SITE + RIG.format(due=due))
    monkeypatch.setattr(
        "tests.make.bench.ROUTE", ROUTE.replace("[[step]]\nnumber = 30\n", MODES)
    )
    screen = Screen(url, open_bench(url, FixedClock(parse_instant(NOW))))
    screen.press("V-1", "begin")
    return screen


@pytest.fixture
def screen(sqlite_url: str, monkeypatch: pytest.MonkeyPatch) -> Iterator[Screen]:
    """The rig as it should be."""
    opened = open_rig(sqlite_url, monkeypatch)
    yield opened
    opened.ledger.store.close()


def told(html: str) -> str:
    """All words of a page."""
    return " ".join(read(html).texts)


def bring(screen: Screen, data: bytes, name: str = "taps.wav", **given: str) -> Any:
    """Post a recording to be looked at."""
    fields = {"key": "r-1", "act": "look", "with.tap-rig": "TR-1", **given}
    return screen.client.post("/ringtest/V-1", data=fields, files={"file": (name, data)})


def keep(screen: Screen, looked: Any, **given: str) -> Any:
    """Keep what was looked at, from the form that the page gave."""
    text = re.search(r'<textarea name="recording" hidden>([^<]*)<', looked.text)
    assert text is not None
    fields = {"key": "r-1", "act": "keep", "with.tap-rig": "TR-1", "recording": text[1]}
    files = {"file": ("", b"")}
    return screen.client.post("/ringtest/V-1", data={**fields, **given}, files=files)


def readings(screen: Screen) -> dict[str, Any]:
    """Characteristic to its reading, as believed now."""
    with screen.ledger.store.read() as connection:
        rows = connection.execute(select(Reading).where(Reading.known_to_us == FOREVER_US))
        return {row.characteristic: row for row in rows}


RECORDINGS = {
    "16 bit": lambda: wav(ring()),
    "24 bit": lambda: wav(ring(), "PCM_24"),
    "float stereo": lambda: wav(np.column_stack([ring(), ring()]), "FLOAT"),
    "192 kHz": lambda: wav(ring(rate=192_000), rate=192_000),
    "table": lambda: table(ring(seconds=0.5)),
}


@pytest.mark.parametrize("kind", RECORDINGS)
def test_a_known_ring_is_kept_with_its_frequency(screen: Screen, kind: str) -> None:
    looked = bring(screen, RECORDINGS[kind](), "taps.csv" if kind == "table" else "taps.wav")
    kept = keep(screen, looked, fixture="F-2", torque="12.5", temperature="21")

    assert looked.status_code == 200, told(looked.text)
    assert "first flap" in told(looked.text)
    assert kept.status_code == 303, told(kept.text)
    found = readings(screen)
    assert found["flap_1"].value == pytest.approx(FIRST, abs=3 * found["flap_1"].uncertainty)
    assert found["flap_1"].value == pytest.approx(FIRST, abs=0.02)
    assert found["flap_2"].value == pytest.approx(SECOND, abs=0.1)
    assert found["flap_1"].uncertainty == 0.12  # the rig's, larger than the fit's
    assert (found["flap_1"].fixture, found["flap_1"].torque_n_m) == ("F-2", 12.5)
    assert found["flap_1"].temperature_c == 21


def test_the_recording_is_kept_with_the_part(screen: Screen) -> None:
    data = wav(ring())
    keep(screen, bring(screen, data))

    digest = readings(screen)["flap_1"].recording
    with screen.ledger.read("NORD") as look:
        assert read_attachment(look.connection, look.site.id, digest).data == data
    assert screen.kinds("V-1")[-3:] == ["attach", "measure", "measure"]


def test_no_digit_is_shown_below_the_uncertainty(screen: Screen) -> None:
    """The rig's 0.12 Hz has two digits, so the frequency ends at hundredths."""
    page = told(bring(screen, wav(ring())).text)

    assert " 142.37 " in page
    assert "0.12 (clamping)" in page
    assert "142.370" not in page


def test_nothing_is_stored_by_looking(screen: Screen) -> None:
    bring(screen, wav(ring()))

    assert readings(screen) == {}
    assert screen.kinds("V-1")[-1] == "begin"


def test_silence_is_refused_and_what_was_typed_stays(screen: Screen) -> None:
    answer = bring(screen, wav(np.zeros(RATE)), fixture="F-2")

    assert answer.status_code == 422
    assert "no ring is heard" in told(answer.text)
    assert 'value="F-2"' in answer.text


def test_clipping_and_hum_are_told(screen: Screen) -> None:
    t = np.arange(RATE) / RATE
    hum = bring(screen, wav(ring() + 0.05 * np.sin(2 * np.pi * 50 * t)))
    clipped = bring(screen, wav(np.clip(3 * ring(), -0.999, 0.999)))

    assert "Hum of the mains" in told(hum.text)
    assert "Clipped" in told(clipped.text)


def test_a_window_with_two_peaks_names_none(screen: Screen) -> None:
    t = np.arange(RATE) / RATE
    second = 0.15 * np.exp(-2 * np.pi * 160 * 0.002 * t) * np.sin(2 * np.pi * 160 * t)

    looked = bring(screen, wav(ring() + second))
    keep(screen, looked)

    assert "several peaks there" in told(looked.text)
    assert set(readings(screen)) == {"flap_2"}


def test_a_peak_outside_every_window_has_no_name(screen: Screen) -> None:
    t = np.arange(RATE) / RATE
    other = 0.15 * np.exp(-2 * np.pi * 400 * 0.002 * t) * np.sin(2 * np.pi * 400 * t)

    assert "no name" in told(bring(screen, wav(ring() + other)).text)


@pytest.mark.parametrize(
    ("data", "why"),
    [
        (b"RIFF\x00\x00\x00\x00WAVEbroken", "taps.wav"),
        (b"\xff\xd8\xff\xe0 a picture", "taps.wav"),
        (b"time_s,amplitude\n0,1\n", "taps.wav"),
        (b"x" * 4_000_000, "larger than 3.8 MB"),
    ],
)
def test_what_is_no_recording_is_refused_in_words(
    screen: Screen, data: bytes, why: str
) -> None:
    answer = bring(screen, data)

    assert answer.status_code == 422
    assert why in told(answer.text)


def test_an_overdue_rig_decides_nothing(
    sqlite_url: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    screen = open_rig(sqlite_url, monkeypatch, due="2026-08-31")
    kept = keep(screen, bring(screen, wav(ring())))

    assert kept.status_code == 422
    assert "TR-1 has been overdue for calibration since 2026-09-01" in told(kept.text)
    assert readings(screen) == {}
    screen.ledger.store.close()


def test_a_torn_recording_is_refused(screen: Screen) -> None:
    answer = keep(screen, bring(screen, wav(ring())), recording="not base64!")

    assert answer.status_code == 422
    assert "did not arrive whole" in told(answer.text)


def test_only_this_page_may_ask_for_the_microphone(screen: Screen) -> None:
    here = screen.client.get("/ringtest", params={"scan": "V-1"})
    bench = screen.client.get("/bench", params={"scan": "V-1"})

    assert "microphone=(self)" in here.headers["permissions-policy"]
    assert "microphone=()" in bench.headers["permissions-policy"]
    assert "/ringtest?scan=V-1" in bench.text
