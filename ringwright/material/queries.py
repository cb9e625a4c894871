"""Alloys, lots, swarf containers and added material, as the record has them."""

from __future__ import annotations

import json
from collections.abc import Collection, Iterable, Sequence
from dataclasses import dataclass
from typing import Any

from sqlalchemy import Connection, select

from ringwright.core.errors import Refused
from ringwright.core.facts import Entry
from ringwright.db import FOREVER_US
from ringwright.material.card import Alloy, Lot
from ringwright.material.rules import OPEN, SEALED, Container, Weighing, fold, standing
from ringwright.material.tables import (
    AddedMaterial,
    AlloyRevision,
    ContainerEntry,
    ContainerNow,
    LotRevision,
)


def read_alloys(
    connection: Connection, site_id: int, known_before_us: int = FOREVER_US
) -> dict[str, Alloy]:
    """Code to alloy, by code; those out of use too."""
    table = AlloyRevision
    query = select(table.code, table.data).where(
        table.site_id == site_id, table.known_us < known_before_us
    )
    rows = connection.execute(query.order_by(table.code, table.number))
    return {row.code: alloy_of(json.loads(row.data)) for row in rows}


def alloy_of(data: dict[str, Any]) -> Alloy:
    """An alloy of its stored fields."""
    return Alloy(**{**data, "products": tuple(data["products"])})


def lot_of(data: dict[str, Any]) -> Lot:
    """A lot of its stored fields."""
    return Lot(**{**data, "containers": tuple(data["containers"])})


def read_lots(
    connection: Connection,
    site_id: int,
    codes: Collection[str] | None = None,
    known_before_us: int = FOREVER_US,
) -> dict[str, Lot]:
    """Code to lot as it may be used then, by code; None: every lot on record."""
    table = LotRevision
    query = select(table.code, table.data).where(
        table.site_id == site_id, table.known_us < known_before_us
    )
    if codes is not None:
        query = query.where(table.code.in_(codes))
    rows = connection.execute(query.order_by(table.code, table.number))
    found = {row.code: lot_of(json.loads(row.data)) for row in rows}
    sources = {code for lot in found.values() for code in lot.containers}
    containers = read_containers(connection, site_id, sources, known_before_us)
    return {code: standing(lot, containers) for code, lot in found.items()}


@dataclass(frozen=True, slots=True, kw_only=True)
class Word:
    """What somebody said of a lot at some time."""

    number: int
    at_us: int
    actor: str
    reason: str
    lot: Lot


def read_words(
    connection: Connection, site_id: int, code: str, known_before_us: int = FOREVER_US
) -> list[Word]:
    """Everything said of a lot, the newest first."""
    table = LotRevision
    query = select(table).where(
        table.site_id == site_id, table.code == code, table.known_us < known_before_us
    )
    return [
        Word(
            number=row.number,
            at_us=row.at_us,
            actor=row.actor,
            reason=row.reason,
            lot=lot_of(json.loads(row.data)),
        )
        for row in connection.execute(query.order_by(table.number.desc()))
    ]


def read_containers(
    connection: Connection,
    site_id: int,
    codes: Collection[str] | None = None,
    known_before_us: int = FOREVER_US,
) -> list[Container]:
    """Containers by code as they stood by what was known then; None: all of them."""
    if codes is not None and not codes:
        return []
    found = read_entries(connection, site_id, codes, known_before_us)
    containers = []
    for code, entries in found.items():
        try:
            containers.append(fold(code, entries))
        except Refused:  # its opening was taken back
            continue
    return containers


def read_entries(
    connection: Connection,
    site_id: int,
    codes: Collection[str] | None = None,
    known_before_us: int = FOREVER_US,
) -> dict[str, list[Entry]]:
    """Code to everything that happened to it, by code, in the order of the record."""
    table = ContainerEntry
    query = select(table).where(table.site_id == site_id, table.known_us < known_before_us)
    if codes is not None:
        query = query.where(table.code.in_(sorted(codes)))
    found: dict[str, list[Entry]] = {}
    for row in connection.execute(query.order_by(table.code, table.number)):
        entry = Entry(
            row.number,
            row.kind,
            row.at_us,
            row.known_us,
            row.actor,
            row.station,
            row.corrects,
            json.loads(row.data),
        )
        found.setdefault(row.code, []).append(entry)
    return found


def containers_of(connection: Connection, site_id: int, serials: Iterable[str]) -> list[str]:
    """Codes of the containers that hold, or held, swarf of these parts."""
    found: set[str] = set()
    listed = sorted(set(serials))
    for start in range(0, len(listed), 400):
        query = select(ContainerEntry.code).where(
            ContainerEntry.site_id == site_id,
            ContainerEntry.serial.in_(listed[start : start + 400]),
        )
        found.update(connection.execute(query.distinct()).scalars())
    return sorted(found)


def containers_here(connection: Connection, site_id: int) -> list[str]:
    """Codes of the containers that have not left."""
    query = select(ContainerNow.code).where(
        ContainerNow.site_id == site_id, ContainerNow.state.in_((OPEN, SEALED))
    )
    return list(connection.execute(query.order_by(ContainerNow.code)).scalars())


def containers_since(connection: Connection, site_id: int, since_us: int) -> list[str]:
    """Codes of the containers that something happened to since."""
    query = select(ContainerNow.code).where(
        ContainerNow.site_id == site_id, ContainerNow.last_us >= since_us
    )
    return list(connection.execute(query.order_by(ContainerNow.code)).scalars())


def next_container_code(connection: Connection, site_id: int) -> str:
    """SW-0001, SW-0002 …: one past the highest, since the site's writers go one at a time."""
    query = select(ContainerEntry.code).where(ContainerEntry.site_id == site_id).distinct()
    ends = (code.removeprefix("SW-") for code in connection.execute(query).scalars())
    highest = max((int(end) for end in ends if end.isascii() and end.isdigit()), default=0)
    return f"SW-{highest + 1:04d}"


@dataclass(frozen=True, slots=True, kw_only=True)
class Put(Weighing):
    """Material that was put on a part."""

    serial: str
    step: int
    what: str


def read_put(
    connection: Connection,
    site_id: int,
    serials: Sequence[str],
    known_before_us: int = FOREVER_US,
) -> list[Put]:
    """What was put on these parts, the oldest first."""
    table = AddedMaterial
    query = select(table).where(
        table.site_id == site_id,
        table.serial.in_(serials),
        table.known_us < known_before_us,
        table.gone_known_us >= known_before_us,
    )
    found = []
    for row in connection.execute(query.order_by(table.at_us, table.number)):
        data = json.loads(row.data)
        found.append(
            Put(
                number=row.number,
                at_us=row.at_us,
                known_us=row.known_us,
                actor=row.actor,
                kg=data["net_kg"],
                u_kg=data["u_kg"],
                gauge=data.get("gauge", ""),
                serial=row.serial,
                step=row.step,
                what=data["what"],
            )
        )
    return found
