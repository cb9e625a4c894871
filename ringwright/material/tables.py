"""Projections of alloys, lots and swarf containers; instants are microseconds UTC."""

from __future__ import annotations

from sqlalchemy import BigInteger, Boolean, Index, Integer, String, Text
from sqlalchemy.orm import Mapped, mapped_column

from ringwright.db import Base, BigId


class AlloyRevision(Base):
    """An alloy as each word about it has it."""

    __tablename__ = "alloy_revision"

    site_id: Mapped[int] = mapped_column(Integer, primary_key=True, autoincrement=False)
    code: Mapped[str] = mapped_column(Text, primary_key=True)
    number: Mapped[int] = mapped_column(BigId, primary_key=True, autoincrement=False)
    known_us: Mapped[int] = mapped_column(BigInteger)
    actor: Mapped[str] = mapped_column(Text)
    data: Mapped[str] = mapped_column(Text)


class LotRevision(Base):
    """A lot of material as each word about it has it."""

    __tablename__ = "lot_revision"

    site_id: Mapped[int] = mapped_column(Integer, primary_key=True, autoincrement=False)
    code: Mapped[str] = mapped_column(Text, primary_key=True)
    number: Mapped[int] = mapped_column(BigId, primary_key=True, autoincrement=False)
    at_us: Mapped[int] = mapped_column(BigInteger)
    known_us: Mapped[int] = mapped_column(BigInteger)
    actor: Mapped[str] = mapped_column(Text)
    reason: Mapped[str] = mapped_column(Text)
    data: Mapped[str] = mapped_column(Text)


class ContainerNow(Base):
    """A swarf container as it stands now."""

    __tablename__ = "swarf_container"
    __table_args__ = (Index("ix_swarf_container_state", "site_id", "state"),)

    site_id: Mapped[int] = mapped_column(Integer, primary_key=True, autoincrement=False)
    code: Mapped[str] = mapped_column(Text, primary_key=True)
    number: Mapped[int] = mapped_column(BigInteger)
    """Its first entry."""
    alloy: Mapped[str] = mapped_column(Text)
    swarf: Mapped[str] = mapped_column(String(16))
    state: Mapped[str] = mapped_column(String(16))
    mixed: Mapped[bool] = mapped_column(Boolean)
    lot: Mapped[str] = mapped_column(Text)
    opened_us: Mapped[int] = mapped_column(BigInteger)
    last_us: Mapped[int] = mapped_column(BigInteger)
    last_seq: Mapped[int] = mapped_column(BigInteger)


class ContainerEntry(Base):
    """One thing that happened to a container, found by the part its swarf is of."""

    __tablename__ = "swarf_entry"
    __table_args__ = (
        Index("ix_swarf_entry_serial", "site_id", "serial"),
        Index("ix_swarf_entry_at", "site_id", "at_us"),
    )

    site_id: Mapped[int] = mapped_column(Integer, primary_key=True, autoincrement=False)
    code: Mapped[str] = mapped_column(Text, primary_key=True)
    number: Mapped[int] = mapped_column(BigId, primary_key=True, autoincrement=False)
    kind: Mapped[str] = mapped_column(String(32))
    at_us: Mapped[int] = mapped_column(BigInteger)
    known_us: Mapped[int] = mapped_column(BigInteger)
    actor: Mapped[str] = mapped_column(Text)
    station: Mapped[str] = mapped_column(Text)
    corrects: Mapped[int | None] = mapped_column(BigInteger)
    serial: Mapped[str | None] = mapped_column(Text)
    data: Mapped[str] = mapped_column(Text)


class AddedMaterial(Base):
    """Material that was put on a part."""

    __tablename__ = "material_added"

    site_id: Mapped[int] = mapped_column(Integer, primary_key=True, autoincrement=False)
    serial: Mapped[str] = mapped_column(Text, primary_key=True)
    number: Mapped[int] = mapped_column(BigId, primary_key=True, autoincrement=False)
    at_us: Mapped[int] = mapped_column(BigInteger)
    known_us: Mapped[int] = mapped_column(BigInteger)
    gone_known_us: Mapped[int] = mapped_column(BigInteger)
    """When it was known that it does not count."""
    actor: Mapped[str] = mapped_column(Text)
    step: Mapped[int] = mapped_column(Integer)
    data: Mapped[str] = mapped_column(Text)
