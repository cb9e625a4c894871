"""Projections of furnaces, recipes and runs; instants are microseconds UTC."""

from __future__ import annotations

from sqlalchemy import BigInteger, Index, Integer, String, Text
from sqlalchemy.orm import Mapped, mapped_column

from ringwright.db import Base, BigId


class FurnaceNow(Base):
    """A furnace as it is set now, with how its recorder writes."""

    __tablename__ = "furnace_now"

    site_id: Mapped[int] = mapped_column(Integer, primary_key=True, autoincrement=False)
    code: Mapped[str] = mapped_column(Text, primary_key=True)
    number: Mapped[int] = mapped_column(BigInteger)
    data: Mapped[str] = mapped_column(Text)
    columns: Mapped[str] = mapped_column(Text)
    """How its recorder writes, as JSON; `null` while nobody said."""
    renewed: Mapped[str] = mapped_column(Text)
    """Channel to when its thermocouple was renewed, as JSON."""


class FurnaceProof(Base):
    """One survey, accuracy test, leak rate or gas purity."""

    __tablename__ = "furnace_proof"

    site_id: Mapped[int] = mapped_column(Integer, primary_key=True, autoincrement=False)
    code: Mapped[str] = mapped_column(Text, primary_key=True)
    number: Mapped[int] = mapped_column(BigId, primary_key=True, autoincrement=False)
    at_us: Mapped[int] = mapped_column(BigInteger)
    known_us: Mapped[int] = mapped_column(BigInteger)
    actor: Mapped[str] = mapped_column(Text)
    what: Mapped[str] = mapped_column(String(16))
    data: Mapped[str] = mapped_column(Text)


class RecipeRevision(Base):
    """A recipe as each of its revisions has it."""

    __tablename__ = "recipe_revision"

    site_id: Mapped[int] = mapped_column(Integer, primary_key=True, autoincrement=False)
    code: Mapped[str] = mapped_column(Text, primary_key=True)
    number: Mapped[int] = mapped_column(BigId, primary_key=True, autoincrement=False)
    revision: Mapped[str] = mapped_column(Text)
    known_us: Mapped[int] = mapped_column(BigInteger)
    actor: Mapped[str] = mapped_column(Text)
    data: Mapped[str] = mapped_column(Text)


class FurnaceRun(Base):
    """A run as it stands; see `ringwright.furnaces.rules.Run`."""

    __tablename__ = "furnace_run"
    __table_args__ = (
        Index("ix_furnace_run_furnace", "site_id", "furnace", "opened_us"),
        Index("ix_furnace_run_state", "site_id", "state"),
        # With what runs of a revision are counted by.
        Index(
            "ix_furnace_run_recipe",
            *("site_id", "recipe", "opened_us", "revision", "state", "started_us"),
        ),
        Index("ix_furnace_run_started", "site_id", "furnace", "started_us"),
        Index("ix_furnace_run_ended", "site_id", "ended_us", "started_us"),
    )

    site_id: Mapped[int] = mapped_column(Integer, primary_key=True, autoincrement=False)
    code: Mapped[str] = mapped_column(Text, primary_key=True)
    furnace: Mapped[str] = mapped_column(Text)
    recipe: Mapped[str] = mapped_column(Text)
    revision: Mapped[str] = mapped_column(Text)
    state: Mapped[str] = mapped_column(String(16))
    opened_us: Mapped[int] = mapped_column(BigInteger)
    started_us: Mapped[int | None] = mapped_column(BigInteger)
    ended_us: Mapped[int | None] = mapped_column(BigInteger)
    number: Mapped[int] = mapped_column(BigInteger)
    """Its first entry."""
    last_seq: Mapped[int] = mapped_column(BigInteger)
    data: Mapped[str] = mapped_column(Text)
    """The rest of the run as JSON."""


class RunPart(Base):
    """A part in the load of a run."""

    __tablename__ = "run_part"
    __table_args__ = (Index("ix_run_part_serial", "site_id", "serial"),)

    site_id: Mapped[int] = mapped_column(Integer, primary_key=True, autoincrement=False)
    run: Mapped[str] = mapped_column(Text, primary_key=True)
    serial: Mapped[str] = mapped_column(Text, primary_key=True)
    step: Mapped[int] = mapped_column(Integer)
    position: Mapped[str] = mapped_column(Text)
