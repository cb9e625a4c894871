"""A real PostgreSQL server for the tests, started by the tests themselves.

TEST_DATABASE_URL names a server to use instead (its user must be allowed to create databases).
A missing server fails the tests that need one; it never skips them.
"""

from __future__ import annotations

import os
import pwd
import shutil
import signal
import socket
import subprocess
import tempfile
import time
from collections.abc import Iterator
from contextlib import contextmanager, suppress
from dataclasses import dataclass
from pathlib import Path

from scripts.machine import Programs, postgres

MEMORY = Path("/dev/shm")  # fsync stays on, as the product demands, but costs nothing there
ROOM_BYTES = 1_000_000_000
# A shop's server sorts text by language, SQLite by bytes: a page may depend on neither.
LANGUAGE = ["--locale-provider=icu", "--icu-locale=en-US", "--locale=C.UTF-8"]


@dataclass
class PostgresServer:
    """One server of our own: a folder, a socket in it, and a TCP port where asked for."""

    programs: Programs
    folder: Path
    user: str | None
    port: int
    listens: bool

    def url(self, database: str = "postgres") -> str:
        """Give the SQLAlchemy URL of one of its databases."""
        if self.listens:
            return f"postgresql+psycopg://postgres@127.0.0.1:{self.port}/{database}"
        return f"postgresql+psycopg://postgres@/{database}?host={self.folder}&port={self.port}"

    def start(self) -> None:
        """Start it and wait until it answers; after a kill its remains may need a moment."""
        where = "127.0.0.1" if self.listens else ""
        options = f"-k {self.folder} -p {self.port} -c listen_addresses='{where}'"
        log = str(self.folder / "log")
        command = ["pg_ctl", "-D", str(self.data), "-w", "-t", "60", "-l", log, "-o", options]
        for patience_s in (0.5, 1.0, 2.0, None):
            done = self._run([*command, "start"])
            if done.returncode == 0:
                return
            if patience_s is None:
                raise RuntimeError(f"PostgreSQL did not start: {done.stdout}{done.stderr}")
            time.sleep(patience_s)

    def stop(self) -> None:
        """Stop it without waiting for anybody."""
        self._run(["pg_ctl", "-D", str(self.data), "-m", "immediate", "-w", "stop"])

    def kill(self) -> None:
        """Kill the server and all its processes, as an unplugged machine would."""
        leader = int((self.data / "postmaster.pid").read_text().split()[0])
        os.killpg(leader, signal.SIGKILL)

    @property
    def data(self) -> Path:
        """Where its databases lie."""
        return self.folder / "data"

    def initialise(self) -> None:
        """Make the empty cluster, sorting text by language where this build can."""
        base = [
            "initdb",
            "-D",
            str(self.data),
            "-U",
            "postgres",
            "--auth=trust",
            "-N",
            "-E",
            "UTF8",
        ]
        for locale in (LANGUAGE, ["--locale=C"]):
            done = self._run([*base, *locale])
            if done.returncode == 0:
                return
            shutil.rmtree(self.data, ignore_errors=True)
        raise RuntimeError(f"initdb failed: {done.stdout}{done.stderr}")

    def _run(self, command: list[str]) -> subprocess.CompletedProcess[str]:
        program = str(self.programs.folder / command[0])
        # Output goes to a file: the server inherits it, and a pipe would never close.
        with tempfile.TemporaryFile("w+") as said:
            done = subprocess.run(
                [program, *command[1:]],
                stdin=subprocess.DEVNULL,
                stdout=said,
                stderr=subprocess.STDOUT,
                cwd=self.folder,
                env=self.programs.environment(),
                user=self.user,
                group=self.user and pwd.getpwnam(self.user).pw_gid,
                extra_groups=None if self.user is None else [],
            )
            said.seek(0)
            return subprocess.CompletedProcess(command, done.returncode, said.read(), "")


def _account() -> str | None:
    """PostgreSQL refuses to run as root; then it runs as the user made for it."""
    if os.geteuid() != 0:
        return None
    names = {entry.pw_name for entry in pwd.getpwall()}
    return "postgres" if "postgres" in names else "nobody"


def _new_folder(user: str | None) -> Path:
    roomy = MEMORY.is_dir() and os.access(MEMORY, os.W_OK)
    roomy = roomy and shutil.disk_usage(MEMORY).free > ROOM_BYTES
    prefix = f"ringwright-pg-{os.getpid()}-"
    folder = Path(tempfile.mkdtemp(prefix=prefix, dir=MEMORY if roomy else None))
    if user is not None:
        account = pwd.getpwnam(user)
        os.chown(folder, account.pw_uid, account.pw_gid)
    return folder


def _free_port() -> int:
    with socket.socket() as probe:
        probe.bind(("127.0.0.1", 0))
        return int(probe.getsockname()[1])


@contextmanager
def own_server(*, listens: bool = False) -> Iterator[PostgresServer]:
    """Run a server for the block; with `listens` it is reached over TCP, as for kills."""
    programs = postgres()
    if programs is None:
        raise RuntimeError(
            "No PostgreSQL server on this machine: run ./check once, which installs it, or set "
            "TEST_DATABASE_URL. To leave these tests out: pytest -m 'not postgres'."
        )
    _sweep()
    user = _account()
    server = PostgresServer(programs, _new_folder(user), user, _free_port(), listens)
    try:
        server.initialise()
        server.start()
        yield server
    finally:
        server.stop()
        shutil.rmtree(server.folder, ignore_errors=True)


def _sweep() -> None:
    """Stop what a test run left behind that was killed before it could clean up."""
    for folder in [
        *MEMORY.glob("ringwright-pg-*"),
        *Path(tempfile.gettempdir()).glob("ringwright-pg-*"),
    ]:
        owner = int(folder.name.split("-")[2])
        if Path(f"/proc/{owner}").exists():
            continue
        pid_file = folder / "data" / "postmaster.pid"
        with suppress(OSError, ValueError):  # not running, or not ours
            os.killpg(int(pid_file.read_text().split()[0]), signal.SIGKILL)
        shutil.rmtree(folder, ignore_errors=True)


def server_url(server: PostgresServer | None, database: str) -> str:
    """Give the URL of a database on our own server, or on that of TEST_DATABASE_URL."""
    if server is not None:
        return server.url(database)
    from sqlalchemy.engine import make_url

    given = make_url(os.environ["TEST_DATABASE_URL"])
    return given.set(database=database).render_as_string(hide_password=False)
