"""What a command may do to the record while its transaction is open."""

from __future__ import annotations

import json
import unicodedata
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field
from functools import lru_cache
from typing import Any

from sqlalchemy import Connection, select, update

from ringwright.core.errors import Refused
from ringwright.core.facts import Entry, Fact, Registry
from ringwright.db import table_of
from ringwright.ledger.canonical import canonical_json, link
from ringwright.ledger.projecting import Projecting, bulk_insert
from ringwright.ledger.tables import Event, LedgerHead

CONTROL = {"Cc", "Cs"}
_decode = json.JSONDecoder().raw_decode
ENTRY_COLUMNS = (
    Event.subject,
    Event.site_seq,
    Event.kind,
    Event.v,
    Event.at_us,
    Event.known_at_us,
    Event.actor,
    Event.station,
    Event.corrects,
    Event.payload,
)


@dataclass(frozen=True, slots=True, kw_only=True)
class Second:
    """A second person who signed the same act with a credential of their own."""

    code: str
    roles: frozenset[str]


@dataclass(frozen=True, slots=True, kw_only=True)
class Actor:
    """Who acts: a person's code or a token's role, and what they may do."""

    code: str
    roles: frozenset[str]
    self_inspection: bool = False
    person: bool = True
    """False for a token that stands for a role rather than for somebody."""
    second: Second | None = None
    permits: frozenset[str] = frozenset()
    """What they may do beyond their roles for a time."""
    scopes: frozenset[str] | None = None
    """Permissions that a key is narrowed to; None: all that the roles allow."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Site:
    """The site a command or question is about."""

    id: int
    code: str
    name: str
    zone: str
    week_starts: str
    practice_of: str | None = None
    """Code of the real site, when this one is for practice."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Draft:
    """A fact about to be recorded, with its envelope."""

    fact: Fact
    subject: str
    at_us: int
    known_us: int | None = None
    """None: known when recorded."""
    key: str | None = None
    actor: str = ""
    station: str = ""
    corrects: int | None = None
    approver: str | None = None


def check_code(name: str, text: str) -> str:
    """A serial, key or code free of control characters and lone surrogates; raises Refused."""
    # What prints holds none of these; looking at every letter is slow.
    if not text.isprintable() and any(unicodedata.category(c) in CONTROL for c in text):
        raise Refused(f"{name} holds a control character; scan or type it again")
    return text


def _recorded(fact: Fact) -> tuple[str, Any]:
    """A fact's payload as stored, and its particulars as folds read them."""
    try:
        return _recorded_before(fact)
    except TypeError:  # a fact that holds a table is not hashable
        return _record(fact)


def _record(fact: Fact) -> tuple[str, Any]:
    payload = canonical_json(fact.payload())
    # Folded from what is stored, so that a replay reads the very same values (2.0 is 2).
    return payload, _decode(payload)[0]


_recorded_before = lru_cache(maxsize=4096)(_record)
"""Most facts say what was said before: step 50 begins, step 50 ends well."""


def entry_of(registry: Registry, subject_kind: str, row: Sequence[Any]) -> Entry:
    """An event row in the order of ENTRY_COLUMNS as folds read it."""
    _, seq, kind, version, at_us, known_us, actor, station, corrects, payload = row
    data = _decode(payload)[0]
    if not registry.is_current(subject_kind, kind, version):
        data = registry.current(subject_kind, kind, version, data)
    return Entry(seq, kind, at_us, known_us, actor, station, corrects, data)


def fetch_entries(
    connection: Connection,
    registry: Registry,
    site_id: int,
    subject_kind: str,
    subjects: Sequence[str],
) -> dict[str, list[Entry]]:
    """All facts of the subjects, each in recorded order; subjects without facts are absent."""
    found: dict[str, list[Entry]] = {}
    for start in range(0, len(subjects), 500):
        query = (
            select(*ENTRY_COLUMNS)
            .where(
                Event.site_id == site_id,
                Event.subject_kind == subject_kind,
                Event.subject.in_(subjects[start : start + 500]),
            )
            .order_by(Event.subject, Event.site_seq)
        )
        for row in connection.execute(query):
            found.setdefault(row[0], []).append(entry_of(registry, subject_kind, row))
    return found


@dataclass(slots=True, kw_only=True)
class Tx:
    """One open command: read the history, append facts, see their effect."""

    connection: Connection
    site: Site
    actor: Actor
    now_us: int
    registry: Registry
    projecting: Projecting
    head_seq: int
    head_hash: bytes
    approver: str | None = None
    """The second person, once a handler has asked for one: every fact from then on bears it."""
    _dirty: dict[str, dict[str, list[Entry]]] = field(default_factory=dict)
    _new: set[tuple[str, str]] = field(default_factory=set)

    def history(self, subject_kind: str, subject: str) -> list[Entry]:
        """All facts of one subject in recorded order, those of this command included."""
        dirty = self._dirty.get(subject_kind, {})
        if subject not in dirty:
            found = self.histories(subject_kind, [subject])
            return found.get(subject, [])
        return list(dirty[subject])

    def histories(self, subject_kind: str, subjects: Sequence[str]) -> dict[str, list[Entry]]:
        """As `history`, for many subjects that this command has not touched yet."""
        return fetch_entries(
            self.connection, self.registry, self.site.id, subject_kind, subjects
        )

    def append(self, draft: Draft, history: list[Entry] | None = None) -> Entry:
        """Record one fact; `history` spares reading the subject's facts again."""
        kind = draft.fact.subject_kind
        known = self.history(kind, draft.subject) if history is None else history
        (entry,) = self.append_many([draft], {(kind, draft.subject): known})
        return entry

    def append_many(
        self, drafts: Iterable[Draft], known: dict[tuple[str, str], list[Entry]]
    ) -> list[Entry]:
        """Record facts in the order given; `known` holds each subject's facts so far."""
        rows, entries = [], []
        for draft in drafts:
            row, entry = self._next(draft)
            rows.append(row)
            entries.append(entry)
            kind = draft.fact.subject_kind
            pending = self._dirty.setdefault(kind, {})
            if draft.subject not in pending:
                before = known.get((kind, draft.subject), [])
                pending[draft.subject] = list(before)
                if not before:
                    self._new.add((kind, draft.subject))
            pending[draft.subject].append(entry)
        bulk_insert(self.connection, table_of(Event), rows)
        self._write_head()
        return entries

    def _next(self, draft: Draft) -> tuple[tuple[Any, ...], Entry]:
        fact = draft.fact
        check_code(fact.subject_kind, draft.subject)
        check_code("who", draft.actor)
        check_code("station", draft.station)
        payload, data = _recorded(fact)
        self.head_seq += 1
        known_us = self.now_us if draft.known_us is None else draft.known_us
        actor = draft.actor or self.actor.code
        columns = (
            self.head_seq,
            draft.key,
            fact.subject_kind,
            draft.subject,
            fact.kind,
            fact.version,
            draft.at_us,
            self.now_us,
            known_us,
            self.site.zone,
            actor,
            draft.approver or self.approver,
            draft.station,
            draft.corrects,
            payload,
        )
        previous, self.head_hash = self.head_hash, link(self.head_hash, columns)
        entry = Entry(
            self.head_seq,
            fact.kind,
            draft.at_us,
            known_us,
            actor,
            draft.station,
            draft.corrects,
            data,
        )
        return (self.site.id, *columns, previous, self.head_hash), entry

    def _write_head(self) -> None:
        self.connection.execute(
            update(LedgerHead)
            .where(LedgerHead.site_id == self.site.id)
            .values(seq=self.head_seq, hash=self.head_hash)
        )

    def project(self) -> None:
        """Bring the projections of all touched subjects up to the facts appended so far."""
        for kind, subjects in self._dirty.items():
            new = frozenset(subject for subject in subjects if (kind, subject) in self._new)
            self.projecting.refresh(
                self.connection, self.site.id, kind, dict(subjects), new=new
            )
        self._dirty.clear()
        self._new.clear()
