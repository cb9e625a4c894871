"""What is suspect: a lot, run, station, gauge, person, step, defect or part, and since when.

A question is asked by an address, kept in the reason of a containment as plain text, and read
back from there: the same question can always be asked again.
"""

from __future__ import annotations

import re
from collections.abc import Mapping
from dataclasses import dataclass
from typing import Final

from ringwright.core.errors import Refused
from ringwright.core.instants import iso_text, parse_instant
from ringwright.flow.loads import parse_load

KINDS: Final = ("station", "run", "lot", "gauge", "person", "step", "defect", "part")
EVER_US: Final = -(2**62)
FOREVER_US: Final = 2**62
LONGEST: Final = 200
TIMELESS: Final = ("run", "part")
"""These name their own time: a window beside them would only hide parts."""

_OF: Final = re.compile(
    rf"(?P<reason>.*) \(of (?P<kind>{'|'.join(KINDS)}) (?P<value>.+?)"
    r"(?:, from (?P<from>\S+?))?(?:, to (?P<to>\S+?))?\)",
    re.S,
)


@dataclass(frozen=True, slots=True, kw_only=True)
class Question:
    """What is suspect, from one moment (inclusive) to another (exclusive) [us]."""

    kind: str
    value: str
    from_us: int | None = None
    to_us: int | None = None

    @property
    def start_us(self) -> int:
        """The first moment that counts."""
        return EVER_US if self.from_us is None else self.from_us

    @property
    def end_us(self) -> int:
        """The first moment that counts no more."""
        return FOREVER_US if self.to_us is None else self.to_us

    def address(self, zone: str) -> dict[str, str]:
        """The fields of the address that asks it, moments in site time with their offset."""
        found = {self.kind: self.value}
        if self.from_us is not None:
            found["from"] = iso_text(self.from_us, zone)
        if self.to_us is not None:
            found["to"] = iso_text(self.to_us, zone)
        return found

    def text(self, zone: str) -> str:
        """The question in one line, as the record keeps it."""
        asked = self.address(zone)
        told = [f"{self.kind} {self.value}"]
        told += [f"{word} {asked[word]}" for word in ("from", "to") if word in asked]
        return ", ".join(told)


def read_question(asked: Mapping[str, str], zone: str) -> Question | None:
    """The question of an address; None where it asks nothing. Raises Refused."""
    given = {kind: asked[kind].strip() for kind in KINDS if asked.get(kind, "").strip()}
    if not given:
        return None
    if len(given) > 1:
        raise Refused(f"ask about one thing at a time, not about {' and '.join(given)}")
    ((kind, value),) = given.items()
    if len(value) > LONGEST or not value.isprintable():
        raise Refused(f"{kind} is no code: too long, or with a control character")
    start = None if kind in TIMELESS else _moment(asked, "from", zone)
    end = None if kind in TIMELESS else _moment(asked, "to", zone)
    if start is not None and end is not None and end <= start:
        raise Refused("the window ends before it begins; put from before to")
    question = Question(kind=kind, value=value, from_us=start, to_us=end)
    if kind == "run" and "@" in value:  # else it is the code of a furnace run
        parse_load(value, zone)
    if kind == "step":
        step_of(value)
    return question


def _moment(asked: Mapping[str, str], name: str, zone: str) -> int | None:
    text = asked.get(name, "").strip()
    if not text:
        return None
    try:
        return parse_instant(text, zone)
    except ValueError as trouble:
        raise Refused(f"{name}: {trouble}") from None


def step_of(value: str) -> tuple[str, int]:
    """(product, step number) of a step such as HF22-BLADE/70."""
    product, _, number = value.rpartition("/")
    if not product or not number.isascii() or not number.isdigit() or len(number) > 9:
        raise Refused(f"a step is PRODUCT/NUMBER, such as VANE/20, not {value[:60]!r}")
    return product, int(number)


def with_question(reason: str, question: Question, zone: str) -> str:
    """A reason as the record keeps it, with what was asked behind it."""
    return f"{reason} (of {question.text(zone)})"


def without_question(reason: str) -> tuple[str, Question | None]:
    """What somebody typed as the reason, and the question behind it where there is one."""
    found = _OF.fullmatch(reason)
    if found is None:
        return reason, None
    named = found.groupdict()
    asked = {named["kind"]: named["value"], "from": named["from"], "to": named["to"]}
    try:
        question = read_question({k: v for k, v in asked.items() if v}, "UTC")
    except Refused:
        return reason, None
    return named["reason"], question
