"""Accounts and what opens a door, temporary permissions, whom to call.

Of accounts nothing is part of the record, and no secret is kept.

A secret that we made ourselves has 128 random bits at least (a one-time code, which lives
minutes or a day, 60), so its plain SHA-256 cannot be searched; what people choose (passwords,
PINs) is kept by argon2id.
"""

from __future__ import annotations

from sqlalchemy import BigInteger, Boolean, Index, Integer, String, Table, Text, false
from sqlalchemy.orm import Mapped, mapped_column

from ringwright.db import Base, BigId, table_of


class ApiToken(Base):
    """One bearer token of a site, by its SHA-256."""

    __tablename__ = "api_token"

    hash: Mapped[str] = mapped_column(String(64), primary_key=True)
    site_id: Mapped[int] = mapped_column(Integer)
    role: Mapped[str] = mapped_column(String(32))
    actor: Mapped[str | None] = mapped_column(Text)
    made_us: Mapped[int] = mapped_column(BigInteger)
    label: Mapped[str] = mapped_column(Text, server_default="")
    scopes: Mapped[str | None] = mapped_column(Text)
    """Permissions it is narrowed to, parted by commas; None: all that its role may."""
    made_by: Mapped[str | None] = mapped_column(Text)
    ends_us: Mapped[int | None] = mapped_column(BigInteger)
    ended_us: Mapped[int | None] = mapped_column(BigInteger)


class Account(Base):
    """How one person proves to be that person. What they may do, the record says."""

    __tablename__ = "account"

    site_id: Mapped[int] = mapped_column(Integer, primary_key=True, autoincrement=False)
    code: Mapped[str] = mapped_column(Text, primary_key=True)
    password_hash: Mapped[str | None] = mapped_column(Text)
    pin_hash: Mapped[str | None] = mapped_column(Text)
    badge_hash: Mapped[str | None] = mapped_column(String(64), index=True)
    outside_subject: Mapped[str | None] = mapped_column(Text, index=True)
    """Who this is to the shop's own sign-on server."""
    made_us: Mapped[int] = mapped_column(BigInteger)
    shut_us: Mapped[int | None] = mapped_column(BigInteger)
    demo: Mapped[bool] = mapped_column(Boolean, server_default=false())
    """One of the demo's, whose password everybody may read; only a demo store has any."""


class SignedIn(Base):
    """One browser in which somebody is signed in."""

    __tablename__ = "signed_in"

    hash: Mapped[str] = mapped_column(String(64), primary_key=True)
    site_id: Mapped[int] = mapped_column(Integer)
    code: Mapped[str] = mapped_column(Text)
    way: Mapped[str] = mapped_column(String(16))
    """`password`, `code`, `sign-on`."""
    address: Mapped[str] = mapped_column(Text)
    agent: Mapped[str] = mapped_column(Text)
    made_us: Mapped[int] = mapped_column(BigInteger)
    seen_us: Mapped[int] = mapped_column(BigInteger)
    ended_us: Mapped[int | None] = mapped_column(BigInteger)

    __table_args__ = (Index("ix_signed_in_of", "site_id", "code"),)


class Device(Base):
    """A bench that several people share, or a wall screen that only shows."""

    __tablename__ = "device"

    hash: Mapped[str] = mapped_column(String(64), primary_key=True)
    site_id: Mapped[int] = mapped_column(Integer, index=True)
    kind: Mapped[str] = mapped_column(String(16))
    """`bench` or `wall`."""
    station: Mapped[str] = mapped_column(Text)
    label: Mapped[str] = mapped_column(Text)
    made_by: Mapped[str] = mapped_column(Text)
    made_us: Mapped[int] = mapped_column(BigInteger)
    seen_us: Mapped[int] = mapped_column(BigInteger)
    ended_us: Mapped[int | None] = mapped_column(BigInteger)


class OneTimeCode(Base):
    """A code that works once and for a short time."""

    __tablename__ = "one_time_code"

    hash: Mapped[str] = mapped_column(String(64), primary_key=True)
    site_id: Mapped[int] = mapped_column(Integer)
    purpose: Mapped[str] = mapped_column(String(16))
    """`first`, `password`, `bench`, `wall`, `signed`, `sign-on`."""
    code: Mapped[str] = mapped_column(Text)
    """Whose it is; for a device its station."""
    label: Mapped[str] = mapped_column(Text)
    made_by: Mapped[str] = mapped_column(Text)
    ends_us: Mapped[int] = mapped_column(BigInteger)
    used_us: Mapped[int | None] = mapped_column(BigInteger)


class AuditLine(Base):
    """What happened at the doors: sign-ins, denials, exports, changes of accounts."""

    __tablename__ = "audit_line"

    number: Mapped[int] = mapped_column(BigId, primary_key=True, autoincrement=True)
    site_id: Mapped[int] = mapped_column(Integer)
    at_us: Mapped[int] = mapped_column(BigInteger)
    kind: Mapped[str] = mapped_column(String(32))
    actor: Mapped[str] = mapped_column(Text)
    address: Mapped[str] = mapped_column(Text)
    subject: Mapped[str] = mapped_column(Text)
    why: Mapped[str] = mapped_column(Text)

    __table_args__ = (Index("ix_audit_line_at", "site_id", "at_us"),)


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


BESIDE: tuple[type[Base], ...] = (ApiToken, Account, Device, AuditLine, PersonContact)
"""What a backup holds beside the record; who is signed in just now is not among it."""


def kept_tables() -> list[Table]:
    """The tables of what a backup holds beside the record."""
    return [table_of(model) for model in BESIDE]
