"""Projections of weld plans and of rings; instants are microseconds UTC.

A row of a ring's facts was believed as of T when `known_us < T <= withdrawn_us`.
"""

from __future__ import annotations

from sqlalchemy import BigInteger, Boolean, Float, Index, Integer, String, Text
from sqlalchemy.orm import Mapped, mapped_column

from ringwright.db import Base, BigId


class WeldPlanRevision(Base):
    """A weld plan as each of its revisions has it."""

    __tablename__ = "weld_plan"

    site_id: Mapped[int] = mapped_column(Integer, primary_key=True, autoincrement=False)
    product: Mapped[str] = mapped_column(Text, primary_key=True)
    number: Mapped[int] = mapped_column(BigId, primary_key=True, autoincrement=False)
    revision: Mapped[str] = mapped_column(Text)
    effective_us: Mapped[int] = mapped_column(BigInteger)
    known_us: Mapped[int] = mapped_column(BigInteger)
    actor: Mapped[str] = mapped_column(Text)
    data: Mapped[str] = mapped_column(Text)


class WeldRing(Base):
    """The ring of a part as it stands now."""

    __tablename__ = "weld_ring"
    __table_args__ = (Index("ix_weld_ring_done", "site_id", "done_us"),)

    site_id: Mapped[int] = mapped_column(Integer, primary_key=True, autoincrement=False)
    serial: Mapped[str] = mapped_column(Text, primary_key=True)
    product: Mapped[str] = mapped_column(Text)
    revision: Mapped[str] = mapped_column(Text)
    welds: Mapped[int] = mapped_column(Integer)
    open: Mapped[int] = mapped_column(Integer)
    """Welds that are not accepted."""
    to_read: Mapped[int] = mapped_column(Integer)
    at_limit: Mapped[int] = mapped_column(Integer)
    repairs: Mapped[int] = mapped_column(Integer)
    begun_us: Mapped[int] = mapped_column(BigInteger)
    """When its first fact was known."""
    done_us: Mapped[int] = mapped_column(BigInteger)
    """When the last weld became accepted, as known; FOREVER_US while one is open."""
    last_seq: Mapped[int] = mapped_column(BigInteger)


class _OfRing(Base):
    """What every row of a ring's facts carries."""

    __abstract__ = True

    site_id: Mapped[int] = mapped_column(
        Integer, primary_key=True, autoincrement=False, sort_order=-3
    )
    serial: Mapped[str] = mapped_column(Text, primary_key=True, sort_order=-2)
    number: Mapped[int] = mapped_column(
        BigId, primary_key=True, autoincrement=False, sort_order=-1
    )
    """Its entry."""


class VanePosition(_OfRing):
    """A vane's position as it was read once."""

    __tablename__ = "vane_position"

    vane: Mapped[int] = mapped_column(Integer, primary_key=True, autoincrement=False)
    at_us: Mapped[int] = mapped_column(BigInteger)
    known_us: Mapped[int] = mapped_column(BigInteger)
    withdrawn_us: Mapped[int] = mapped_column(BigInteger)
    actor: Mapped[str] = mapped_column(Text)
    radial_mm: Mapped[float] = mapped_column(Float)
    axial_mm: Mapped[float] = mapped_column(Float)
    gauge: Mapped[str] = mapped_column(Text)


class WeldPass(_OfRing):
    """One time a weld was made: 0 the first, n its n-th repair."""

    __tablename__ = "weld_pass"
    __table_args__ = (Index("ix_weld_pass_product", "site_id", "product", "at_us"),)

    weld: Mapped[str] = mapped_column(String(16), primary_key=True)
    product: Mapped[str] = mapped_column(Text)
    passed: Mapped[int] = mapped_column(Integer)
    at_us: Mapped[int] = mapped_column(BigInteger)
    known_us: Mapped[int] = mapped_column(BigInteger)
    withdrawn_us: Mapped[int] = mapped_column(BigInteger)
    welder: Mapped[str] = mapped_column(Text)
    procedure: Mapped[str] = mapped_column(Text)
    filler_lot: Mapped[str] = mapped_column(Text)
    oxygen_ppm: Mapped[float] = mapped_column(Float)
    colour: Mapped[str] = mapped_column(Text)


class WeldFilm(_OfRing):
    """One exposure; `good` is false when the wire asked was not seen."""

    __tablename__ = "weld_film"

    film: Mapped[str] = mapped_column(Text)
    product: Mapped[str] = mapped_column(Text)
    at_us: Mapped[int] = mapped_column(BigInteger)
    known_us: Mapped[int] = mapped_column(BigInteger)
    withdrawn_us: Mapped[int] = mapped_column(BigInteger)
    radiographer: Mapped[str] = mapped_column(Text)
    technique: Mapped[str] = mapped_column(Text)
    technique_class: Mapped[str] = mapped_column(String(4))
    iqi: Mapped[str] = mapped_column(String(8))
    wire: Mapped[int] = mapped_column(Integer)
    good: Mapped[bool] = mapped_column(Boolean)
    file: Mapped[str] = mapped_column(Text)
    welds: Mapped[str] = mapped_column(Text)
    """Its welds as a JSON list."""


class WeldVerdict(_OfRing):
    """The verdict of one reading of a film on one weld."""

    __tablename__ = "weld_verdict"
    __table_args__ = (Index("ix_weld_verdict_product", "site_id", "product", "at_us"),)

    weld: Mapped[str] = mapped_column(String(16), primary_key=True)
    product: Mapped[str] = mapped_column(Text)
    film: Mapped[str] = mapped_column(Text)
    passed: Mapped[int] = mapped_column(Integer)
    """Number of the pass it is a verdict on."""
    at_us: Mapped[int] = mapped_column(BigInteger)
    known_us: Mapped[int] = mapped_column(BigInteger)
    withdrawn_us: Mapped[int] = mapped_column(BigInteger)
    reader: Mapped[str] = mapped_column(Text)
    accepted: Mapped[bool] = mapped_column(Boolean)
    again: Mapped[bool] = mapped_column(Boolean)
    """True when the weld was radiographed again for a repair beside it."""


class WeldDefect(_OfRing):
    """One thing found in a weld on a film."""

    __tablename__ = "weld_defect"

    weld: Mapped[str] = mapped_column(String(16), primary_key=True)
    place: Mapped[int] = mapped_column(Integer, primary_key=True, autoincrement=False)
    """Its place among those of the reading, from 0."""
    product: Mapped[str] = mapped_column(Text)
    passed: Mapped[int] = mapped_column(Integer)
    at_us: Mapped[int] = mapped_column(BigInteger)
    known_us: Mapped[int] = mapped_column(BigInteger)
    withdrawn_us: Mapped[int] = mapped_column(BigInteger)
    kind: Mapped[str] = mapped_column(String(8))
    """Number of ISO 6520-1."""
    size_mm: Mapped[float] = mapped_column(Float)
    at_mm: Mapped[float] = mapped_column(Float)
