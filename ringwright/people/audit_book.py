"""The audit of the doors as a list and as a file."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any, Final

from sqlalchemy import func, select

from ringwright.kit.cutoff import cut_off
from ringwright.kit.numbers import Figures
from ringwright.kit.sheets import MOMENT, Book, Cell, Column, Sheet
from ringwright.kit.words import Words
from ringwright.ledger.drawn import snapshot_of
from ringwright.ledger.service import Read
from ringwright.people.auditing import KINDS
from ringwright.people.tables import AuditLine

SHOWN: Final = 200


def read_audit(
    read: Read, kind: str, who: str, most: int | None = SHOWN
) -> tuple[Sequence[Any], int]:
    """(lines, how many there are in all), the newest first; of one kind, of one person."""
    wanted = [AuditLine.site_id == read.site.id]
    if kind in KINDS:
        wanted.append(AuditLine.kind == kind)
    if who:
        wanted.append(AuditLine.actor == who)
    query = select(AuditLine).where(*wanted).order_by(AuditLine.number.desc())
    total = read.connection.execute(select(func.count()).select_from(AuditLine).where(*wanted))
    lines = read.connection.execute(query if most is None else query.limit(most)).all()
    return lines, int(total.scalar_one())


def audit_book(read: Read, lines: Sequence[Any], words: Words, show: Figures) -> Book:
    """Every line as a file to keep."""
    _ = words._
    return Book(
        page="audit",
        question=_("What happened at the doors?"),
        answer=_("%(n)s lines", n=show.count(len(lines))),
        filters=((_("Site"), read.site.name or read.site.code),),
        cut_off=cut_off(snapshot_of(read), words, show),
        zone=read.site.zone,
        at_us=read.now_us,
        sheets=(_sheet(read, lines, words, show),),
    )


def _sheet(read: Read, lines: Sequence[Any], words: Words, show: Figures) -> Sheet:
    _ = words._
    columns = (
        Column(name=_("When"), kind=MOMENT, head=True),
        Column(name=_("What")),
        Column(name=_("Who")),
        Column(name=_("From")),
        Column(name=_("About")),
        Column(name=_("How or why")),
    )
    rows = tuple(
        (
            Cell(show.full(line.at_us, read.site.zone), line.at_us),
            *(
                Cell(text, text)
                for text in (
                    _(KINDS.get(line.kind, line.kind)),
                    line.actor,
                    line.address,
                    line.subject,
                    line.why,
                )
            ),
        )
        for line in lines
    )
    return Sheet(code="audit", title=_("Audit of the doors"), columns=columns, rows=rows)
