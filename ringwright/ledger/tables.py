"""Tables of the record itself; nothing here is ever updated but the head of a site."""

from __future__ import annotations

from sqlalchemy import BigInteger, Index, Integer, LargeBinary, SmallInteger, String, Text, text
from sqlalchemy.orm import Mapped, mapped_column

from ringwright.db import Base, BigId


class Event(Base):
    """One fact of one site, in its order; instants are microseconds UTC."""

    __tablename__ = "event"
    __table_args__ = (
        Index("ix_event_subject", "site_id", "subject_kind", "subject", "site_seq"),
        Index("ux_event_key", "site_id", "key", unique=True),
        # Few entries correct another: a shift's are found without reading the whole record.
        Index(
            "ix_event_corrects",
            *("site_id", "at_us"),
            sqlite_where=text("corrects IS NOT NULL"),
            postgresql_where=text("corrects IS NOT NULL"),
        ),
        # What is booked of runs, sets and things shut is little beside what is of parts.
        Index(
            "ix_event_others",
            *("site_id", "at_us"),
            sqlite_where=text("subject_kind <> 'part'"),
            postgresql_where=text("subject_kind <> 'part'"),
        ),
    )

    site_id: Mapped[int] = mapped_column(Integer, primary_key=True)
    site_seq: Mapped[int] = mapped_column(BigId, primary_key=True, autoincrement=False)
    key: Mapped[str | None] = mapped_column(String(200))
    subject_kind: Mapped[str] = mapped_column(String(32))
    subject: Mapped[str] = mapped_column(Text)
    kind: Mapped[str] = mapped_column(String(32))
    v: Mapped[int] = mapped_column(SmallInteger)
    at_us: Mapped[int] = mapped_column(BigInteger)
    recorded_at_us: Mapped[int] = mapped_column(BigInteger)
    known_at_us: Mapped[int] = mapped_column(BigInteger)
    zone: Mapped[str] = mapped_column(String(64))
    actor: Mapped[str] = mapped_column(Text)
    approver: Mapped[str | None] = mapped_column(Text)
    station: Mapped[str] = mapped_column(Text)
    corrects: Mapped[int | None] = mapped_column(BigInteger)
    payload: Mapped[str] = mapped_column(Text)
    prev_hash: Mapped[bytes] = mapped_column(LargeBinary(32))
    hash: Mapped[bytes] = mapped_column(LargeBinary(32))


class LedgerHead(Base):
    """Where a site's record ends. The one row that moves, under the site's lock."""

    __tablename__ = "ledger_head"
    __table_args__ = (Index("uq_ledger_head_practice_of", "practice_of", unique=True),)

    site_id: Mapped[int] = mapped_column(Integer, primary_key=True, autoincrement=False)
    code: Mapped[str] = mapped_column(String(200), unique=True)
    seq: Mapped[int] = mapped_column(BigInteger)
    hash: Mapped[bytes] = mapped_column(LargeBinary(32))
    practice_of: Mapped[str | None] = mapped_column(String(200))
    """Code of the real site that this one is for practising; None for a real site. The chain
    begins from it, and a trigger refuses to change it."""


class BookingKey(Base):
    """A key that was used: what was asked with it, and the answer given to it first."""

    __tablename__ = "booking_key"

    site_id: Mapped[int] = mapped_column(Integer, primary_key=True)
    key: Mapped[str] = mapped_column(String(200), primary_key=True)
    operation: Mapped[str] = mapped_column(String(40))
    digest: Mapped[str] = mapped_column(String(64))
    site_seq: Mapped[int | None] = mapped_column(BigInteger)
    answer: Mapped[str | None] = mapped_column(Text)


class Refusal(Base):
    """A try that the rules refused: kept for the audit, outside the ledger."""

    __tablename__ = "refusal"

    id: Mapped[int] = mapped_column(BigId, primary_key=True, autoincrement=True)
    site_id: Mapped[int] = mapped_column(Integer)
    at_us: Mapped[int] = mapped_column(BigInteger)
    operation: Mapped[str] = mapped_column(String(40))
    actor: Mapped[str] = mapped_column(Text)
    subject: Mapped[str] = mapped_column(Text)
    code: Mapped[str] = mapped_column(String(40))
    why: Mapped[str] = mapped_column(Text)


FORM = 5
"""The form of the projections; counted on whenever one gets other columns or rules."""


class ProjectionState(Base):
    """Which form of the projections a site's rows have; another one is rebuilt at once."""

    __tablename__ = "projection_state"

    site_id: Mapped[int] = mapped_column(Integer, primary_key=True, autoincrement=False)
    form: Mapped[int] = mapped_column(Integer)
