"""Projections of sets, rebuilt from the ledger at will; instants are microseconds UTC."""

from __future__ import annotations

from sqlalchemy import BigInteger, Index, Integer, String, Text
from sqlalchemy.orm import Mapped, mapped_column

from ringwright.db import Base, BigId


class BladeSetNow(Base):
    """Where a set stands now; see `ringwright.sets.rules.BladeSet`."""

    __tablename__ = "blade_set"
    __table_args__ = (Index("ix_blade_set_product", "site_id", "product", "state"),)

    site_id: Mapped[int] = mapped_column(Integer, primary_key=True, autoincrement=False)
    code: Mapped[str] = mapped_column(Text, primary_key=True)
    product: Mapped[str] = mapped_column(Text)
    state: Mapped[str] = mapped_column(String(16))
    since_us: Mapped[int] = mapped_column(BigInteger)
    first_seq: Mapped[int] = mapped_column(BigInteger)
    last_seq: Mapped[int] = mapped_column(BigInteger)
    data: Mapped[str] = mapped_column(Text)
    """The rest of the set as JSON."""


class Reservation(Base):
    """A blade is kept for one set: the row is unique, so that no other set can take it."""

    __tablename__ = "reservation"
    __table_args__ = (Index("ix_reservation_set", "site_id", "set_code"),)

    site_id: Mapped[int] = mapped_column(Integer, primary_key=True, autoincrement=False)
    set_code: Mapped[str] = mapped_column(Text)
    serial: Mapped[str] = mapped_column(Text, primary_key=True)
    slot: Mapped[int] = mapped_column(Integer)


class RotorRevision(Base):
    """What was entered about a product's rotor, each entry from its recording on."""

    __tablename__ = "rotor_revision"

    site_id: Mapped[int] = mapped_column(Integer, primary_key=True, autoincrement=False)
    product: Mapped[str] = mapped_column(Text, primary_key=True)
    number: Mapped[int] = mapped_column(BigId, primary_key=True, autoincrement=False)
    known_us: Mapped[int] = mapped_column(BigInteger)
    actor: Mapped[str] = mapped_column(Text)
    rotor: Mapped[str] = mapped_column(Text)
