"""Canonical JSON (RFC 8785) and the hash that chains one event to the one before it."""

from __future__ import annotations

import hashlib
from typing import Any

import rfc8785

GENESIS = bytes(32)
"""The hash before the first event of a real site."""

_SEPARATOR = "\x1f"
_ABSENT = "\x00"  # not the same as an empty text


def genesis(practice_of: str | None) -> bytes:
    """The hash before the first event of a site, real or practice.

    A practice site's differs and names its real site, so that its chain continues no real one
    and marking it as real, or a real one as practice, breaks the audit at the first event.
    """
    if practice_of is None:
        return GENESIS
    return hashlib.sha256(f"ringwright practice site of {practice_of}".encode()).digest()


def canonical_json(value: Any) -> str:
    """RFC 8785 text of a JSON value: the same value is the same text on either store."""
    return rfc8785.dumps(value).decode("utf-8")


def digest(operation: str, fields: Any) -> str:
    """SHA-256 [hex] over an operation and its normalised command."""
    return hashlib.sha256(rfc8785.dumps([operation, fields])).hexdigest()


def link(previous: bytes, columns: tuple[Any, ...]) -> bytes:
    """The hash of an event: SHA-256 over the previous hash and its columns.

    Every text column but the payload is free of control characters (checked when appended) and
    canonical JSON escapes them, so the separator cannot occur inside a column.
    """
    text = _SEPARATOR.join([_ABSENT if column is None else str(column) for column in columns])
    return hashlib.sha256(previous + text.encode("utf-8", "surrogatepass")).digest()
