"""Projections of machining plans, fixtures, spindle logs, boards; instants in microseconds."""

from __future__ import annotations

from sqlalchemy import BigInteger, Index, Integer, String, Text
from sqlalchemy.orm import Mapped, mapped_column

from ringwright.db import Base, BigId


class _Noted(Base):
    """What every row of this room begins with: it stands for one entry."""

    __abstract__ = True

    site_id: Mapped[int] = mapped_column(
        Integer, primary_key=True, autoincrement=False, sort_order=-6
    )
    code: Mapped[str] = mapped_column(Text, primary_key=True, sort_order=-5)
    number: Mapped[int] = mapped_column(
        BigId, primary_key=True, autoincrement=False, sort_order=-4
    )
    at_us: Mapped[int] = mapped_column(BigInteger, sort_order=-3)
    known_us: Mapped[int] = mapped_column(BigInteger, sort_order=-2)
    actor: Mapped[str] = mapped_column(Text, sort_order=-1)


class MachiningRevision(_Noted):
    """What machining of a product needs, as each plan of it says."""

    __tablename__ = "machining_revision"

    data: Mapped[str] = mapped_column(Text)


class FixtureCount(_Noted):
    """How many there are of a kind of fixture, as often as it was said."""

    __tablename__ = "fixture_count"

    many: Mapped[int] = mapped_column(Integer)
    name: Mapped[str] = mapped_column(Text)


class SpindleNote(_Noted):
    """One line of a spindle's log; `code` is station and week."""

    __tablename__ = "spindle_note"
    __table_args__ = (Index("ix_spindle_note_station", "site_id", "station", "at_us"),)

    station: Mapped[str] = mapped_column(Text)
    kind: Mapped[str] = mapped_column(String(32))
    serial: Mapped[str] = mapped_column(Text)
    step: Mapped[int] = mapped_column(Integer)
    reason: Mapped[str] = mapped_column(String(32))
    text: Mapped[str] = mapped_column(Text)


class BoardPlan(_Noted):
    """A board as it stood after each entry."""

    __tablename__ = "board_plan"

    kind: Mapped[str] = mapped_column(String(32))
    reason: Mapped[str] = mapped_column(Text)
    data: Mapped[str] = mapped_column(Text)
