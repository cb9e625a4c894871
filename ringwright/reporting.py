"""The command `report`: the files of one product and week, for the host's scheduler to call."""

from __future__ import annotations

from argparse import Namespace
from pathlib import Path
from typing import TYPE_CHECKING

from ringwright.core.errors import Refused
from ringwright.opening import moment_asked, opened, tell_practice
from ringwright.settings import Settings, read_settings

if TYPE_CHECKING:
    from ringwright.report.model import Report


def report(arguments: Namespace) -> int:
    """Make the report of a week, put it into a folder, send it, or both."""
    from ringwright.report.filing import files_of, put
    from ringwright.report.mailing import check_mail, send

    settings = read_settings()
    if not arguments.to and not arguments.mail:
        raise Refused("say where it goes: --to FOLDER, --mail, or both")
    if arguments.mail:
        check_mail(settings)
    made = _made(settings, arguments)
    files = files_of(made)
    if arguments.to:
        put(Path(arguments.to), files)
    if arguments.mail:
        send(settings, made, files)
        print(f"Sent to {', '.join(settings.mail_to)}.")
    for name, body in files.items():
        print(f"{name}: {len(body)} bytes.")
    print(made.book.reconciliation[0])
    return 0


def _made(settings: Settings, arguments: Namespace) -> Report:
    """The report from one snapshot, in the language of the settings."""
    from ringwright.kit.numbers import Figures
    from ringwright.kit.words import words_of
    from ringwright.report.service import make_report, read_report

    as_of_us = moment_asked(arguments)
    with opened(settings) as ledger, ledger.read(arguments.site, as_of_us) as read:
        found = read_report(read, arguments.week, arguments.product)
        tell_practice(read.site)
    words = words_of(settings.locale)
    return make_report(found, words, Figures(words.tag))
