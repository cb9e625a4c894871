"""What others wrote and we ship is unchanged since it was taken, whole, and licensed."""

from __future__ import annotations

import hashlib
import re
from pathlib import Path

import pytest

import ringwright

PACKAGE = Path(ringwright.__file__).parent
STATIC = PACKAGE / "static"
FOLDERS = ("vendor", "fonts")


def sums(folder: str) -> dict[str, str]:
    lines = (STATIC / folder / "SHA256SUMS").read_text(encoding="ascii").splitlines()
    return {name: digest for digest, name in (line.split() for line in lines)}


@pytest.mark.parametrize("folder", FOLDERS)
def test_every_shipped_file_has_its_digest_and_none_is_missing(folder: str) -> None:
    shipped = {path.name: path for path in (STATIC / folder).iterdir()}
    del shipped["SHA256SUMS"]

    found = {
        name: hashlib.sha256(path.read_bytes()).hexdigest() for name, path in shipped.items()
    }

    assert found == sums(folder)
    assert len(found) > 3


# htmx is 0BSD, idb ISC; both type families are under the SIL Open Font License 1.1.
@pytest.mark.parametrize(
    ("licence", "words", "covers"),
    [
        ("vendor/LICENSE-htmx.txt", "Zero-Clause BSD", "vendor/*.js"),
        ("vendor/LICENSE-idb.txt", "ISC License", "vendor/idb-*.js"),
        ("fonts/LICENSE-hepta-slab.txt", "SIL Open Font License", "fonts/hepta-slab*.woff2"),
        (
            "fonts/LICENSE-atkinson-hyperlegible-next.txt",
            "SIL Open Font License",
            "fonts/atkinson*.woff2",
        ),
    ],
)
def test_each_licence_lies_beside_what_it_covers(licence: str, words: str, covers: str) -> None:
    assert words in (STATIC / licence).read_text(encoding="utf-8")
    assert list(STATIC.glob(covers))


def test_what_pages_and_styles_ask_for_is_shipped() -> None:
    styles = "".join(path.read_text() for path in (STATIC / "css").glob("*.css"))
    pages = "".join(path.read_text() for path in (PACKAGE / "templates").rglob("*.html"))
    asked = set(re.findall(r"fonts/[\w.-]+\.woff2", styles))
    asked |= set(re.findall(r"vendor/[\w.-]+\.js", pages))

    assert len(asked) >= 5
    assert [name for name in sorted(asked) if not (STATIC / name).is_file()] == []


def test_every_type_file_is_woff2_and_every_style_uses_one() -> None:
    files = sorted((STATIC / "fonts").glob("*.woff2"))
    styles = "".join(path.read_text() for path in (STATIC / "css").glob("*.css"))

    # The first four bytes of a woff2 file: W3C WOFF File Format 2.0, section 4.1.
    assert {path.read_bytes()[:4] for path in files} == {b"wOF2"}
    assert [path.name for path in files if path.name not in styles] == []
