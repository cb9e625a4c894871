"""Route-card revisions as projected; a revision never changes once it is there."""

from __future__ import annotations

from sqlalchemy import BigInteger, Float, String, Text
from sqlalchemy.orm import Mapped, mapped_column

from ringwright.db import Base, BigId


class RouteRevision(Base):
    """One revision of a product's route card."""

    __tablename__ = "route_revision"

    site_id: Mapped[int] = mapped_column(BigId, primary_key=True, autoincrement=False)
    product: Mapped[str] = mapped_column(Text, primary_key=True)
    revision: Mapped[str] = mapped_column(Text, primary_key=True)
    number: Mapped[int] = mapped_column(BigInteger)
    """Entry number of the fact: later ones are newer."""
    effective_us: Mapped[int] = mapped_column(BigInteger)
    name: Mapped[str] = mapped_column(Text)
    family: Mapped[str] = mapped_column(String(32))
    target_per_week: Mapped[float | None] = mapped_column(Float(53))
    data: Mapped[str] = mapped_column(Text)
