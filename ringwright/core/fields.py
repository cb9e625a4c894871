"""Tables that a person typed into a file, read field by field with plain refusals.

Every refusal is one line that says where (file, table, field) and what is wrong, so that the
file can be mended without asking anybody.
"""

from __future__ import annotations

import math
import tomllib
import unicodedata
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import asdict
from datetime import date, datetime
from typing import TYPE_CHECKING, Any, Final, NoReturn

from ringwright.core.errors import Refused

if TYPE_CHECKING:
    from _typeshed import DataclassInstance

TEXT_LIMIT: Final = 200
WHOLE_LIMIT: Final = 1_000_000_000
_REQUIRED: Final = object()
# Control characters, lone surrogates, line and paragraph separators.
_UNPRINTED: Final = frozenset({"Cc", "Cs", "Zl", "Zp"})
# Invisible in a code as well: it would look right and never match a scan.
_UNSEEN: Final = _UNPRINTED | {"Cf"}
_FORMULA: Final = ("=", "+", "-", "@", "\t")


def read_toml(text: str, where: str) -> Fields:
    """The whole of a TOML file; a mistake in its syntax is refused in one line."""
    try:
        table = tomllib.loads(text.removeprefix("\ufeff"))
    except (ValueError, RecursionError) as problem:  # ValueError: endless digits, bad syntax
        said = " ".join(str(problem).split())[:TEXT_LIMIT]
        raise Refused(f"{where}: not valid TOML: {said}") from None
    return Fields(table, where)


def problem_of_code(text: str) -> str | None:
    """What is wrong with a code, serial or other word that machines compare; None if sound."""
    if not text or text != text.strip():
        return "must not be empty, nor begin or end with a space"
    if text.startswith(_FORMULA):
        return "must not begin with = + - @ or a tab"
    return _problem_of_characters(text, _UNSEEN)


def problem_of_text(text: str) -> str | None:
    """What is wrong with a line of free text; None if sound."""
    return _problem_of_characters(text, _UNPRINTED)


def as_data(record: DataclassInstance) -> dict[str, Any]:
    """A record as JSON-able data with every field, tuples as lists."""
    return {name: _listed(value) for name, value in asdict(record).items()}


def shown(value: object) -> str:
    """A value as a message quotes it: one line, not endless."""
    text = repr(value)
    return text if len(text) <= 60 else text[:60] + "…"


class Fields:
    """One table of a file: asks for a field by name and type, refuses what is not sound."""

    def __init__(self, table: object, where: str) -> None:
        self.where = where
        if not isinstance(table, dict):
            self.refuse(f"{shown(table)} is not a table")
        self.table: Mapping[str, object] = table

    def refuse(self, problem: str) -> NoReturn:
        """Refuse the file for this table."""
        raise Refused(f"{self.where}: {problem}")

    def only(self, *known: str) -> None:
        """Refuse any key but these."""
        for key in self.table:
            if key not in known:
                self.refuse(f"unknown key {shown(key)}; known here: {', '.join(known)}")

    def has(self, key: str) -> bool:
        """True when the key was given."""
        return key in self.table

    def text(self, key: str, default: object = _REQUIRED) -> str:
        """A line of free text."""
        value = self._value(key, default)
        if not isinstance(value, str):
            self.refuse(f"{key} must be text in quotes, not {shown(value)}")
        if default is _REQUIRED and not value.strip():
            self.refuse(f"{key} must not be empty")
        return self._sound(key, value, problem_of_text(value))

    def code(self, key: str, default: object = _REQUIRED) -> str:
        """A word that is compared as it stands; an empty default means none."""
        value = self._value(key, default)
        if not isinstance(value, str):
            self.refuse(f"{key} must be text in quotes, not {shown(value)}")
        if not value and default == "":
            return value
        return self._sound(key, value, problem_of_code(value))

    def optional_code(self, key: str) -> str | None:
        """A code, or None when the key is absent."""
        return self.code(key) if self.has(key) else None

    def codes(self, key: str) -> tuple[str, ...]:
        """A list of codes, each once; one alone may stand without brackets."""
        value = self.table.get(key, [])
        listed = value if isinstance(value, list) else [value]
        found = [Fields({key: item}, self.where).code(key) for item in listed]
        return tuple(dict.fromkeys(found))

    def choice(self, key: str, among: Sequence[str], default: object = _REQUIRED) -> str:
        """One of the words known for this field."""
        value = self._value(key, default)
        if not isinstance(value, str) or value not in among:
            self.refuse(f"unknown {key} {shown(value)}; one of: {', '.join(among)}")
        return value

    def number(self, key: str, default: object = _REQUIRED) -> float:
        """A finite number, whole or with decimals."""
        value = self._value(key, default)
        if isinstance(value, bool) or not isinstance(value, int | float):
            self.refuse(f"{key} must be a number, not {shown(value)}")
        try:
            number = float(value) + 0.0  # + 0.0 makes -0.0 a plain zero
        except OverflowError:
            self.refuse(f"{key} is too large: {shown(value)}")
        if not math.isfinite(number):
            self.refuse(f"{key} must be a finite number, not {shown(value)}")
        return number

    def optional_number(self, key: str) -> float | None:
        """A finite number, or None when the key is absent."""
        return self.number(key) if self.has(key) else None

    def numbers_by_code(self, key: str) -> dict[str, float]:
        """A table of numbers, each by a code; empty where it is absent."""
        if not self.has(key):
            return {}
        table = self.under(key, f"{self.where} {key}")
        return {name: table.number(name) for name in table.table}

    def whole(self, key: str, default: object = _REQUIRED, at_least: int = 1) -> int:
        """A whole number within reason."""
        value = self._value(key, default)
        if isinstance(value, bool) or not isinstance(value, int):
            self.refuse(f"{key} must be a whole number, not {shown(value)}")
        if not at_least <= value <= WHOLE_LIMIT:
            self.refuse(f"{key} must be from {at_least} to {WHOLE_LIMIT}, not {shown(value)}")
        return value

    def optional_whole(self, key: str) -> int | None:
        """A whole number of one or more, or None when the key is absent."""
        return self.whole(key) if self.has(key) else None

    def optional_date(self, key: str) -> str | None:
        """An ISO date, or None when the key is absent."""
        return self._date(key, self.table[key]) if self.has(key) else None

    def dates(self, key: str) -> tuple[str, ...]:
        """ISO dates in order, each once."""
        return tuple(sorted({self._date(key, value) for value in self.items(key)}))

    def items(self, key: str) -> list[object]:
        """A list of anything; empty when the key is absent."""
        value = self.table.get(key, [])
        if not isinstance(value, list):
            self.refuse(f"{key} must be a list in brackets, not {shown(value)}")
        return value

    def under(self, key: str, where: str) -> Fields:
        """The table of that name, which must be there."""
        return Fields(self._value(key, _REQUIRED), where)

    def tables(self, key: str) -> list[object]:
        """The tables written [[key]], as they stand; none when absent."""
        value = self.table.get(key, [])
        if not isinstance(value, list):
            self.refuse(f"{key} must be written as [[{key}]]")
        return value

    def _value(self, key: str, default: object) -> object:
        value = self.table.get(key, default)
        if value is _REQUIRED:
            self.refuse(f"{key} is missing")
        return value

    def _sound(self, key: str, value: str, problem: str | None) -> str:
        if problem is not None:
            self.refuse(f"{key} {shown(value)} {problem}")
        return value

    def _date(self, key: str, value: object) -> str:
        day = _iso_date(value)
        if day is None:
            self.refuse(f"{key} must be a date such as 2026-10-01, not {shown(value)}")
        return day


def first_repeated(values: Iterable[object]) -> object | None:
    """The first value that stands twice, or None."""
    seen: set[object] = set()
    for value in values:
        if value in seen:
            return value
        seen.add(value)
    return None


def _iso_date(value: object) -> str | None:
    if isinstance(value, str):
        try:
            return date.fromisoformat(value.strip()).isoformat()
        except ValueError:
            return None
    # A datetime is a date too, but one whose hour would be lost.
    if isinstance(value, date) and not isinstance(value, datetime):
        return value.isoformat()
    return None


def _problem_of_characters(text: str, refused: frozenset[str]) -> str | None:
    if len(text) > TEXT_LIMIT:
        return f"is longer than {TEXT_LIMIT} characters"
    if any(unicodedata.category(character) in refused for character in text):
        return "must not hold control or invisible characters"
    return None


def _listed(value: object) -> object:
    if isinstance(value, dict):
        return {key: _listed(item) for key, item in value.items()}
    if isinstance(value, list | tuple):
        return [_listed(item) for item in value]
    return value
