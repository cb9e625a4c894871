"""Where a sheet of paper stands, and what two people entered differently."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from typing import Any

from ringwright.core.facts import Entry

OPEN, ONCE, DIFFERENT, AGREED = "open", "entered once", "entered differently", "agreed"
BOOKED, UNUSED = "booked", "not used"


@dataclass(frozen=True, slots=True, kw_only=True)
class Entered:
    """What one person entered last."""

    actor: str
    content: dict[str, Any]


@dataclass(slots=True, kw_only=True)
class SheetNow:
    """One sheet and how far it has come."""

    number: str
    serial: str
    step: int
    entered: dict[str, Entered] = field(default_factory=dict)
    """Person to what they entered last."""
    booked: tuple[int, ...] = ()
    unused: str = ""

    @property
    def agreed(self) -> tuple[Entered, Entered] | None:
        """Two people who entered the same; None while there are none."""
        last = list(self.entered.values())
        for n, one in enumerate(last):
            for other in last[n + 1 :]:
                if one.content == other.content:
                    return one, other
        return None

    @property
    def state(self) -> str:
        """How far it has come."""
        if self.booked:
            return BOOKED
        if self.unused:
            return UNUSED
        if self.agreed:
            return AGREED
        return (OPEN, ONCE, DIFFERENT)[min(len(self.entered), 2)]

    @property
    def done(self) -> bool:
        """True when nothing more can be entered."""
        return bool(self.booked or self.unused)


@dataclass(frozen=True, kw_only=True)
class PackNow:
    """A pack with its sheets."""

    code: str
    group: str
    head: int
    at_us: int
    actor: str
    sheets: tuple[SheetNow, ...]

    def sheet(self, number: str) -> SheetNow | None:
        """The sheet of that number."""
        return next((one for one in self.sheets if one.number == number), None)

    @property
    def outstanding(self) -> int:
        """Sheets that are neither booked nor given up."""
        return sum(not one.done for one in self.sheets)


def pack_of(code: str, entries: Sequence[Entry]) -> PackNow | None:
    """The pack as its facts tell; None without any."""
    if not entries:
        return None
    first = entries[0]
    sheets = {
        number: SheetNow(number=number, serial=serial, step=step)
        for number, serial, step in first.data["sheets"]
    }
    for entry in entries[1:]:
        sheet = sheets[entry.data["sheet"]]
        if entry.kind == "sheet-entered":
            sheet.entered.pop(entry.actor, None)
            sheet.entered[entry.actor] = Entered(
                actor=entry.actor, content=dict(entry.data["content"])
            )
        elif entry.kind == "sheet-booked":
            sheet.booked = tuple(entry.data["entries"])
        else:
            sheet.unused = entry.data["reason"]
    return PackNow(
        code=code,
        group=first.data["group"],
        head=first.data["head"],
        at_us=first.at_us,
        actor=first.actor,
        sheets=tuple(sheets.values()),
    )


def differences(one: Mapping[str, Any], other: Mapping[str, Any]) -> list[tuple[str, Any, Any]]:
    """Field, what the one says, what the other says; readings and gauges one by one."""
    flat = [_flat(one), _flat(other)]
    names = sorted({*flat[0], *flat[1]})
    return [
        (name, flat[0].get(name), flat[1].get(name))
        for name in names
        if flat[0].get(name) != flat[1].get(name)
    ]


def _flat(content: Mapping[str, Any]) -> dict[str, Any]:
    found: dict[str, Any] = {}
    for name, value in content.items():
        if isinstance(value, dict):
            found |= {f"{name} {code}": one for code, one in value.items()}
        else:
            found[name] = value
    return found
