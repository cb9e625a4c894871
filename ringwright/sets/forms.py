"""The forms of Blade sets: rules, filters, locks, and what stands in the way of reserving."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

from ringwright.core.errors import RingwrightError
from ringwright.kit.words import Words
from ringwright.sets.asked import Asked, Links
from ringwright.sets.model import SetsSheet
from ringwright.sets.ring import Seat


@dataclass(frozen=True, slots=True, kw_only=True)
class Tried:
    """An act that was refused, and why."""

    title: str
    error: RingwrightError


@dataclass(frozen=True, slots=True, kw_only=True)
class FormField:
    """One field as it is filled; `usual` is the rotor's."""

    name: str
    label: str
    unit: str
    value: str
    usual: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class Lock:
    """A slot and the blade that may be kept there."""

    slot: int
    serial: str
    on: bool

    @property
    def value(self) -> str:
        """As the address writes it."""
        return f"{self.slot}:{self.serial}"


@dataclass(frozen=True, slots=True, kw_only=True)
class Form:
    """What the planner may set."""

    rules: tuple[FormField, ...]
    filters: tuple[FormField, ...]
    locks: tuple[Lock, ...]

    @property
    def locked(self) -> int:
        """How many slots are locked."""
        return sum(lock.on for lock in self.locks)


@dataclass(frozen=True, slots=True, kw_only=True)
class Reserving:
    """What the one button books, or why there is none."""

    why: str = ""
    blades: tuple[tuple[str, str], ...] = ()
    """(serial, the part's last entry as seen) of slot 1 … N."""


def make_form(asked: Asked, sheet: SetsSheet, seats: Sequence[Seat], words: Words) -> Form:
    """The fields as the address fills them."""
    return Form(
        rules=_rules(asked, sheet, words),
        filters=_filters(asked, words),
        locks=_locks(sheet, seats),
    )


def _rules(asked: Asked, sheet: SetsSheet, words: Words) -> tuple[FormField, ...]:
    _, rotor = words._, sheet.rotor
    found = [
        ("frequency_spread", _("Frequency spread"), "Hz", rotor.frequency_spread_hz),
        ("moment_spread", _("Moment spread"), "g·mm", rotor.moment_spread_g_mm),
        ("neighbour", _("Neighbour difference"), "g·mm", rotor.neighbour_g_mm),
        ("opposite", _("Opposite difference"), "g·mm", rotor.opposite_g_mm),
    ]
    if sheet.slots is not None and sheet.slots % 2 and not asked.text("opposite"):
        found.pop()
    return tuple(
        FormField(
            name=name,
            label=label,
            unit=unit,
            value=asked.text(name) if asked.given(name) else bare(usual),
            usual=bare(usual),
        )
        for name, label, unit, usual in found
    )


def bare(value: float | None) -> str:
    """A number as a field holds it: no thousands, no needless digits."""
    return "" if value is None else f"{value:.10g}"


def _filters(asked: Asked, words: Words) -> tuple[FormField, ...]:
    _ = words._
    found = [
        ("find", _("Serial with"), ""),
        ("moment_from", _("Moment from"), "g·mm"),
        ("moment_to", _("Moment to"), "g·mm"),
        ("frequency_from", _("Frequency from"), "Hz"),
        ("frequency_to", _("Frequency to"), "Hz"),
    ]
    return tuple(
        FormField(name=name, label=label, unit=unit, value=asked.text(name))
        for name, label, unit in found
    )


def _locks(sheet: SetsSheet, seats: Sequence[Seat]) -> tuple[Lock, ...]:
    """Every slot as it is drawn, and locks of blades that do not stand there."""
    locks = dict(sheet.question.limits.locks) if sheet.question else {}
    drawn = [
        Lock(slot=s.slot, serial=s.serial, on=locks.get(s.slot) == s.serial) for s in seats
    ]
    others = dict(locks)
    for lock in drawn:
        if lock.on:
            del others[lock.slot]
    drawn += [Lock(slot=slot, serial=serial, on=True) for slot, serial in others.items()]
    return tuple(sorted(drawn, key=lambda lock: (lock.slot, not lock.on)))


def reserving(sheet: SetsSheet, words: Words) -> Reserving:
    """What reserving the drawn answer would book."""
    shown, source = sheet.shown, sheet.source
    if shown is None:
        return Reserving(why=words._("There is no answer to reserve."))
    serials = sheet.pool.serials(shown.order)
    unknown = [serial for serial in serials if serial not in source.seqs]
    if unknown and not source.pool:
        return Reserving(
            why=words._("%(serial)s is free no more; build the set again.", serial=unknown[0])
        )
    if unknown:
        return Reserving(
            why=words._(
                "%(serial)s and others of this file are no free blades of the record: only "
                "blades of the record are reserved.",
                serial=unknown[0],
            )
        )
    return Reserving(blades=tuple((serial, str(source.seqs[serial])) for serial in serials))


def loosened(sheet: SetsSheet, links: Links, words: Words) -> list[tuple[str, str]]:
    """The smallest feasible value of an impossible rule, and the page that asks for it."""
    least, trouble = sheet.answers.smallest, sheet.answers.trouble
    if least is None:
        return []
    rules = {
        "opposite": ("opposite_g_mm", "g·mm"),
        "neighbour": ("neighbour_g_mm", "g·mm"),
        "frequency_spread": ("frequency_spread_hz", "Hz"),
        "moment_spread": ("moment_spread_g_mm", "g·mm"),
    }
    for name, (limit, unit) in rules.items():
        words_of_it = name.replace("_", " ")
        asked = getattr(sheet.question.limits, limit) if sheet.question else None
        if asked is not None and asked < least and words_of_it in trouble.lower():
            value = bare(_up(least))
            told = words._(
                "%(rule)s %(value)s", rule=words._(words_of_it), value=f"{value} {unit}"
            )
            return [(told, links.put(name, value))]
    return []


def _up(value: float) -> float:
    """The least short number that is not below the value."""
    short = float(f"{value:.6g}")
    while short < value:
        short = float(f"{short + 10.0 ** (math.floor(math.log10(abs(value) or 1.0)) - 5):.6g}")
    return short
