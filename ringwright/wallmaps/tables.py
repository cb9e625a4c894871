"""Projections of wall plans and of sets of wall readings; instants are microseconds UTC."""

from __future__ import annotations

from sqlalchemy import BigInteger, Float, Index, Integer, String, Text
from sqlalchemy.orm import Mapped, mapped_column

from ringwright.db import Base, BigId


class WallPlanRevision(Base):
    """A wall plan as each of its revisions has it."""

    __tablename__ = "wall_plan"

    site_id: Mapped[int] = mapped_column(Integer, primary_key=True, autoincrement=False)
    product: Mapped[str] = mapped_column(Text, primary_key=True)
    number: Mapped[int] = mapped_column(BigId, primary_key=True, autoincrement=False)
    revision: Mapped[str] = mapped_column(Text)
    effective_from: Mapped[str] = mapped_column(String(10))
    known_us: Mapped[int] = mapped_column(BigInteger)
    actor: Mapped[str] = mapped_column(Text)
    reason: Mapped[str] = mapped_column(Text)
    data: Mapped[str] = mapped_column(Text)


class WallReadSet(Base):
    """One set of wall readings; the readings themselves are kept under `digest`."""

    __tablename__ = "wall_set"
    __table_args__ = (Index("ix_wall_set_product", "site_id", "product", "at_us"),)

    site_id: Mapped[int] = mapped_column(Integer, primary_key=True, autoincrement=False)
    serial: Mapped[str] = mapped_column(Text, primary_key=True)
    number: Mapped[int] = mapped_column(BigId, primary_key=True, autoincrement=False)
    product: Mapped[str] = mapped_column(Text)
    revision: Mapped[str] = mapped_column(Text)
    step: Mapped[int] = mapped_column(Integer)
    method: Mapped[str] = mapped_column(String(16))
    digest: Mapped[str] = mapped_column(String(64))
    readings: Mapped[int] = mapped_column(Integer)
    gauge: Mapped[str] = mapped_column(Text)
    u_mm: Mapped[float | None] = mapped_column(Float)
    source: Mapped[str] = mapped_column(Text)
    file_digest: Mapped[str] = mapped_column(String(64))
    at_us: Mapped[int] = mapped_column(BigInteger)
    known_us: Mapped[int] = mapped_column(BigInteger)
    actor: Mapped[str] = mapped_column(Text)
    withdrawn: Mapped[int | None] = mapped_column(BigInteger)
    """The entry that withdrew it."""
    withdrawn_known_us: Mapped[int | None] = mapped_column(BigInteger)
    withdrawn_by: Mapped[str] = mapped_column(Text)
    withdrawn_why: Mapped[str] = mapped_column(Text)
