"""Tokens of the API: only their hash is kept."""

from __future__ import annotations

from sqlalchemy import BigInteger, Integer, String, Text
from sqlalchemy.orm import Mapped, mapped_column

from ringwright.db import Base


class ApiToken(Base):
    """One bearer token of a site, by its SHA-256."""

    __tablename__ = "api_token"

    hash: Mapped[str] = mapped_column(String(64), primary_key=True)
    site_id: Mapped[int] = mapped_column(Integer)
    role: Mapped[str] = mapped_column(String(32))
    actor: Mapped[str | None] = mapped_column(Text)
    made_us: Mapped[int] = mapped_column(BigInteger)
