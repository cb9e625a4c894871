"""What a form of a page sends, as plain texts; files among it as their content."""

from __future__ import annotations

import re
from dataclasses import dataclass
from typing import Annotated, Final
from uuid import uuid4

from fastapi import Depends, Request
from starlette.datastructures import UploadFile
from starlette.exceptions import HTTPException

from ringwright.core.errors import Refused

MOST_BYTES: Final = 6 * 1024 * 1024
"""More than any form here may carry; each upload has its own, smaller limit."""
MOST_FILM_BYTES: Final = 26 * 1024 * 1024
"""The same for the form at the Bench that attaches: a radiograph is large."""
TAKES_FILMS: Final = "/bench/acts/"
"""How the address of that form begins."""
MOST_FIELDS: Final = 2_000
MOST_FILES: Final = 4
SAFE: Final = frozenset({"GET", "HEAD", "OPTIONS"})
"""Methods that change nothing (RFC 9110, 9.2.1)."""
REPEATED_IN_ADDRESS: Final = frozenset({"exchange", "exclude", "lock", "lost"})
"""The fields of an address that may stand several times; any other twice is refused."""
REPEATED_IN_FORMS: Final = frozenset(
    {"entering", "roles", "scopes", "seen", "serial", "thing", "weight"}
)
"""The same for forms. Read as one value, one that was sent twice is refused all the same."""
MAGIC: Final = (
    (b"PK\x03\x04", "a workbook or an archive"),
    (b"PK\x05\x06", "an empty archive"),
    (b"\xd0\xcf\x11\xe0\xa1\xb1\x1a\xe1", "an old workbook or document, which may hold macros"),
    (b"\x1f\x8b", "a packed file"),
    (b"\xfd7zXZ", "a packed file"),
    (b"7z\xbc\xaf", "a packed file"),
    (b"%PDF", "a PDF"),
    (b"{\\rtf", "a formatted document"),
    (b"\x89PNG", "a picture"),
    (b"\xff\xd8\xff", "a picture"),
    (b"GIF8", "a picture"),
    (b"\x7fELF", "a program"),
    (b"SQLite format 3", "a database"),
)
"""How files begin that somebody may choose by mistake, or not by mistake (from memory; most are
in the registry of magic numbers of file(1))."""
_UNREAD: Final = re.compile("[\x00-\x08\x0b\x0c\x0e-\x1f\x7f]")
_NAMELESS: Final = "file"


@dataclass(frozen=True, slots=True, kw_only=True)
class Upload:
    """A file as somebody chose it."""

    name: str
    content: bytes

    @property
    def ending(self) -> str:
        """What its name ends in, small; empty where it has no ending."""
        return self.name.lower().rpartition(".")[2] if "." in self.name else ""

    def text(self, most_bytes: int, endings: tuple[str, ...] = ("csv", "txt")) -> str:
        """Its text, judged by its content and its name (ASVS 5.2.2).

        Raises Refused where it is too large, is named as something else, or is no UTF-8 text.
        """
        if len(self.content) > most_bytes:
            largest = f"{most_bytes / 1024 / 1024:g} MB"
            raise Refused(f"{self.name} is larger than {largest}; load it by the command line")
        what = next((told for magic, told in MAGIC if self.content.startswith(magic)), None)
        wanted = endings[0].upper()
        if what is not None:
            raise Refused(f"{self.name} is {what}; save its content as {wanted}")
        if self.ending not in endings:
            raise Refused(
                f"{self.name} is named as no {wanted} file; its name ends in none of "
                f"{', '.join('.' + ending for ending in endings)}"
            )
        try:
            text = self.content.decode("utf-8-sig")
        except UnicodeDecodeError:
            raise Refused(f"{self.name} is not UTF-8 text; save it as UTF-8 first") from None
        if _UNREAD.search(text):
            raise Refused(
                f"{self.name} holds bytes that no text holds; save it as {wanted} anew"
            )
        return text


@dataclass(frozen=True, slots=True, kw_only=True)
class Given:
    """The fields of one form as they were sent."""

    fields: dict[str, list[str]]
    files: dict[str, Upload]

    def text(self, name: str) -> str:
        """A field's text, trimmed; empty when it was not sent. Raises Refused for two."""
        texts = self.fields.get(name, [""])
        if len(texts) > 1:
            raise Refused(_twice(name), code="twice")
        return texts[0].strip()

    def texts(self, name: str) -> tuple[str, ...]:
        """All texts of a field that may be sent several times, empty ones left out."""
        return tuple(text.strip() for text in self.fields.get(name, []) if text.strip())

    def under(self, prefix: str) -> dict[str, str]:
        """Fields named `prefix` and something, by that something."""
        found = {name: self.text(name) for name in self.fields if name.startswith(prefix)}
        return {name.removeprefix(prefix): text for name, text in found.items()}

    def whole(self, name: str) -> int | None:
        """A whole number, or None when empty; raises Refused."""
        text = self.text(name)
        if not text:
            return None
        if not text.isascii() or not text.isdigit() or len(text) > 15:
            raise Refused(f"{name.replace('_', ' ')} {text[:40]!r} is not a whole number")
        return int(text)


NOTHING: Final = Given(fields={}, files={})
"""A form before anything was typed."""


async def _given(request: Request) -> Given:
    """Read once: who looks at the signatures of a form reads it before the page does."""
    kept: Given | None = getattr(request.state, "given", None)
    if kept is None:
        kept = request.state.given = await _read(request)
    return kept


async def _read(request: Request) -> Given:
    """What was sent; raises Refused for too many fields, and for one twice that is read once.

    How large it may be in all is measured before, in `web/intake.py`, as it arrives.
    """
    fields: dict[str, list[str]] = {}
    files: dict[str, Upload] = {}
    limits = {"max_files": MOST_FILES, "max_fields": MOST_FIELDS, "max_part_size": MOST_BYTES}
    try:
        async with request.form(**limits) as form:
            for name, value in form.multi_items():
                if isinstance(value, UploadFile):
                    _keep(files, name, value.filename, await value.read(MOST_FILM_BYTES))
                else:
                    fields.setdefault(name, []).append(value)
    except HTTPException as trouble:
        # The reader of forms says 400 to whatever it cannot read.
        raise Refused(f"the form cannot be read: {trouble.detail}", code="malformed") from None
    for name, texts in fields.items():
        if any("\x00" in text for text in texts):
            raise Refused(f"{name[:60]!r} holds a NUL; type it again", code="malformed")
        if len(texts) > 1 and name not in REPEATED_IN_FORMS:
            raise Refused(_twice(name), code="twice")
    return Given(fields=fields, files=files)


def _keep(files: dict[str, Upload], field: str, name: str | None, content: bytes) -> None:
    if not name and not content:
        return
    if field in files:
        raise Refused("one file at a time; choose one", code="twice")
    files[field] = Upload(name=plain_name(name or _NAMELESS), content=content)


def plain_name(name: str) -> str:
    """A file's name as it may be shown: no folders, no signs that hide or move text.

    Nothing is ever kept under it (ASVS 5.3.2).
    """
    last = re.split(r"[/\\]", name)[-1]
    shown = "".join(letter for letter in last if letter.isprintable()).strip()
    return shown[-120:] or _NAMELESS


def _twice(name: str) -> str:
    return f"{name[:60]!r} was sent twice; which one counts is unclear"


Sent = Annotated[Given, Depends(_given)]
"""The form that a page posted."""


def new_key() -> str:
    """A key for one form as drawn: sent twice it books once."""
    return str(uuid4())
