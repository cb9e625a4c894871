"""What is attached, by its content. Nothing here is ever changed or taken away."""

from __future__ import annotations

from sqlalchemy import BigInteger, Integer, LargeBinary, String
from sqlalchemy.orm import Mapped, mapped_column

from ringwright.db import Base


class Attachment(Base):
    """Bytes of one site under their SHA-256; the record's facts name them by it."""

    __tablename__ = "attachment"

    site_id: Mapped[int] = mapped_column(Integer, primary_key=True, autoincrement=False)
    digest: Mapped[str] = mapped_column(String(64), primary_key=True)
    media: Mapped[str] = mapped_column(String(40))
    kept_us: Mapped[int] = mapped_column(BigInteger)
    content: Mapped[bytes] = mapped_column(LargeBinary)
