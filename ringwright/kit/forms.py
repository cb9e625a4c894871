"""What a form of a page sends, as plain texts; files among it as their content."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Annotated, Final
from uuid import uuid4

from fastapi import Depends, Request
from starlette.datastructures import UploadFile

from ringwright.core.errors import Refused

MOST_BYTES: Final = 6 * 1024 * 1024
"""More than any form here may carry; each upload has its own, smaller limit."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Upload:
    """A file as somebody chose it."""

    name: str
    content: bytes

    def text(self, most_bytes: int) -> str:
        """Its text; raises Refused where it is too large or no UTF-8 text."""
        if len(self.content) > most_bytes:
            largest = f"{most_bytes / 1024 / 1024:g} MB"
            raise Refused(f"{self.name} is larger than {largest}; load it by the command line")
        try:
            return self.content.decode("utf-8-sig")
        except UnicodeDecodeError:
            raise Refused(f"{self.name} is not UTF-8 text; save it as UTF-8 first") from None


@dataclass(frozen=True, slots=True, kw_only=True)
class Given:
    """The fields of one form as they were sent."""

    fields: dict[str, list[str]]
    files: dict[str, Upload]

    def text(self, name: str) -> str:
        """A field's last text, trimmed; empty when it was not sent."""
        return self.fields.get(name, [""])[-1].strip()

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
    length = request.headers.get("content-length", "0")
    if length.isdigit() and int(length) > MOST_BYTES:
        raise Refused("what was sent is larger than 6 MB; load it by the command line")
    fields: dict[str, list[str]] = {}
    files: dict[str, Upload] = {}
    async with request.form(max_part_size=MOST_BYTES) as form:
        for name, value in form.multi_items():
            if isinstance(value, UploadFile):
                content = await value.read(MOST_BYTES)
                if value.filename or content:
                    files[name] = Upload(name=value.filename or "file", content=content)
            else:
                fields.setdefault(name, []).append(value)
    return Given(fields=fields, files=files)


Sent = Annotated[Given, Depends(_given)]
"""The form that a page posted."""


def new_key() -> str:
    """A key for one form as drawn: sent twice it books once."""
    return str(uuid4())
