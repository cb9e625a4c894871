"""How much a request may hold, and what may stand in it once only: bytes in, trouble out.

The server has a limit of its own (16 kB for the whole head) and hangs up there; these are the
ones that answer in words.
"""

from __future__ import annotations

import json
from collections import Counter
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from typing import Any, Final
from urllib.parse import parse_qsl

from ringwright.kit.forms import REPEATED_IN_ADDRESS

METHODS: Final = ("GET", "HEAD", "OPTIONS", "POST", "PUT", "PATCH", "DELETE")
"""What is looked at; TRACE and CONNECT never are (ASVS 13.4.4)."""
MOST_HEADERS: Final = 80
MOST_HEADER_BYTES: Final = 12_000
MOST_QUERY_BYTES: Final = 8_000
"""RFC 9110, 4.1: at least 8000 octets should be taken."""
MOST_QUERY_FIELDS: Final = 500
MOST_JSON_BYTES: Final = 1024 * 1024
MOST_DEPTH: Final = 20
"""Brackets within brackets in JSON; no order here needs more than three."""
ONCE: Final = frozenset(
    {
        b"host",
        b"authorization",
        b"content-type",
        b"origin",
        b"sec-fetch-site",
        b"sec-fetch-mode",
    }
)
"""Headers on which something is decided: two of one would be read by one part of the way as the
first and by another as the last."""


@dataclass(frozen=True, slots=True)
class Trouble:
    """Why a request is not looked at any further."""

    status: int
    code: str
    detail: str


NO_NUL: Final = Trouble(
    422, "malformed", "the address holds a NUL, which no code or name holds"
)
"""PostgreSQL has no such letter in a text and would fail where SQLite finds nothing."""

TOO_DEEP: Final = Trouble(422, "malformed", f"brackets are nested more than {MOST_DEPTH} deep")


def trouble_of_headers(headers: Iterable[tuple[bytes, bytes]]) -> Trouble | None:
    """Too many headers, too long, or two where one decides."""
    seen: list[bytes] = []
    size = 0
    for name, value in headers:
        seen.append(name)
        size += len(name) + len(value)
    if len(seen) > MOST_HEADERS or size > MOST_HEADER_BYTES:
        return Trouble(431, "headers", "the headers of this request are too many or too long")
    twice = [name for name in ONCE if seen.count(name) > 1]
    if twice:
        return Trouble(400, "twice", f"the header {twice[0].decode('ascii')} was sent twice")
    return None


def trouble_of_query(query: bytes) -> Trouble | None:
    """Too long an address, or a value in it twice where one is read (ASVS 15.3.7)."""
    if len(query) > MOST_QUERY_BYTES:
        return Trouble(414, "too-long", "the address is too long; ask for less at once")
    if b"%00" in query:
        return NO_NUL
    if b"&" not in query:
        return None
    try:
        pairs = parse_qsl(
            query.decode("latin-1"), keep_blank_values=True, max_num_fields=MOST_QUERY_FIELDS
        )
    except ValueError:
        return Trouble(
            422, "malformed", "the address holds more fields than anything here reads"
        )
    return trouble_of_fields([name for name, _ in pairs], REPEATED_IN_ADDRESS)


def trouble_of_fields(names: Sequence[str], repeated: frozenset[str]) -> Trouble | None:
    """A name that stands several times though only one value is read."""
    if len(set(names)) == len(names):
        return None
    counted = Counter(names).items()
    twice = [name for name, times in counted if times > 1 and name not in repeated]
    if not twice:
        return None
    return Trouble(
        422, "twice", f"{twice[0][:60]!r} was sent twice; which one counts is unclear"
    )


def trouble_of_json(body: bytes) -> Trouble | None:
    """JSON nested too deep, or with a name twice in one object, which readers take differently.

    What is no JSON at all is left to its reader, who says so. RFC 8259, 4: names SHOULD be
    unique; 9: a parser may limit the depth.
    """
    try:
        found = json.loads(body, object_pairs_hook=_once)
    except _Twice as twice:
        return Trouble(422, "twice", f"{twice.name[:60]!r} stands twice in one object")
    except RecursionError:
        return TOO_DEEP
    except ValueError:
        return None
    # Only what has that many brackets can be that deep.
    if body.count(b"[") + body.count(b"{") <= MOST_DEPTH:
        return None
    return TOO_DEEP if _is_deep(found) else None


class _Twice(Exception):
    def __init__(self, name: str) -> None:
        self.name = name


def _once(pairs: list[tuple[str, Any]]) -> dict[str, Any]:
    found = dict(pairs)
    if len(found) < len(pairs):
        names = Counter(name for name, _ in pairs)
        raise _Twice(next(name for name, times in names.items() if times > 1))
    return found


def _is_deep(found: Any) -> bool:
    level = [found]
    for _ in range(MOST_DEPTH + 1):
        level = [inner for one in level for inner in _inside(one)]
        if not level:
            return False
    return True


def _inside(thing: Any) -> Iterable[Any]:
    held = thing.values() if isinstance(thing, dict) else thing
    return [one for one in held if isinstance(one, dict | list)] if _holds(thing) else ()


def _holds(thing: Any) -> bool:
    return isinstance(thing, dict | list)
