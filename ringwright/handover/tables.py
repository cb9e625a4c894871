"""Projection of the notes that shifts leave; instants are microseconds UTC."""

from __future__ import annotations

from sqlalchemy import BigInteger, Index, Integer, String, Text
from sqlalchemy.orm import Mapped, mapped_column

from ringwright.db import Base, BigId


class HandoverNote(Base):
    """One note, and who took it over; as of T it is still open unless that was known by T."""

    __tablename__ = "handover_note"
    __table_args__ = (
        Index("ix_handover_note_shift", "site_id", "shift_us"),
        Index("ix_handover_note_taken", "site_id", "taken_us", "shift_us"),
        Index("ix_handover_note_serial", "site_id", "serial"),
    )

    site_id: Mapped[int] = mapped_column(Integer, primary_key=True, autoincrement=False)
    subject: Mapped[str] = mapped_column(Text, primary_key=True)
    number: Mapped[int] = mapped_column(BigId, primary_key=True, autoincrement=False)
    shift_us: Mapped[int] = mapped_column(BigInteger)
    """When the shift it belongs to began."""
    at_us: Mapped[int] = mapped_column(BigInteger)
    known_us: Mapped[int] = mapped_column(BigInteger)
    actor: Mapped[str] = mapped_column(Text)
    text: Mapped[str] = mapped_column(Text)
    for_role: Mapped[str | None] = mapped_column(String(32))
    serial: Mapped[str | None] = mapped_column(Text)
    taken_us: Mapped[int] = mapped_column(BigInteger)
    taken_known_us: Mapped[int] = mapped_column(BigInteger)
    taken_by: Mapped[str] = mapped_column(Text)
