"""Projections of a site's ground rules."""

from __future__ import annotations

from sqlalchemy import BigInteger, Boolean, Float, Index, Integer, String, Text
from sqlalchemy.orm import Mapped, mapped_column

from ringwright.db import Base, BigId


class SiteInfo(Base):
    """A site's name, zone and week."""

    __tablename__ = "site_info"

    site_id: Mapped[int] = mapped_column(BigId, primary_key=True, autoincrement=False)
    code: Mapped[str] = mapped_column(Text, primary_key=True)
    name: Mapped[str] = mapped_column(Text)
    zone: Mapped[str] = mapped_column(String(64))
    week_starts: Mapped[str] = mapped_column(String(32))


class CalendarRevision(Base):
    """One calendar from one date on."""

    __tablename__ = "calendar_revision"

    site_id: Mapped[int] = mapped_column(BigId, primary_key=True, autoincrement=False)
    code: Mapped[str] = mapped_column(Text, primary_key=True)
    number: Mapped[int] = mapped_column(BigInteger, primary_key=True, autoincrement=False)
    known_us: Mapped[int] = mapped_column(BigInteger)
    data: Mapped[str] = mapped_column(Text)


class StationNow(Base):
    """A station as it is now."""

    __tablename__ = "station_now"

    site_id: Mapped[int] = mapped_column(BigId, primary_key=True, autoincrement=False)
    code: Mapped[str] = mapped_column(Text, primary_key=True)
    number: Mapped[int] = mapped_column(BigInteger)
    data: Mapped[str] = mapped_column(Text)


class PersonNow(Base):
    """A person as they act now."""

    __tablename__ = "person_now"

    site_id: Mapped[int] = mapped_column(BigId, primary_key=True, autoincrement=False)
    code: Mapped[str] = mapped_column(Text, primary_key=True)
    number: Mapped[int] = mapped_column(BigInteger)
    data: Mapped[str] = mapped_column(Text)


class CarrierStay(Base):
    """Where a container or trolley stood, and from when to when."""

    __tablename__ = "carrier_stay"
    __table_args__ = (
        Index("ix_carrier_stay_place", "site_id", "place", "to_us"),
        Index("ix_carrier_stay_to", "site_id", "to_us"),
    )

    site_id: Mapped[int] = mapped_column(BigId, primary_key=True, autoincrement=False)
    code: Mapped[str] = mapped_column(Text, primary_key=True)
    number: Mapped[int] = mapped_column(BigId, primary_key=True, autoincrement=False)
    place: Mapped[str] = mapped_column(Text)
    from_us: Mapped[int] = mapped_column(BigInteger)
    from_known_us: Mapped[int] = mapped_column(BigInteger)
    to_us: Mapped[int] = mapped_column(BigInteger)
    to_known_us: Mapped[int] = mapped_column(BigInteger)
    actor: Mapped[str] = mapped_column(Text)


class Shutting(Base):
    """A span in which a station, recipe, lot or step was shut."""

    __tablename__ = "shutting"
    __table_args__ = (Index("ix_shutting_to", "site_id", "to_us"),)

    site_id: Mapped[int] = mapped_column(Integer, primary_key=True, autoincrement=False)
    subject: Mapped[str] = mapped_column(Text, primary_key=True)
    number: Mapped[int] = mapped_column(BigId, primary_key=True, autoincrement=False)
    kind: Mapped[str] = mapped_column(String(16))
    code: Mapped[str] = mapped_column(Text)
    reason: Mapped[str] = mapped_column(Text)
    opener: Mapped[str] = mapped_column(Text)
    from_us: Mapped[int] = mapped_column(BigInteger)
    from_known_us: Mapped[int] = mapped_column(BigInteger)
    to_us: Mapped[int] = mapped_column(BigInteger)
    to_known_us: Mapped[int] = mapped_column(BigInteger)
    actor: Mapped[str] = mapped_column(Text)
    opened_by: Mapped[str | None] = mapped_column(Text)


class AuthorisationGiven(Base):
    """One authorisation of a person as it was granted, and when it was withdrawn."""

    __tablename__ = "authorisation"
    __table_args__ = (Index("ix_authorisation_method", "site_id", "method"),)

    site_id: Mapped[int] = mapped_column(Integer, primary_key=True, autoincrement=False)
    subject: Mapped[str] = mapped_column(Text, primary_key=True)
    number: Mapped[int] = mapped_column(BigId, primary_key=True, autoincrement=False)
    person: Mapped[str] = mapped_column(Text)
    method: Mapped[str] = mapped_column(Text)
    level: Mapped[int] = mapped_column(Integer)
    valid_from: Mapped[str] = mapped_column(String(10))
    valid_to: Mapped[str] = mapped_column(String(10))
    eyesight_to: Mapped[str | None] = mapped_column(String(10))
    certificate: Mapped[str] = mapped_column(Text)
    scope: Mapped[str] = mapped_column(Text)
    at_us: Mapped[int] = mapped_column(BigInteger)
    known_us: Mapped[int] = mapped_column(BigInteger)
    granted_by: Mapped[str] = mapped_column(Text)
    withdrawn_us: Mapped[int] = mapped_column(BigInteger)
    withdrawn_known_us: Mapped[int] = mapped_column(BigInteger)
    withdrawn_by: Mapped[str | None] = mapped_column(Text)
    withdrawn_why: Mapped[str | None] = mapped_column(Text)


class GaugeNow(Base):
    """A gauge as the register has it now."""

    __tablename__ = "gauge_now"

    site_id: Mapped[int] = mapped_column(BigId, primary_key=True, autoincrement=False)
    code: Mapped[str] = mapped_column(Text, primary_key=True)
    number: Mapped[int] = mapped_column(BigInteger)
    kind: Mapped[str] = mapped_column(Text)
    data: Mapped[str] = mapped_column(Text)


class GaugeCalibration(Base):
    """One calibration of a gauge."""

    __tablename__ = "gauge_calibration"

    site_id: Mapped[int] = mapped_column(Integer, primary_key=True, autoincrement=False)
    code: Mapped[str] = mapped_column(Text, primary_key=True)
    number: Mapped[int] = mapped_column(BigId, primary_key=True, autoincrement=False)
    at_us: Mapped[int] = mapped_column(BigInteger)
    known_us: Mapped[int] = mapped_column(BigInteger)
    actor: Mapped[str] = mapped_column(Text)
    calibrated_on: Mapped[str] = mapped_column(String(10))
    due_on: Mapped[str] = mapped_column(String(10))
    good: Mapped[bool] = mapped_column(Boolean)
    certificate: Mapped[str] = mapped_column(Text)
    uncertainty: Mapped[float | None] = mapped_column(Float(53))
    note: Mapped[str] = mapped_column(Text)


class GaugeCheck(Base):
    """One reading of a master with a gauge."""

    __tablename__ = "gauge_check"
    __table_args__ = (Index("ix_gauge_check_at", "site_id", "code", "at_us"),)

    site_id: Mapped[int] = mapped_column(Integer, primary_key=True, autoincrement=False)
    code: Mapped[str] = mapped_column(Text, primary_key=True)
    number: Mapped[int] = mapped_column(BigId, primary_key=True, autoincrement=False)
    at_us: Mapped[int] = mapped_column(BigInteger)
    known_us: Mapped[int] = mapped_column(BigInteger)
    actor: Mapped[str] = mapped_column(Text)
    master: Mapped[str] = mapped_column(Text)
    value: Mapped[float] = mapped_column(Float(53))
    expected: Mapped[float] = mapped_column(Float(53))
    allowed: Mapped[float] = mapped_column(Float(53))
    unit: Mapped[str] = mapped_column(Text)
    good: Mapped[bool] = mapped_column(Boolean)
    note: Mapped[str] = mapped_column(Text)


class MasterNow(Base):
    """A master as it is kept now, for one kind of gauge."""

    __tablename__ = "master_now"

    site_id: Mapped[int] = mapped_column(BigId, primary_key=True, autoincrement=False)
    subject: Mapped[str] = mapped_column(Text, primary_key=True)
    number: Mapped[int] = mapped_column(BigInteger)
    kind: Mapped[str] = mapped_column(Text)
    data: Mapped[str] = mapped_column(Text)
