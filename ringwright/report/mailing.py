"""A report sent by the shop's own mail server; nothing secret in what it says of a failure."""

from __future__ import annotations

import smtplib
import ssl
from email.message import EmailMessage
from typing import Final

from ringwright.core.errors import Refused
from ringwright.core.practice import WORD
from ringwright.report.files import MEDIA
from ringwright.report.model import Report
from ringwright.settings import Settings

WAIT_S: Final = 30
LONGEST_SUBJECT: Final = 200


def check_mail(settings: Settings) -> None:
    """Raise Refused where nothing is set about mail; before any work is done for it."""
    if not settings.mail_host:
        raise Refused("no mail server is set; set RINGWRIGHT_MAIL_HOST, _FROM and _TO")


def send(settings: Settings, report: Report, files: dict[str, bytes]) -> None:
    """Send the files to everybody who is set; raises Refused when the server does not take it.

    Whoever the server refuses among several is named: it took the mail for the others.
    """
    message = message_of(settings, report, files)
    password = _password(settings)
    try:
        with _opened(settings) as server:
            if settings.mail_user:
                server.login(settings.mail_user, password)
            refused = server.send_message(message)
    except smtplib.SMTPResponseException as trouble:
        # The code alone: what a server answers may repeat what it was told.
        raise Refused(f"the mail server refused it, code {trouble.smtp_code}") from None
    except smtplib.SMTPRecipientsRefused:
        raise Refused("the mail server takes mail for none of RINGWRIGHT_MAIL_TO") from None
    except (OSError, smtplib.SMTPException) as trouble:
        kind = type(trouble).__name__
        raise Refused(f"the mail server {settings.mail_host} failed: {kind}") from None
    if refused:
        raise Refused(f"sent, but not to {', '.join(sorted(refused))}: the server refused them")


def message_of(settings: Settings, report: Report, files: dict[str, bytes]) -> EmailMessage:
    """The mail: the answer, the account and the cut-off as text, the files beside it."""
    book = report.book
    message = EmailMessage()
    subject = f"{report.sheet.week} {report.product}: {book.answer}"
    subject = f"{WORD}: {subject}" if book.practice else subject
    shown = "".join(c if c.isprintable() else " " for c in subject)
    message["Subject"] = shown[:LONGEST_SUBJECT]
    message["From"] = settings.mail_from
    message["To"] = ", ".join(settings.mail_to)
    lines = [book.answer, "", book.reconciliation[0], "", book.cut_off]
    message.set_content("\n".join([WORD, "", *lines] if book.practice else lines) + "\n")
    for name, body in files.items():
        kind, _, subtype = MEDIA[name.rpartition(".")[2]].partition(";")[0].partition("/")
        message.add_attachment(body, maintype=kind, subtype=subtype, filename=name)
    return message


def _opened(settings: Settings) -> smtplib.SMTP:
    """The server, over TLS before anything is told it; its certificate must fit its name."""
    place = (settings.mail_host, settings.mail_port)
    context = ssl.create_default_context()
    if settings.mail_security == "tls":
        return smtplib.SMTP_SSL(*place, timeout=WAIT_S, context=context)
    server = smtplib.SMTP(*place, timeout=WAIT_S)
    if settings.mail_security == "starttls":
        try:
            server.starttls(context=context)
        except BaseException:
            server.close()
            raise
    return server


def _password(settings: Settings) -> str:
    if settings.mail_password_file is None:
        return ""
    try:
        return settings.mail_password_file.read_text("utf-8").strip()
    except (OSError, UnicodeDecodeError):
        file = settings.mail_password_file
        raise Refused(f"{file} of RINGWRIGHT_MAIL_PASSWORD_FILE cannot be read") from None
