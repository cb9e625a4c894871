"""Tokens of the API, temporary permissions, call-out lists, and names beside the record."""

from __future__ import annotations

from sqlalchemy import BigInteger, Boolean, Index, Integer, String, Text
from sqlalchemy.orm import Mapped, mapped_column

from ringwright.db import Base, BigId


class ApiToken(Base):
    """One bearer token of a site, by its SHA-256."""

    __tablename__ = "api_token"

    hash: Mapped[str] = mapped_column(String(64), primary_key=True)
    site_id: Mapped[int] = mapped_column(Integer)
    role: Mapped[str] = mapped_column(String(32))
    actor: Mapped[str | None] = mapped_column(Text)
    made_us: Mapped[int] = mapped_column(BigInteger)


class PermitGiven(Base):
    """A temporary permission: who may do what, until when, and how it was reviewed."""

    __tablename__ = "permit"
    __table_args__ = (Index("ix_permit_person", "site_id", "person", "until_us"),)

    site_id: Mapped[int] = mapped_column(Integer, primary_key=True, autoincrement=False)
    code: Mapped[str] = mapped_column(Text, primary_key=True)
    number: Mapped[int] = mapped_column(BigId)
    person: Mapped[str] = mapped_column(Text)
    permission: Mapped[str] = mapped_column(String(32))
    reason: Mapped[str] = mapped_column(Text)
    granted_by: Mapped[str] = mapped_column(Text)
    from_us: Mapped[int] = mapped_column(BigInteger)
    from_known_us: Mapped[int] = mapped_column(BigInteger)
    until_us: Mapped[int] = mapped_column(BigInteger)
    ended_us: Mapped[int] = mapped_column(BigInteger)
    ended_known_us: Mapped[int] = mapped_column(BigInteger)
    ended_by: Mapped[str | None] = mapped_column(Text)
    ended_why: Mapped[str | None] = mapped_column(Text)
    reviewed_us: Mapped[int] = mapped_column(BigInteger)
    reviewed_known_us: Mapped[int] = mapped_column(BigInteger)
    reviewed_by: Mapped[str | None] = mapped_column(Text)
    agreed: Mapped[bool | None] = mapped_column(Boolean)
    note: Mapped[str | None] = mapped_column(Text)


class CalloutList(Base):
    """Who was called for a role, in order, from when to when."""

    __tablename__ = "callout"

    site_id: Mapped[int] = mapped_column(Integer, primary_key=True, autoincrement=False)
    role: Mapped[str] = mapped_column(String(32), primary_key=True)
    number: Mapped[int] = mapped_column(BigId, primary_key=True, autoincrement=False)
    people: Mapped[str] = mapped_column(Text)
    """Codes as a JSON list."""
    from_us: Mapped[int] = mapped_column(BigInteger)
    from_known_us: Mapped[int] = mapped_column(BigInteger)
    to_us: Mapped[int] = mapped_column(BigInteger)
    to_known_us: Mapped[int] = mapped_column(BigInteger)
    actor: Mapped[str] = mapped_column(Text)


class PersonContact(Base):
    """A person's name and telephone, beside the record so that they can be erased."""

    __tablename__ = "person_contact"

    site_id: Mapped[int] = mapped_column(Integer, primary_key=True, autoincrement=False)
    code: Mapped[str] = mapped_column(Text, primary_key=True)
    name: Mapped[str] = mapped_column(Text)
    phone: Mapped[str] = mapped_column(Text)


BESIDE: tuple[type[Base], ...] = (ApiToken, PersonContact)
"""What a backup holds besides the record."""
