"""The store's files belong to whoever runs the server (OWASP ASVS 5.0.0, 13.3.2, 13.4.7)."""

from __future__ import annotations

import os
import stat
from pathlib import Path

import pytest

from ringwright.cli import main
from ringwright.kit.render import STATIC
from ringwright.settings import ROOT, read_settings

pytestmark = pytest.mark.skipif(os.name != "posix", reason="rights of files as POSIX has them")


def rights(path: Path) -> int:
    return stat.S_IMODE(path.stat().st_mode)


def test_the_store_its_log_its_folder_and_a_backup_are_its_owner_s_alone(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    folder = tmp_path / "data"
    monkeypatch.setenv("RINGWRIGHT_DATABASE_URL", f"sqlite:///{folder / 'ring.sqlite'}")
    before = os.umask(0)  # the most careless there is
    try:
        assert main(["migrate"]) == 0
        assert main(["backup", str(tmp_path / "kept")]) == 0
    finally:
        os.umask(before)

    assert rights(folder) == 0o700
    files = list(folder.iterdir())
    assert "ring.sqlite" in {file.name for file in files}
    assert {rights(file) for file in (*files, tmp_path / "kept")} == {0o600}


def test_nothing_of_the_store_lies_where_files_are_served_from() -> None:
    store = Path(read_settings({}).database_url.removeprefix("sqlite:///"))

    assert store.parent == ROOT / "data"
    assert STATIC not in store.parents
    assert not store.is_relative_to(STATIC)
    kinds = {path.suffix for path in STATIC.rglob("*") if path.is_file()}
    assert kinds <= {".css", ".js", ".svg", ".woff2", ".txt", ""}
