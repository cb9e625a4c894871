"""What the builder keeps beside the record: runs, and pools that somebody brought."""

from __future__ import annotations

from sqlalchemy import BigInteger, Boolean, Float, Index, Integer, String, Text
from sqlalchemy.orm import Mapped, mapped_column

from ringwright.db import Base


class PoolFile(Base):
    """A pool as it was brought, converted and checked; never changed afterwards."""

    __tablename__ = "pool_file"

    site_id: Mapped[int] = mapped_column(Integer, primary_key=True, autoincrement=False)
    code: Mapped[str] = mapped_column(String(16), primary_key=True)
    """Digest of what it holds: the same pool again is the same."""
    name: Mapped[str] = mapped_column(Text)
    product: Mapped[str] = mapped_column(Text)
    """The product it was checked against; empty for none."""
    blades: Mapped[str] = mapped_column(Text)
    """JSON, as `run_question.blades_data`."""
    actor: Mapped[str] = mapped_column(Text)
    at_us: Mapped[int] = mapped_column(BigInteger)


class SetRun(Base):
    """One longer search: what was asked, how far it is, what came out."""

    __tablename__ = "set_run"
    __table_args__ = (Index("ix_set_run_at", "site_id", "at_us"),)

    site_id: Mapped[int] = mapped_column(Integer, primary_key=True, autoincrement=False)
    code: Mapped[str] = mapped_column(String(16), primary_key=True)
    state: Mapped[str] = mapped_column(String(16))
    product: Mapped[str] = mapped_column(Text)
    pool: Mapped[str] = mapped_column(Text)
    """Code of the pool it ran on; empty for the stock as it was then."""
    question: Mapped[str] = mapped_column(Text)
    """JSON with every blade, so that it can be repeated."""
    answer: Mapped[str | None] = mapped_column(Text)
    share: Mapped[float] = mapped_column(Float(53))
    """Done so far, 0 to 1."""
    doing: Mapped[str] = mapped_column(Text)
    stop_asked: Mapped[bool] = mapped_column(Boolean)
    actor: Mapped[str] = mapped_column(Text)
    at_us: Mapped[int] = mapped_column(BigInteger)
    heard_us: Mapped[int] = mapped_column(BigInteger)
    """When it last gave a sign of life."""
