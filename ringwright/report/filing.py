"""A report put into a folder, whole or not at all."""

from __future__ import annotations

import os
import tempfile
from pathlib import Path

from ringwright.core.errors import Refused
from ringwright.report.files import file_of, name_of
from ringwright.report.model import FORMS, Report


def files_of(report: Report) -> dict[str, bytes]:
    """Every form of a report by the name of its file."""
    return {name_of(report, form): file_of(report, form) for form in FORMS}


def put(folder: Path, files: dict[str, bytes]) -> None:
    """Write the files into a folder that is there; each appears whole under its name.

    A folder that is missing is refused, not made: it may be a share that is not mounted, and
    a report beneath it would be found by nobody.
    """
    if not folder.is_dir():
        raise Refused(f"{folder} is no folder; make it, or mount it, and ask again")
    try:
        for name, body in files.items():
            _write(folder / name, body)
    except OSError as trouble:
        raise Refused(f"{folder}: {trouble.strerror or trouble}") from None


def _write(path: Path, body: bytes) -> None:
    handle, beside = tempfile.mkstemp(prefix=f".{path.name}.", dir=path.parent)
    try:
        with os.fdopen(handle, "wb") as file:
            file.write(body)
            file.flush()
            os.fsync(file.fileno())
        # As any other file of that folder: the helper makes them for its owner alone.
        mask = os.umask(0)
        os.umask(mask)
        Path(beside).chmod(0o666 & ~mask)
        Path(beside).replace(path)
    except BaseException:
        Path(beside).unlink(missing_ok=True)
        raise
