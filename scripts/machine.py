"""What the tests need from the machine itself: a PostgreSQL server and Chromium.

As root they are installed with Debian's package manager where they are missing. Without root,
their packages are unpacked into .cache. Where neither works, a sentence says what is missing.
"""

from __future__ import annotations

import os
import re
import shutil
import subprocess
from dataclasses import dataclass
from pathlib import Path

ROOT = Path(__file__).resolve().parent.parent
UNPACKED = ROOT / ".cache" / "debian"


@dataclass(frozen=True)
class Programs:
    """A folder of programs, and where their libraries lie if they were only unpacked."""

    folder: Path
    libraries: tuple[Path, ...] = ()

    def environment(self) -> dict[str, str]:
        """Give the environment in which these programs find their libraries."""
        known = dict(os.environ)
        if self.libraries:
            known["LD_LIBRARY_PATH"] = ":".join(str(path) for path in self.libraries)
        return known


def postgres() -> Programs | None:
    """Find a PostgreSQL server: on the PATH, as Debian installs it, or unpacked."""
    found = shutil.which("initdb")
    if found and (Path(found).resolve().parent / "pg_ctl").exists():
        return Programs(Path(found).resolve().parent)
    installed = _newest(Path("/usr/lib/postgresql"))
    if installed:
        return Programs(installed)
    unpacked = _newest(UNPACKED / "usr/lib/postgresql")
    return Programs(unpacked, _libraries()) if unpacked else None


def chromium() -> Programs | None:
    """Find the folder of Debian's Chromium; the program in it is called chromium."""
    found = shutil.which("chromium")
    if found:
        return Programs(Path(found).parent)
    unpacked = UNPACKED / "usr/lib/chromium"
    return Programs(unpacked, _libraries()) if (unpacked / "chromium").exists() else None


def _newest(folder: Path) -> Path | None:
    versions = [path.parent.parent for path in folder.glob("*/bin/initdb")]
    versions.sort(key=lambda path: int(re.sub(r"\D", "", path.name) or 0))
    return versions[-1] / "bin" if versions else None


def _libraries() -> tuple[Path, ...]:
    return tuple(
        sorted(path for path in UNPACKED.glob("usr/lib/*-linux-gnu*") if path.is_dir())
    )


def missing(needed: dict[str, Programs | None]) -> list[str]:
    """Name the Debian packages of those programs that were not found."""
    return [package for package, programs in needed.items() if programs is None]


def provide(packages: list[str]) -> None:
    """Install Debian packages as root, or unpack them into .cache without."""
    if not packages:
        return
    if shutil.which("apt-get") is None:
        raise SystemExit(f"Missing on this machine: {', '.join(packages)}. Install them.")
    print(f"Installing {', '.join(packages)} (a minute or two) …", flush=True)
    if os.geteuid() == 0:
        _install(packages)
    else:
        _unpack(packages)


def _install(packages: list[str]) -> None:
    environment = {**os.environ, "DEBIAN_FRONTEND": "noninteractive"}
    install = ["apt-get", "install", "-y", "-qq", "--no-install-recommends", *packages]
    for command in (["apt-get", "update", "-qq"], install):
        if subprocess.run(command, env=environment, stdin=subprocess.DEVNULL).returncode:
            raise SystemExit(f"Could not install {', '.join(packages)}: see the lines above.")


def _unpack(packages: list[str]) -> None:
    state = ROOT / ".cache" / "apt"
    for folder in ("lists/partial", "archives/partial"):
        (state / folder).mkdir(parents=True, exist_ok=True)
    options = ["-qq", "-o", "Debug::NoLocking=1", "-o", f"Dir::State::lists={state}/lists"]
    options += ["-o", f"Dir::Cache={state}", "-o", f"Dir::Cache::archives={state}/archives"]
    fetch = ["install", "-y", "--download-only", "--no-install-recommends", *packages]
    for command in (["update"], fetch):
        if subprocess.run(["apt-get", *options, *command], stdin=subprocess.DEVNULL).returncode:
            raise SystemExit(
                f"Could not fetch {', '.join(packages)} without root: install them."
            )
    UNPACKED.mkdir(parents=True, exist_ok=True)
    for package in sorted((state / "archives").glob("*.deb")):
        subprocess.run(["dpkg", "-x", str(package), str(UNPACKED)], check=True)
