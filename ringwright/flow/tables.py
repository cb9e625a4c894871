"""Projection of the weeks that were published."""

from __future__ import annotations

from sqlalchemy import BigInteger, Index, Integer, String, Text
from sqlalchemy.orm import Mapped, mapped_column

from ringwright.db import Base, BigId


class PublishedWeek(Base):
    """One edition of a product's week as it was published."""

    __tablename__ = "published_week"
    __table_args__ = (Index("ix_published_week_week", "site_id", "week", "product"),)

    site_id: Mapped[int] = mapped_column(Integer, primary_key=True, autoincrement=False)
    subject: Mapped[str] = mapped_column(Text, primary_key=True)
    number: Mapped[int] = mapped_column(BigId, primary_key=True, autoincrement=False)
    product: Mapped[str] = mapped_column(Text)
    week: Mapped[str] = mapped_column(String(8))
    at_us: Mapped[int] = mapped_column(BigInteger)
    known_us: Mapped[int] = mapped_column(BigInteger)
    actor: Mapped[str] = mapped_column(Text)
    head_seq: Mapped[int] = mapped_column(BigInteger)
    head_hash: Mapped[str] = mapped_column(String(64))
    output: Mapped[int] = mapped_column(Integer)
    reason: Mapped[str | None] = mapped_column(Text)
    numbers: Mapped[str] = mapped_column(Text)
