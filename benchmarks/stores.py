"""Where the long records lie: SQLite files and a PostgreSQL server in one folder."""

from __future__ import annotations

import os
import pwd
import shutil
import tempfile
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

import psycopg

from benchmarks.long_store import fill
from ringwright.ledger.tables import FORM
from scripts.machine import postgres
from tests.postgres import PostgresServer

SQLITE, POSTGRES = "sqlite", "postgresql"
STORY = 3
"""Counted on when the works tell another story: kept stores of the older one stay unused."""


class Stores:
    """Makes stores of so many events on demand; one that is there already is used again."""

    def __init__(self, folder: Path, server: PostgresServer) -> None:
        self.folder, self.server = folder, server

    def url(self, kind: str, events: int) -> str:
        """The store's URL, filled; says what it does, since that may take minutes."""
        name = f"works_{FORM}_{STORY}_{events}"
        done = self.folder / f"{name}.{kind}.done"
        url = self._empty(kind, name, fresh=not done.exists())
        if not done.exists():
            count, seconds = fill(url, events)
            done.write_text(str(count))
            print(f"{kind}: {count:,} events written in {seconds:.0f} s "
                  f"({count / seconds:,.0f}/s)", flush=True)  # fmt: skip
        return url

    def _empty(self, kind: str, name: str, *, fresh: bool) -> str:
        if kind == SQLITE:
            path = self.folder / f"{name}.sqlite"
            if fresh:
                for ending in ("", "-wal", "-shm"):
                    path.with_name(path.name + ending).unlink(missing_ok=True)
            return f"sqlite:///{path}"
        if fresh:
            plain = self.server.url().replace("+psycopg", "", 1)
            with psycopg.connect(plain, autocommit=True) as connection:
                connection.execute(f"DROP DATABASE IF EXISTS {name} WITH (FORCE)".encode())
                connection.execute(f"CREATE DATABASE {name} TEMPLATE template0".encode())
        return self.server.url(name)


@contextmanager
def stores(keep: str | None = None) -> Iterator[Stores]:
    """Stores in a folder to keep, or in one that is gone afterwards."""
    folder = Path(keep) if keep else Path(tempfile.mkdtemp(prefix="ringwright-pages-"))
    folder.mkdir(parents=True, exist_ok=True)
    folder.chmod(0o755)
    server = _server(folder / "pg")
    runs_already = server.runs()
    if not runs_already:
        server.start()
    try:
        yield Stores(folder, server)
    finally:
        if not runs_already:
            server.stop_well()
        if not keep:
            shutil.rmtree(folder, ignore_errors=True)


class _Server(PostgresServer):
    """A server on disk whose databases may be kept."""

    def runs(self) -> bool:
        """True when somebody has started it already."""
        return self._run(["pg_ctl", "-D", str(self.data), "status"]).returncode == 0

    def stop_well(self) -> None:
        """Stop it so that the next start finds everything written."""
        self._run(["pg_ctl", "-D", str(self.data), "-m", "fast", "-w", "stop"])


def _server(folder: Path) -> _Server:
    programs = postgres()
    if programs is None:
        raise RuntimeError("no PostgreSQL server on this machine; ./check installs one")
    user = None
    if os.geteuid() == 0:
        user = "postgres" if _known("postgres") else "nobody"
    server = _Server(programs, folder, user, 5432, False)
    if not server.data.exists():
        folder.mkdir(exist_ok=True)
        if user is not None:
            shutil.chown(folder, user)
        server.initialise()
    return server


def _known(name: str) -> bool:
    return any(entry.pw_name == name for entry in pwd.getpwall())
