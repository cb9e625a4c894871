"""A report by mail: what arrives, what is refused, and that no secret is told."""

from __future__ import annotations

import socket
from collections.abc import Iterator
from email import message_from_bytes
from email.message import Message
from pathlib import Path
from typing import Any

import pytest
from aiosmtpd.controller import Controller
from aiosmtpd.smtp import AuthResult

from ringwright.cli import main
from ringwright.core.errors import Refused
from ringwright.report.filing import files_of
from ringwright.report.mailing import message_of
from ringwright.settings import read_settings
from tests.make import shop, week
from tests.make.reports import report

# The test's server warns that it takes passwords without TLS: here that is asked of it.
pytestmark = pytest.mark.filterwarnings("ignore:Requiring AUTH:UserWarning")

SECRET = "plum and oar 9"
ASKED = ("report", "--product", "VANE", "--week", "2026-W40", "--mail")
SET = {"RINGWRIGHT_MAIL_HOST": "127.0.0.1", "RINGWRIGHT_MAIL_SECURITY": "none",
       "RINGWRIGHT_MAIL_FROM": "cell@nord.example",
       "RINGWRIGHT_MAIL_TO": "chief@nord.example, planner@nord.example"}  # fmt: skip


class Box:
    """A mail server's memory: what came, and what it takes."""

    def __init__(self) -> None:
        self.came: list[tuple[str, list[str], Message]] = []
        self.answer = "250 taken"

    async def handle_DATA(self, _server: Any, _session: Any, envelope: Any) -> str:  # noqa: N802
        read = message_from_bytes(envelope.content)
        self.came.append((envelope.mail_from, envelope.rcpt_tos, read))
        return self.answer


def known(_server: Any, _session: Any, _envelope: Any, _kind: Any, given: Any) -> AuthResult:
    right = (given.login, given.password) == (b"cell", SECRET.encode())
    return AuthResult(success=right, handled=False)


def free_port() -> int:
    """A port that nobody listens on; the server's own helper cannot ask for any."""
    with socket.socket() as one:
        one.bind(("127.0.0.1", 0))
        return int(one.getsockname()[1])


@pytest.fixture
def box() -> Box:
    return Box()


@pytest.fixture
def server(box: Box) -> Iterator[Controller]:
    """A server on this machine that asks who sends."""
    controller = Controller(
        box, hostname="127.0.0.1", port=free_port(), authenticator=known,
        auth_require_tls=False, auth_required=True,
    )  # fmt: skip
    controller.start()
    yield controller
    controller.stop()


@pytest.fixture
def mailed(
    server: Controller, sqlite_url: str, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> Path:
    """The shop's store, and everything set about mail; the file with the password."""
    shop.open_shop(sqlite_url).store.close()
    password = tmp_path / "password"
    password.write_text(f"{SECRET}\n")
    user = {"RINGWRIGHT_MAIL_USER": "cell", "RINGWRIGHT_MAIL_PASSWORD_FILE": str(password)}
    store = {"RINGWRIGHT_DATABASE_URL": sqlite_url, "RINGWRIGHT_MAIL_PORT": str(server.port)}
    store["RINGWRIGHT_NOW"] = "2026-10-06T08:00:00+02:00"
    for name, value in (SET | user | store).items():
        monkeypatch.setenv(name, value)
    return password


def test_the_report_arrives_whole(
    mailed: Path, box: Box, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    out = tmp_path / "out"
    out.mkdir()
    assert main([*ASKED, "--to", str(out)]) == 0
    told = capsys.readouterr()
    assert "Sent to chief@nord.example, planner@nord.example." in told.out
    assert SECRET not in told.out + told.err

    ((sender, to, read),) = box.came
    assert sender == "cell@nord.example"
    assert to == ["chief@nord.example", "planner@nord.example"]
    text, *attached = [part for part in read.walk() if not part.is_multipart()]
    assert "2 released + 1 scrapped" in text.get_payload(decode=True).decode()  # type: ignore[union-attr]
    files = {part.get_filename(): part.get_payload(decode=True) for part in attached}
    assert files == {path.name: path.read_bytes() for path in out.iterdir()}
    assert len(files) == 4
    assert mailed.exists()


def test_a_wrong_password_or_a_refusing_server_is_told_by_its_code_alone(
    mailed: Path, box: Box, capsys: pytest.CaptureFixture[str]
) -> None:
    box.answer = f"552 too much of {SECRET}"
    assert main(list(ASKED)) == 2
    assert capsys.readouterr().err == "ringwright: the mail server refused it, code 552\n"

    mailed.write_text("wrong-one")
    assert main(list(ASKED)) == 2
    assert capsys.readouterr().err == "ringwright: the mail server refused it, code 535\n"
    mailed.unlink()
    assert main(list(ASKED)) == 2
    assert "MAIL_PASSWORD_FILE cannot be read" in capsys.readouterr().err


@pytest.mark.usefixtures("mailed")
def test_a_server_without_tls_is_told_nothing(
    box: Box, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    monkeypatch.setenv("RINGWRIGHT_MAIL_SECURITY", "starttls")
    assert main(list(ASKED)) == 2
    assert "failed: SMTPNotSupportedError" in capsys.readouterr().err
    assert box.came == []


def test_neither_folder_nor_mail_is_refused(capsys: pytest.CaptureFixture[str]) -> None:
    assert main(list(ASKED[:-1])) == 2
    assert "--to FOLDER, --mail, or both" in capsys.readouterr().err


@pytest.mark.parametrize(
    ("given", "why"),
    [
        ({"RINGWRIGHT_MAIL_HOST": "mail.example"}, "on this machine only"),
        ({"RINGWRIGHT_MAIL_SECURITY": "ssl"}, "starttls, tls or none"),
        ({"RINGWRIGHT_MAIL_PORT": "0"}, "is not a port"),
        ({"RINGWRIGHT_MAIL_USER": "cell"}, "go together"),
        ({"RINGWRIGHT_MAIL_FROM": "cell"}, "is no address"),
        ({"RINGWRIGHT_MAIL_FROM": "a@b.example\nBcc: c@d.example"}, "is no address"),
        ({"RINGWRIGHT_MAIL_TO": ""}, "names nobody"),
    ],
)
def test_settings_that_do_not_fit_are_refused(given: dict[str, str], why: str) -> None:
    with pytest.raises(Refused, match=why):
        read_settings(SET | given)


def test_the_subject_is_one_line_and_says_practice() -> None:
    strip = week.strip(name="Fan\r\nBcc: x@y.example")
    made = report(strip, practice="HOLMFELL-PRACTICE")
    message = message_of(read_settings(SET), made, files_of(made))

    assert "\n" not in message["Subject"]
    assert str(message["Subject"]).startswith("PRACTICE: ")
    assert "Bcc" not in message
    names = [part.get_filename() for part in message.iter_attachments()]
    assert all(str(name).startswith("PRACTICE-") for name in names)
