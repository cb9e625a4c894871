"""Sets and rotors, looked up."""

from __future__ import annotations

import json
from collections.abc import Sequence
from typing import Any

from sqlalchemy import Connection, select

from ringwright.core.errors import Missing
from ringwright.core.facts import Registry
from ringwright.ledger.service import Read
from ringwright.ledger.tables import Event
from ringwright.ledger.transaction import fetch_entries
from ringwright.sets.facts import FACTS
from ringwright.sets.project import set_of
from ringwright.sets.rotor import Rotor, rotor_of
from ringwright.sets.rules import BladeSet, fold, stem_of
from ringwright.sets.tables import BladeSetNow, RotorRevision

_REGISTRY = Registry()
_REGISTRY.register(*FACTS)


def read_sets(read: Read, product: str | None = None) -> tuple[BladeSet, ...]:
    """All sets, of one product or all, newest first; as of a past moment as known then."""
    query = select(BladeSetNow).where(BladeSetNow.site_id == read.site.id)
    if product is not None:
        query = query.where(BladeSetNow.product == product)
    rows = read.connection.execute(query.order_by(BladeSetNow.first_seq.desc())).all()
    if read.as_of_us is None:
        return tuple(set_of(row) for row in rows)
    known = _as_known(read, [row.code for row in rows])
    return tuple(known[row.code] for row in rows if row.code in known)


def read_set(read: Read, code: str) -> BladeSet:
    """One set; raises Missing."""
    if read.as_of_us is not None:
        found = _as_known(read, [code]).get(code)
        if found is None:
            raise Missing(f"there was no set {code} at that time")
        return found
    row = read.connection.execute(
        select(BladeSetNow).where(BladeSetNow.site_id == read.site.id, BladeSetNow.code == code)
    ).first()
    if row is None:
        raise Missing(f"there is no set {code} at {read.site.name or read.site.code}")
    return set_of(row)


def _as_known(read: Read, codes: Sequence[str]) -> dict[str, BladeSet]:
    """The sets folded from what was known before the moment asked about."""
    found = fetch_entries(read.connection, _REGISTRY, read.site.id, "set", list(codes))
    known = {
        code: [entry for entry in entries if entry.known_us < read.known_before_us]
        for code, entries in found.items()
    }
    return {code: fold(code, entries) for code, entries in known.items() if entries}


def read_set_events(read: Read, code: str) -> Sequence[Any]:
    """All events of a set in ledger order."""
    query = (
        select(Event.site_seq, Event.kind, Event.at_us, Event.actor, Event.payload)
        .where(
            Event.site_id == read.site.id,
            Event.subject_kind == "set",
            Event.subject == code,
            Event.known_at_us < read.known_before_us,
        )
        .order_by(Event.site_seq)
    )
    return read.connection.execute(query).all()


def next_code(connection: Connection, site_id: int, product: str) -> str:
    """HF22-S001, HF22-S002 …: the site's writers go one at a time, so none is given twice."""
    stem = stem_of(product)
    query = select(BladeSetNow.code).where(
        BladeSetNow.site_id == site_id, BladeSetNow.code.startswith(stem, autoescape=True)
    )
    codes = (code[len(stem) :] for code in connection.execute(query).scalars())
    last = max((int(number) for number in codes if number.isdigit()), default=0)
    return f"{stem}{last + 1:03d}"


def read_rotor(read: Read, product: str) -> Rotor:
    """What is entered of the product's rotor, as last known; nothing entered: nothing set."""
    query = (
        select(RotorRevision.rotor)
        .where(
            RotorRevision.site_id == read.site.id,
            RotorRevision.product == product,
            RotorRevision.known_us < read.known_before_us,
        )
        .order_by(RotorRevision.number.desc())
    )
    text = read.connection.execute(query.limit(1)).scalar()
    return rotor_of(json.loads(text)) if text else Rotor()
