"""A folder that holds the data set of one or several sites, and nothing else.

A site's files are made aside and moved in whole. Its manifest is taken away first and written
last: without one, a site's files are no data set, whatever a power cut left.
"""

from __future__ import annotations

import shutil
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from tempfile import mkdtemp
from typing import Final
from urllib.parse import quote

from ringwright.core.errors import Refused

TABLES: Final = ("parts", "visits", "readings", "revisions", "steps", "weeks")
ASIDE: Final = ".ringwright-"
MANIFEST: Final = "_site="


def site_folder(site: str) -> str:
    """The partition of a site, its code escaped as engines read it back."""
    return f"site={quote(site, safe='')}"


def manifest_name(site: str) -> str:
    """The name of a site's manifest; engines leave out what begins with an underscore."""
    return f"_{site_folder(site)}.json"


def check_folder(folder: Path) -> None:
    """Raise Refused for a folder that holds anything but data sets."""
    if folder.exists() and not folder.is_dir():
        raise Refused(f"{folder} is a file, not a folder")
    for one in sorted(folder.iterdir()) if folder.exists() else ():
        if not (one.name in TABLES or one.name.startswith((ASIDE, MANIFEST))):
            raise Refused(f"{folder} holds {one.name}, which is no part of a data set")


@contextmanager
def replacing(folder: Path, site: str) -> Iterator[Path]:
    """A folder to make a site's files in; they replace the old ones when the block ends.

    Raises Refused where the folder holds something else, OSError where it cannot be written.
    """
    check_folder(folder)
    folder.mkdir(parents=True, exist_ok=True)
    aside = Path(mkdtemp(prefix=ASIDE, dir=folder))
    try:
        yield aside
        _move_in(folder, aside, site)
    finally:
        shutil.rmtree(aside, ignore_errors=True)


def _move_in(folder: Path, aside: Path, site: str) -> None:
    manifest, old = manifest_name(site), aside / "old"
    (folder / manifest).unlink(missing_ok=True)
    old.mkdir()
    for table in TABLES:
        there, made = folder / table / site_folder(site), aside / table / site_folder(site)
        if there.exists():
            there.rename(old / table)
        if made.exists():
            there.parent.mkdir(exist_ok=True)
            made.rename(there)
    (aside / manifest).rename(folder / manifest)
