"""`ringwright tap`: its contract, and files that should never have been sent."""

from __future__ import annotations

import contextlib
import io
import json
import subprocess
import sys
import tempfile
from pathlib import Path

import numpy as np
import pytest
import soundfile
from hypothesis import given, settings
from hypothesis import strategies as st

from ringwright.cli import main
from tests.tap.make_rings import RATE, noise_for, ring

SOUND = 0.5 * ring([(440.7, 3.0, 1.0, 0.2)], noise_for(40))


def wav(path: Path, subtype: str = "PCM_16", channels: int = 1, rate: int = RATE) -> Path:
    soundfile.write(path, np.repeat(SOUND[:, None], channels, axis=1), rate, subtype=subtype)
    return path


def table(path: Path) -> Path:
    rows = [f"{n / RATE:.9f},{value:.6f}" for n, value in enumerate(SOUND)]
    path.write_text("\n".join(["time_s,amplitude", *rows]))
    return path


@pytest.mark.parametrize("subtype", ["PCM_16", "PCM_24", "PCM_32", "FLOAT"])
@pytest.mark.parametrize("channels", [1, 2])
def test_every_kind_of_wav_gives_the_contract(
    subtype: str, channels: int, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    assert main(["tap", str(wav(tmp_path / "a.wav", subtype, channels)), "--json"]) == 0

    found = json.loads(capsys.readouterr().out)
    assert set(found) == {"modes", "sample_rate_hz", "seconds"}
    assert (found["sample_rate_hz"], found["seconds"]) == (RATE, 1.0)
    (mode,) = found["modes"]
    assert set(mode) == {"frequency_hz", "damping_ratio", "uncertainty_hz", "snr_db"}
    assert mode["frequency_hz"] == pytest.approx(440.7003, abs=0.005)


@pytest.mark.parametrize("rate", [44_100, 96_000, 192_000])
def test_the_sample_rate_is_the_files_own(
    rate: int, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    assert main(["tap", str(wav(tmp_path / "a.wav", rate=rate)), "--json"]) == 0

    (mode,) = json.loads(capsys.readouterr().out)["modes"]
    assert mode["frequency_hz"] == pytest.approx(440.7003 * rate / RATE, rel=2e-5)


def test_a_table_says_the_same_as_the_wav(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    assert main(["tap", str(table(tmp_path / "a.csv")), "--json"]) == 0

    (mode,) = json.loads(capsys.readouterr().out)["modes"]
    assert mode["frequency_hz"] == pytest.approx(440.7003, abs=0.005)


def test_silence_is_an_answer(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    soundfile.write(tmp_path / "a.wav", np.zeros(RATE), RATE)

    assert main(["tap", str(tmp_path / "a.wav"), "--json"]) == 0
    assert json.loads(capsys.readouterr().out)["modes"] == []


def test_a_person_reads_no_digit_below_the_uncertainty(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    assert main(["tap", str(wav(tmp_path / "a.wav"))]) == 0

    told = capsys.readouterr().out.splitlines()[2].split()
    assert told[0].startswith("440.7")
    assert len(told[0].split(".")[1]) == len(told[1].split(".")[1]) <= 6


def refused(data: bytes, name: str) -> str:
    """The one line that a file is refused with."""
    told, out = io.StringIO(), io.StringIO()
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / name
        path.write_bytes(data)
        with contextlib.redirect_stderr(told), contextlib.redirect_stdout(out):
            assert main(["tap", str(path), "--json"]) == 2
    assert out.getvalue() == ""
    assert told.getvalue().count("\n") == 1
    return told.getvalue()


def lines(*rows: str) -> bytes:
    return "\n".join(["time_s,amplitude", *rows]).encode()


EVEN = [f"{n / 1000:.3f},{n % 7}" for n in range(100)]


@pytest.mark.parametrize(
    ("data", "why"),
    [
        (b"", "empty"),
        (b"RIFF", "no WAV"),
        (b"\xff\xfe\x00junk", "neither"),
        (b"a,b\n1,2\n", "must begin with"),
        (lines(*EVEN[:10]), "the least"),
        (lines(*EVEN[:50], "0.050,nan", *EVEN[51:]), "line 52"),
        (lines(*EVEN[:50], "0.050,inf", *EVEN[51:]), "finite"),
        (lines(*EVEN[:50], "0.050", *EVEN[51:]), "two numbers"),
        (lines(*EVEN[:50], "0.010,1", *EVEN[51:]), "does not rise"),
        (lines(*EVEN[:50], *EVEN[53:]), "uneven"),
        (lines(*(f"{n},{n % 5}" for n in range(100))), "samples a second"),
    ],
)
def test_a_bad_file_is_refused_in_one_line(data: bytes, why: str) -> None:
    assert why in refused(data, "a.csv")


def test_samples_that_are_no_numbers_are_refused() -> None:
    held = io.BytesIO()
    soundfile.write(
        held, np.where(np.arange(RATE) == 9, np.nan, SOUND), RATE, "FLOAT", format="WAV"
    )

    assert "no numbers" in refused(held.getvalue(), "a.wav")


def test_a_file_that_is_not_there_is_refused(capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["tap", "nowhere.wav", "--json"]) == 2
    assert capsys.readouterr().err.count("\n") == 1


@settings(max_examples=60, deadline=None)
@given(
    data=st.binary(max_size=300), head=st.sampled_from([b"", b"RIFF", b"time_s,amplitude\n"])
)
def test_no_bytes_make_it_fall(data: bytes, head: bytes) -> None:
    refused(head + data, "a.wav")


@settings(max_examples=40, deadline=None)
@given(cut=st.integers(0, 43), at=st.integers(0, 43), byte=st.integers(0, 255))
def test_a_broken_header_is_refused_or_read(cut: int, at: int, byte: int) -> None:
    held = io.BytesIO()
    soundfile.write(held, SOUND[:4800], RATE, "PCM_16", format="WAV")
    broken = bytearray(held.getvalue())
    broken[at] = byte
    told = io.StringIO()
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / "a.wav"
        path.write_bytes(bytes(broken))
        with contextlib.redirect_stderr(told), contextlib.redirect_stdout(io.StringIO()):
            code = main(["tap", str(path), "--json"])

    assert code in {0, 2}
    assert code == 0 or told.getvalue().count("\n") == 1
    refused(held.getvalue()[:cut], "b.wav")


def test_the_command_loads_neither_web_nor_sql(tmp_path: Path) -> None:
    program = (
        "import sys; from ringwright.cli import main; "
        f"main(['tap', {str(wav(tmp_path / 'a.wav'))!r}, '--json']); "
        "heavy = {'sqlalchemy', 'fastapi', 'starlette', 'pydantic', 'jinja2', 'alembic', "
        "'uvicorn', 'psycopg', 'pandas', 'openpyxl'}; "
        "sys.exit(', '.join(sorted(heavy & set(sys.modules))) or 0)"
    )

    done = subprocess.run([sys.executable, "-c", program], capture_output=True, check=False)

    assert done.returncode == 0, done.stderr.decode()
