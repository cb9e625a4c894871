"""Runs and pools in the store: kept beside the record, which they are no part of."""

from __future__ import annotations

import hashlib
import json
from dataclasses import dataclass
from typing import Any

from sqlalchemy import Connection, insert, select, update

from ringwright.balance.pool import Blade
from ringwright.core.errors import Missing
from ringwright.db import table_of
from ringwright.ledger.service import Read
from ringwright.sets.run_question import blades_data, blades_of
from ringwright.sets.run_tables import PoolFile, SetRun

QUEUED, RUNNING, DONE = "queued", "running", "done"
STOPPED, BROKEN_OFF = "stopped", "broken off"
GOING = frozenset({QUEUED, RUNNING})


@dataclass(frozen=True, slots=True, kw_only=True)
class KeptPool:
    """A pool as it was brought."""

    code: str
    name: str
    product: str
    blades: tuple[Blade, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class RunNow:
    """A run as it stands."""

    code: str
    state: str
    product: str
    pool: str
    question: dict[str, Any]
    answer: dict[str, Any] | None
    share: float
    doing: str
    stop_asked: bool
    actor: str
    at_us: int
    heard_us: int

    @property
    def going(self) -> bool:
        """True while it waits or searches."""
        return self.state in GOING


def read_pool(read: Read, code: str) -> KeptPool:
    """A pool that was brought; raises Missing."""
    row = None
    if code.isascii() and code.isalnum():
        query = select(PoolFile).where(PoolFile.site_id == read.site.id, PoolFile.code == code)
        row = read.connection.execute(query).first()
    if row is None:
        raise Missing(f"there is no pool {code[:40]!r}; bring the file again")
    return KeptPool(
        code=row.code,
        name=row.name,
        product=row.product,
        blades=blades_of(json.loads(row.blades)),
    )


def keep_pool(
    connection: Connection, site_id: int, kept: KeptPool, actor: str, at_us: int
) -> str:
    """Keep a pool and answer its code: the digest of what it holds."""
    blades = json.dumps(blades_data(kept.blades), sort_keys=True)
    whole = "\n".join((kept.name, kept.product, blades))
    code = hashlib.sha256(whole.encode()).hexdigest()[:12]
    query = select(PoolFile.code).where(PoolFile.site_id == site_id, PoolFile.code == code)
    if connection.execute(query).first() is None:
        values = {
            "site_id": site_id,
            "code": code,
            "name": kept.name,
            "product": kept.product,
            "blades": blades,
            "actor": actor,
            "at_us": at_us,
        }
        connection.execute(insert(table_of(PoolFile)).values(**values))
    return code


def find_run(connection: Connection, site_id: int, code: str) -> RunNow:
    """A run; raises Missing."""
    row = None
    if code.isascii() and code.isalnum():
        query = select(SetRun).where(SetRun.site_id == site_id, SetRun.code == code)
        row = connection.execute(query).first()
    if row is None:
        raise Missing(f"there is no run {code[:40]!r}")
    return run_of(row)


def run_of(row: Any) -> RunNow:
    """A stored row."""
    return RunNow(
        code=row.code,
        state=row.state,
        product=row.product,
        pool=row.pool,
        question=json.loads(row.question),
        answer=json.loads(row.answer) if row.answer else None,
        share=row.share,
        doing=row.doing,
        stop_asked=row.stop_asked,
        actor=row.actor,
        at_us=row.at_us,
        heard_us=row.heard_us,
    )


def add_run(connection: Connection, values: dict[str, Any]) -> None:
    """A run that waits for its turn."""
    connection.execute(insert(table_of(SetRun)).values(**values))


def change_run(connection: Connection, site_id: int, code: str, **values: Any) -> None:
    """Move a run on."""
    connection.execute(
        update(SetRun).where(SetRun.site_id == site_id, SetRun.code == code).values(**values)
    )
