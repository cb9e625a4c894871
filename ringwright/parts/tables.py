"""Projections of parts. Rebuilt from the ledger at will; instants are microseconds UTC.

Tracked tables keep every row ever believed: `known_from_us < T <= known_to_us` are those of an
as-of question about T (see `ringwright.parts.rows`).
"""

from __future__ import annotations

from sqlalchemy import (
    BigInteger,
    Boolean,
    Float,
    Index,
    Integer,
    SmallInteger,
    String,
    Text,
    text,
)
from sqlalchemy.orm import Mapped, mapped_column

from ringwright.db import Base, BigId


def _only(name: str, where: str, *columns: str) -> Index:
    """An index of the few rows that a condition holds for."""
    rule = text(where)
    return Index(name, *columns, sqlite_where=rule, postgresql_where=rule)


class PartNow(Base):
    """Where a part stands now."""

    __tablename__ = "part_now"
    __table_args__ = (
        Index("ix_part_now_product", "site_id", "product", "place", "step"),
        Index("ix_part_now_whereabouts", "site_id", "whereabouts"),
    )

    site_id: Mapped[int] = mapped_column(Integer, primary_key=True, autoincrement=False)
    serial: Mapped[str] = mapped_column(Text, primary_key=True)
    product: Mapped[str] = mapped_column(Text)
    revision: Mapped[str] = mapped_column(Text)
    place: Mapped[str] = mapped_column(String(16))
    step: Mapped[int | None] = mapped_column(Integer)
    since_us: Mapped[int] = mapped_column(BigInteger)
    paused: Mapped[bool] = mapped_column(Boolean)
    hold: Mapped[str | None] = mapped_column(Text)
    nonconformities: Mapped[int] = mapped_column(Integer)
    whereabouts: Mapped[str | None] = mapped_column(Text)
    mark: Mapped[str | None] = mapped_column(Text)
    kept: Mapped[str | None] = mapped_column(Text)
    lot: Mapped[str | None] = mapped_column(Text)
    priority: Mapped[int] = mapped_column(Integer)
    sought: Mapped[bool] = mapped_column(Boolean)
    reservation: Mapped[str | None] = mapped_column(Text)
    last_seq: Mapped[int] = mapped_column(BigInteger)


class PartMark(Base):
    """The marks a part has borne: scanning any of them finds it."""

    __tablename__ = "part_mark"
    __table_args__ = (Index("ix_part_mark_mark", "site_id", "mark"),)

    site_id: Mapped[int] = mapped_column(Integer, primary_key=True, autoincrement=False)
    serial: Mapped[str] = mapped_column(Text, primary_key=True)
    mark: Mapped[str] = mapped_column(Text, primary_key=True)
    retired: Mapped[bool] = mapped_column(Boolean)


class Tracked(Base):
    """The columns of every tracked table; the span of knowledge comes last in each."""

    __abstract__ = True

    site_id: Mapped[int] = mapped_column(
        Integer, primary_key=True, autoincrement=False, sort_order=-3
    )
    serial: Mapped[str] = mapped_column(Text, primary_key=True, sort_order=-2)
    number: Mapped[int] = mapped_column(
        BigId, primary_key=True, autoincrement=False, sort_order=-1
    )
    known_from_us: Mapped[int] = mapped_column(BigInteger, sort_order=100)
    known_to_us: Mapped[int] = mapped_column(BigInteger, sort_order=101)
    version: Mapped[int] = mapped_column(
        SmallInteger, primary_key=True, autoincrement=False, sort_order=102
    )


class Visit(Tracked):
    """One pass through one step and the wait after it; see VisitRow."""

    __tablename__ = "visit"
    __table_args__ = (
        # With what yields count by, so that counting needs no look at the rows themselves.
        Index(
            "ix_visit_end",
            *("site_id", "product", "end_us", "step", "first", "outcome", "known_to_us"),
        ),
        Index("ix_visit_leave", "site_id", "leave_us", "begin_us"),
        Index("ix_visit_station", "site_id", "station", "begin_us"),
        Index("ix_visit_station_end", "site_id", "station", "end_us"),
        _only("ix_visit_defect", "defect IS NOT NULL", "site_id", "product", "step", "end_us"),
        _only("ix_visit_defect_word", "defect IS NOT NULL", "site_id", "defect", "end_us"),
        # Few are told late; asked about a past moment, only they need a second look.
        _only("ix_visit_late", "leave_known_us > leave_us", "site_id", "leave_known_us"),
        Index("ix_visit_ended_by", "site_id", "ended_by", "end_us"),
        Index("ix_visit_lot", "site_id", "lot"),
        Index("ix_visit_actor", "site_id", "actor", "begin_us"),
    )

    step: Mapped[int | None] = mapped_column(Integer)
    first: Mapped[bool] = mapped_column(Boolean)
    ready_us: Mapped[int] = mapped_column(BigInteger)
    begin_us: Mapped[int] = mapped_column(BigInteger)
    begin_known_us: Mapped[int] = mapped_column(BigInteger)
    end_us: Mapped[int] = mapped_column(BigInteger)
    end_known_us: Mapped[int] = mapped_column(BigInteger)
    outcome: Mapped[str | None] = mapped_column(String(16))
    defect: Mapped[str | None] = mapped_column(Text)
    card: Mapped[str | None] = mapped_column(Text)
    pause_us: Mapped[int] = mapped_column(BigInteger)
    touch_us: Mapped[int | None] = mapped_column(BigInteger)
    queue_us: Mapped[int | None] = mapped_column(BigInteger)
    next_step: Mapped[int | None] = mapped_column(Integer)
    leave_us: Mapped[int] = mapped_column(BigInteger)
    leave_known_us: Mapped[int] = mapped_column(BigInteger)
    skipped: Mapped[int] = mapped_column(Integer)
    station: Mapped[str] = mapped_column(Text)
    lot: Mapped[str | None] = mapped_column(Text)
    actor: Mapped[str] = mapped_column(Text)
    ended_by: Mapped[str] = mapped_column(Text)
    product: Mapped[str] = mapped_column(Text)
    revision: Mapped[str] = mapped_column(Text)
    part_lot: Mapped[str | None] = mapped_column(Text)
    run: Mapped[str] = mapped_column(Text)


class Reading(Tracked):
    """One characteristic read once."""

    __tablename__ = "reading"
    __table_args__ = (
        Index("ix_reading_step", "site_id", "step", "characteristic", "at_us"),
        Index("ix_reading_gauge", "site_id", "gauge", "at_us"),
        _only("ix_reading_suspect", "suspect IS NOT NULL", "site_id", "serial"),
    )

    visit: Mapped[int] = mapped_column(Integer)
    step: Mapped[int] = mapped_column(Integer)
    characteristic: Mapped[str] = mapped_column(Text)
    value: Mapped[float] = mapped_column(Float(53))
    unit: Mapped[str] = mapped_column(Text)
    inside: Mapped[bool] = mapped_column(Boolean)
    at_us: Mapped[int] = mapped_column(BigInteger)
    at_known_us: Mapped[int] = mapped_column(BigInteger)
    actor: Mapped[str] = mapped_column(Text)
    gauge: Mapped[str | None] = mapped_column(Text)
    product: Mapped[str] = mapped_column(Text)
    uncertainty: Mapped[float | None] = mapped_column(Float(53))
    repeats: Mapped[int] = mapped_column(Integer)
    suspect: Mapped[str | None] = mapped_column(Text)
    fixture: Mapped[str | None] = mapped_column(Text)
    torque_n_m: Mapped[float | None] = mapped_column(Float(53))
    temperature_c: Mapped[float | None] = mapped_column(Float(53))
    recording: Mapped[str | None] = mapped_column(Text)


class Hold(Tracked):
    """A span in which a part must not move."""

    __tablename__ = "hold"
    __table_args__ = (Index("ix_hold_to", "site_id", "to_us", "from_us"),)

    reason: Mapped[str] = mapped_column(Text)
    from_us: Mapped[int] = mapped_column(BigInteger)
    from_known_us: Mapped[int] = mapped_column(BigInteger)
    to_us: Mapped[int] = mapped_column(BigInteger)
    to_known_us: Mapped[int] = mapped_column(BigInteger)


class Nonconformity(Tracked):
    """A stop and its sentence."""

    __tablename__ = "nonconformity"
    __table_args__ = (
        Index("ix_nonconformity_closed", "site_id", "closed_us", "known_to_us"),
        Index("ix_nonconformity_defect", "site_id", "defect"),
        Index("ix_nonconformity_opened", "site_id", "opened_us"),
    )

    defect: Mapped[str] = mapped_column(Text)
    found_step: Mapped[int | None] = mapped_column(Integer)
    characteristic: Mapped[str | None] = mapped_column(Text)
    place_on_part: Mapped[str | None] = mapped_column(Text)
    note: Mapped[str | None] = mapped_column(Text)
    opened_us: Mapped[int] = mapped_column(BigInteger)
    opened_known_us: Mapped[int] = mapped_column(BigInteger)
    opened_by: Mapped[str] = mapped_column(Text)
    closed_us: Mapped[int] = mapped_column(BigInteger)
    closed_known_us: Mapped[int] = mapped_column(BigInteger)
    decision: Mapped[str | None] = mapped_column(String(16))
    caused_step: Mapped[int | None] = mapped_column(Integer)
    document: Mapped[str | None] = mapped_column(Text)
    sentence: Mapped[int | None] = mapped_column(BigInteger)
    station: Mapped[str] = mapped_column(Text)
    product: Mapped[str] = mapped_column(Text)


class Life(Tracked):
    """When a part came, and how it went."""

    __tablename__ = "life"
    __table_args__ = (
        Index("ix_life_released", "site_id", "product", "released_us"),
        Index("ix_life_scrapped", "site_id", "product", "scrapped_us"),
        Index("ix_life_created", "site_id", "product", "created_us"),
        _only("ix_life_used", "used_us IS NOT NULL", "site_id", "product", "used_us"),
        Index("ix_life_lot", "site_id", "lot"),
        _only(
            "ix_life_whole",
            "scrapped_us IS NOT NULL AND witnessed_us IS NULL",
            "site_id",
            "scrapped_us",
        ),
    )

    product: Mapped[str] = mapped_column(Text)
    revision: Mapped[str] = mapped_column(Text)
    created_us: Mapped[int] = mapped_column(BigInteger)
    created_known_us: Mapped[int] = mapped_column(BigInteger)
    released_us: Mapped[int | None] = mapped_column(BigInteger)
    released_known_us: Mapped[int] = mapped_column(BigInteger)
    scrapped_us: Mapped[int | None] = mapped_column(BigInteger)
    scrapped_known_us: Mapped[int] = mapped_column(BigInteger)
    scrap_defect: Mapped[str | None] = mapped_column(Text)
    scrap_place: Mapped[str | None] = mapped_column(Text)
    found_step: Mapped[int | None] = mapped_column(Integer)
    caused_step: Mapped[int | None] = mapped_column(Integer)
    witnessed_us: Mapped[int | None] = mapped_column(BigInteger)
    used_us: Mapped[int | None] = mapped_column(BigInteger)
    used_known_us: Mapped[int] = mapped_column(BigInteger)
    sent_us: Mapped[int | None] = mapped_column(BigInteger)
    lot: Mapped[str | None] = mapped_column(Text)


class Link(Tracked):
    """One edge of the genealogy, as booked on the part `serial`."""

    __tablename__ = "link"
    __table_args__ = (
        Index("ix_link_parent", "site_id", "parent"),
        Index("ix_link_child", "site_id", "child"),
    )

    link: Mapped[str] = mapped_column(String(8))
    parent: Mapped[str] = mapped_column(Text)
    child: Mapped[str] = mapped_column(Text)
    at_us: Mapped[int] = mapped_column(BigInteger)


class Condition(Tracked):
    """A span in which something else was so about a part; see ConditionRow."""

    __tablename__ = "condition"
    __table_args__ = (
        Index("ix_condition_value", "site_id", "kind", "value"),
        Index("ix_condition_to", "site_id", "kind", "to_us", "from_us"),
    )

    kind: Mapped[str] = mapped_column(String(16))
    value: Mapped[str] = mapped_column(Text)
    note: Mapped[str | None] = mapped_column(Text)
    actor: Mapped[str] = mapped_column(Text)
    from_us: Mapped[int] = mapped_column(BigInteger)
    from_known_us: Mapped[int] = mapped_column(BigInteger)
    to_us: Mapped[int] = mapped_column(BigInteger)
    to_known_us: Mapped[int] = mapped_column(BigInteger)
