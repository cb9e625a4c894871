"""A site's facts into the rows of `tables.py`."""

from __future__ import annotations

import json
from collections.abc import Sequence
from itertools import zip_longest
from typing import Any

from sqlalchemy import Table

from ringwright.core.facts import Entry
from ringwright.db import FOREVER_US, table_of
from ringwright.ledger.projecting import Plain, Row, Rows
from ringwright.sites.tables import (
    AuthorisationGiven,
    CalendarRevision,
    CarrierStay,
    GaugeCalibration,
    GaugeCheck,
    GaugeNow,
    MasterNow,
    PersonNow,
    Shutting,
    SiteInfo,
    StationNow,
)


class SiteProjector(Plain):
    """The site itself: what was set last."""

    subject_kind = "site"
    tables: tuple[Table, ...] = (table_of(SiteInfo),)

    def rows(self, site_id: int, subject: str, entries: Sequence[Entry], lens: Any) -> Rows:
        """One row."""
        del lens
        data = entries[-1].data
        row = (site_id, subject, data["name"], data["zone"], data["week_starts"])
        return {"site_info": [row]}


class CalendarProjector(Plain):
    """Calendars: every revision, since each holds from its date on."""

    subject_kind = "calendar"
    tables: tuple[Table, ...] = (table_of(CalendarRevision),)

    def rows(self, site_id: int, subject: str, entries: Sequence[Entry], lens: Any) -> Rows:
        """One row a revision."""
        del lens
        rows: list[Row] = [
            (site_id, subject, entry.seq, entry.known_us, _text(entry.data["calendar"]))
            for entry in entries
        ]
        return {"calendar_revision": rows}


class LatestProjector(Plain):
    """Stations or people: what was set last."""

    def __init__(self, subject_kind: str, table: Table) -> None:
        self.subject_kind = subject_kind
        self.tables: tuple[Table, ...] = (table,)

    def rows(self, site_id: int, subject: str, entries: Sequence[Entry], lens: Any) -> Rows:
        """One row."""
        del lens
        last = entries[-1]
        text = _text(last.data[self.subject_kind])
        return {self.tables[0].name: [(site_id, subject, last.seq, text)]}


class CarrierProjector(Plain):
    """Containers and trolleys: every place one stood, each until the next."""

    subject_kind = "carrier"
    tables: tuple[Table, ...] = (table_of(CarrierStay),)

    def rows(self, site_id: int, subject: str, entries: Sequence[Entry], lens: Any) -> Rows:
        """One row a stay."""
        del lens
        rows: list[Row] = []
        moves = sorted(entries, key=lambda entry: (entry.at_us, entry.seq))
        for move, after in zip_longest(moves, moves[1:]):
            to_us = (after.at_us, after.known_us) if after else (FOREVER_US, FOREVER_US)
            since = (move.at_us, move.known_us)
            rows.append(
                (site_id, subject, move.seq, move.data["to"], *since, *to_us, move.actor)
            )
        return {"carrier_stay": rows}


class ShuttingProjector(Plain):
    """What was shut: every span, from its shutting to its opening."""

    subject_kind = "shutting"
    tables: tuple[Table, ...] = (table_of(Shutting),)

    def rows(self, site_id: int, subject: str, entries: Sequence[Entry], lens: Any) -> Rows:
        """One row a span; `subject` is its kind and code, parted by a colon."""
        del lens
        rows: list[Row] = []
        kind, code = subject.split(":", 1)
        spans: list[list[Entry]] = []
        for entry in entries:
            if entry.kind == "shut":
                spans.append([entry])
            elif spans:
                spans[-1].append(entry)
        for shut, *opened in spans:
            end = opened[0] if opened else None
            to_us = (end.at_us, end.known_us) if end else (FOREVER_US, FOREVER_US)
            told = (shut.data["reason"], shut.data["opener"], shut.at_us, shut.known_us)
            by = end.actor if end else None
            rows.append((site_id, subject, shut.seq, kind, code, *told, *to_us, shut.actor, by))
        return {"shutting": rows}


class AuthorisationProjector(Plain):
    """Authorisations: every one granted, each with the withdrawal that ended it."""

    subject_kind = "authorisation"
    tables: tuple[Table, ...] = (table_of(AuthorisationGiven),)

    def rows(self, site_id: int, subject: str, entries: Sequence[Entry], lens: Any) -> Rows:
        """One row a grant; days stay days, since the site's zone says when one begins."""
        del lens
        ended: dict[int, Entry] = {}
        standing: list[int] = []
        for entry in entries:
            if entry.kind == "authorise":
                standing.append(entry.seq)
            else:
                ended |= dict.fromkeys(standing, entry)
                standing.clear()
        granted = [entry for entry in entries if entry.kind == "authorise"]
        rows = [_granted(site_id, subject, one, ended.get(one.seq)) for one in granted]
        return {"authorisation": rows}


def _granted(site_id: int, subject: str, entry: Entry, end: Entry | None) -> Row:
    data = entry.data
    paper = tuple(data[name] for name in ("person", "method", "level"))
    days = (data["valid_from"], data["valid_to"], data.get("eyesight_to"))
    told = (data.get("certificate", ""), data.get("scope", ""))
    moments = (entry.at_us, entry.known_us, entry.actor)
    until = (end.at_us, end.known_us) if end else (FOREVER_US, FOREVER_US)
    why = (end.actor, end.data["reason"]) if end else (None, None)
    return (site_id, subject, entry.seq, *paper, *days, *told, *moments, *until, *why)


class GaugeProjector(Plain):
    """Gauges: what the register says last, every calibration, every check on a master."""

    subject_kind = "gauge"
    tables: tuple[Table, ...] = (
        table_of(GaugeNow),
        table_of(GaugeCalibration),
        table_of(GaugeCheck),
    )

    def rows(self, site_id: int, subject: str, entries: Sequence[Entry], lens: Any) -> Rows:
        """One row a calibration, one a check."""
        del lens
        found: Rows = {"gauge_now": [], "gauge_calibration": [], "gauge_check": []}
        for entry in entries:
            place = (site_id, subject, entry.seq)
            if entry.kind == "gauge-set":
                gauge = entry.data["gauge"]
                found["gauge_now"] = [(*place, gauge["kind"], _text(gauge))]
                continue
            row = (*place, entry.at_us, entry.known_us, entry.actor)
            if entry.kind == "gauge-calibrated":
                found["gauge_calibration"].append((*row, *_calibrated(entry)))
            elif entry.kind == "gauge-checked":
                found["gauge_check"].append((*row, *_checked(entry)))
        return found


def _calibrated(entry: Entry) -> Row:
    one = entry.data["calibration"]
    days = (one["on"], one["due"], one["good"])
    return (*days, one["certificate"], one["uncertainty"], one["note"])


def _checked(entry: Entry) -> Row:
    names = ("master", "value", "expected", "allowed", "unit", "good")
    return (*(entry.data[name] for name in names), entry.data.get("note", ""))


class MasterProjector(Plain):
    """Masters: what was set last."""

    subject_kind = "master"
    tables: tuple[Table, ...] = (table_of(MasterNow),)

    def rows(self, site_id: int, subject: str, entries: Sequence[Entry], lens: Any) -> Rows:
        """One row."""
        del lens
        last, master = entries[-1], entries[-1].data["master"]
        row = (site_id, subject, last.seq, master["gauge_kind"], _text(master))
        return {"master_now": [row]}


def _text(data: Any) -> str:
    return json.dumps(data, sort_keys=True, ensure_ascii=False)


PROJECTORS = (
    SiteProjector(),
    CalendarProjector(),
    LatestProjector("station", table_of(StationNow)),
    LatestProjector("person", table_of(PersonNow)),
    CarrierProjector(),
    ShuttingProjector(),
    AuthorisationProjector(),
    GaugeProjector(),
    MasterProjector(),
)
