"""What can happen to a set of blades, and to what is known of its rotor."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any, ClassVar

from ringwright.core.facts import Fact


@dataclass(frozen=True, slots=True, kw_only=True)
class SetFact(Fact):
    """A fact whose subject is a set."""

    subject_kind: ClassVar[str] = "set"
    reason: str | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class SetProposed(SetFact):
    """An answer of the builder, kept by name; no blade is taken yet."""

    kind: ClassVar[str] = "propose"
    product: str
    slots: tuple[str, ...]
    """Serials of slot 1 … N."""
    readings: dict[str, dict[str, float | None]]
    """Serial to its readings by role, as the set was built on."""
    asked: dict[str, Any] | None = None
    """The rules, effort and seed it was built with."""


@dataclass(frozen=True, slots=True, kw_only=True)
class SetReserved(SetFact):
    """The blades are kept for this set; no other may take them."""

    kind: ClassVar[str] = "reserve"
    product: str
    slots: tuple[str, ...]
    readings: dict[str, dict[str, float | None]]
    asked: dict[str, Any] | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class SetMended(SetFact):
    """Some slots get other blades; those that leave are free again."""

    kind: ClassVar[str] = "mend"
    slots: tuple[str, ...]
    readings: dict[str, dict[str, float | None]]


@dataclass(frozen=True, slots=True, kw_only=True)
class SetGivenBack(SetFact):
    """The set is given up; its blades are free."""

    kind: ClassVar[str] = "give-back"


@dataclass(frozen=True, slots=True, kw_only=True)
class SetHandedOver(SetFact):
    """The set lies with build, which fits it from now on."""

    kind: ClassVar[str] = "hand-over"
    to: str


@dataclass(frozen=True, slots=True, kw_only=True)
class SlotFitted(SetFact):
    """A blade of the set stands in this slot, planned there or not."""

    kind: ClassVar[str] = "fit"
    slot: int
    serial: str


@dataclass(frozen=True, slots=True, kw_only=True)
class SlotReturned(SetFact):
    """The blade was taken out of the slot again."""

    kind: ClassVar[str] = "return"
    slot: int
    serial: str


@dataclass(frozen=True, slots=True, kw_only=True)
class WeightsPlaced(SetFact):
    """Balance weights or screws were placed, as recorded by whoever did it."""

    kind: ClassVar[str] = "weigh-in"
    weights: tuple[dict[str, float], ...]
    """Each `angle_deg` and `moment_g_mm`."""


@dataclass(frozen=True, slots=True, kw_only=True)
class SetSent(SetFact):
    """The fitted set left the site with all its blades."""

    kind: ClassVar[str] = "send"


@dataclass(frozen=True, slots=True, kw_only=True)
class RotorSet(Fact):
    """What is known and allowed of a product's rotor, as the rotor engineer entered it."""

    kind: ClassVar[str] = "rotor-set"
    subject_kind: ClassVar[str] = "rotor"
    rotor: dict[str, Any]
    """The fields of `ringwright.sets.rotor.Rotor`; what is not entered is absent."""
    reason: str | None = None


FACTS: tuple[type[Fact], ...] = (
    SetProposed,
    SetReserved,
    SetMended,
    SetGivenBack,
    SetHandedOver,
    SlotFitted,
    SlotReturned,
    WeightsPlaced,
    SetSent,
    RotorSet,
)
