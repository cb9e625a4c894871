"""What can happen to a part."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any, ClassVar

from ringwright.core.facts import Fact


@dataclass(frozen=True, slots=True, kw_only=True)
class PartFact(Fact):
    """A fact whose subject is a part; the remark of whoever booked it comes along."""

    subject_kind: ClassVar[str] = "part"
    reason: str | None = None
    lot: str | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Created(PartFact):
    """The part exists from now on and waits for the first step of its route card."""

    kind: ClassVar[str] = "create"
    product: str
    revision: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Begun(PartFact):
    """A visit to a step begins."""

    kind: ClassVar[str] = "begin"
    step: int
    run: str | None = None
    """The furnace run that the part began its step with; only the run ends it with a pass."""
    renews: int | None = None
    """The step whose window ran out, where the step before it is done again for that alone."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Paused(PartFact):
    """Work on the open visit rests."""

    kind: ClassVar[str] = "pause"
    step: int | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Resumed(PartFact):
    """Work on the open visit goes on, perhaps in other hands."""

    kind: ClassVar[str] = "resume"
    step: int | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Ended(PartFact):
    """A visit ends with an outcome; at the last step a pass or concession releases the part."""

    kind: ClassVar[str] = "end"
    step: int
    outcome: str
    defect: str | None = None
    card: str | None = None
    """The rework card, where one was chosen at the bench."""
    run: str | None = None
    """The furnace run whose acceptance ends it: who accepts did not work on the part."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Held(PartFact):
    """The part must not move."""

    kind: ClassVar[str] = "hold"
    step: int | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class HoldLifted(PartFact):
    """The hold is lifted."""

    kind: ClassVar[str] = "unhold"
    step: int | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Measured(PartFact):
    """A characteristic was read during the open visit."""

    kind: ClassVar[str] = "measure"
    step: int
    characteristic: str
    value: float
    unit: str
    gauge: str | None = None
    """The gauge it was read with, where it was scanned."""
    uncertainty: float | None = None
    """Standard uncertainty, in the unit of the value; the decision rule is asked with it."""
    repeats: tuple[float, ...] = ()
    """The single readings that the value is the mean of, in the order they were taken."""
    left_out: tuple[int, ...] = ()
    """Places, from 0, of repeats that were set aside; `reason` says why."""
    fixture: str | None = None
    torque_n_m: float | None = None
    temperature_c: float | None = None
    recording: str | None = None
    """Digest of the recording it was found in."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Sent(PartFact):
    """The released part left the site."""

    kind: ClassVar[str] = "send"
    step: int | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Stopped(PartFact):
    """Something is wrong: the visit pauses, a nonconformity opens, the part is held."""

    kind: ClassVar[str] = "stop"
    defect: str
    step: int | None = None
    characteristic: str | None = None
    place_on_part: str | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Sentenced(PartFact):
    """The decision on a nonconformity, which closes it."""

    kind: ClassVar[str] = "sentence"
    nonconformity: int
    """Entry number of the stop that opened it."""
    decision: str
    card: str | None = None
    defect: str | None = None
    place_on_part: str | None = None
    caused_step: int | None = None
    document: str | None = None
    scope: str | None = None
    expires: str | None = None
    quantity: int | None = None
    customer_approval: str | None = None
    kept: str | None = None
    """A scrapped part is `marked` or `locked-up` at once."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Corrected(PartFact):
    """An earlier entry was wrong: it is void, or some of its fields read otherwise."""

    kind: ClassVar[str] = "correct"
    void: bool = False
    fields: dict[str, Any] | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Witnessed(PartFact):
    """Somebody saw the scrapped part made unusable; until then it counts as still whole."""

    kind: ClassVar[str] = "witness"
    how: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Moved(PartFact):
    """The part lies somewhere else now: rack, trolley, container or quarantine cage."""

    kind: ClassVar[str] = "move"
    to: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Joined(PartFact):
    """On the whole: what it was made from. On a member: what it went into."""

    kind: ClassVar[str] = "join"
    members: tuple[str, ...] = ()
    whole: str | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Split(PartFact):
    """On the whole: what it was parted into. On a piece: what it came from."""

    kind: ClassVar[str] = "split"
    pieces: tuple[str, ...] = ()
    whole: str | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Remarked(PartFact):
    """The part bears a new mark, verified by scan; the old mark is retired."""

    kind: ClassVar[str] = "remark"
    mark: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Prioritised(PartFact):
    """The part goes before others from now on (rank 1), or no longer does (rank 0)."""

    kind: ClassVar[str] = "prioritise"
    rank: int


@dataclass(frozen=True, slots=True, kw_only=True)
class Sought(PartFact):
    """The part should be here and is not: somebody looks for it."""

    kind: ClassVar[str] = "seek"


@dataclass(frozen=True, slots=True, kw_only=True)
class Found(PartFact):
    """The part that was looked for lies here."""

    kind: ClassVar[str] = "find"
    where: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Contained(PartFact):
    """The part was touched by something suspect: held if it is here, a notice if it is sent."""

    kind: ClassVar[str] = "contain"
    containment: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Cleared(PartFact):
    """The containment no longer concerns this part."""

    kind: ClassVar[str] = "clear"
    containment: str


@dataclass(frozen=True, slots=True, kw_only=True)
class NoticeSent(PartFact):
    """Whoever has the sent part was told of the containment."""

    kind: ClassVar[str] = "notice-sent"
    containment: str
    to: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Reserved(PartFact):
    """The part is kept for a set, for this slot of it; no other set may take it."""

    kind: ClassVar[str] = "reserve"
    set: str
    slot: int


@dataclass(frozen=True, slots=True, kw_only=True)
class GivenBack(PartFact):
    """The part is kept for that set no longer."""

    kind: ClassVar[str] = "give-back"
    set: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Fitted(PartFact):
    """The part stands in this slot of the set's disc."""

    kind: ClassVar[str] = "fit"
    set: str
    slot: int


@dataclass(frozen=True, slots=True, kw_only=True)
class Returned(PartFact):
    """The part was taken out of the disc again; it is kept for its set still."""

    kind: ClassVar[str] = "return"
    set: str
    slot: int


@dataclass(frozen=True, slots=True, kw_only=True)
class Doubted(PartFact):
    """Readings of the part cannot be trusted: what they were read with failed its check."""

    kind: ClassVar[str] = "doubt"
    readings: tuple[int, ...]
    """Entry numbers of the readings."""
    gauge: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Trusted(PartFact):
    """Readings once doubted stand after all; `reason` says how that is known."""

    kind: ClassVar[str] = "trust"
    readings: tuple[int, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class Attached(PartFact):
    """A photo, recording, table or paper belongs to the part; `reason` says what it shows."""

    kind: ClassVar[str] = "attach"
    digest: str
    """SHA-256 of the bytes, in hexadecimal; the store keeps them under it."""
    media: str
    what: str
    """Its kind: photo, recording, table or paper."""
    step: int | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Noted(PartFact):
    """Something worth telling, which decides nothing; `reason` is the note."""

    kind: ClassVar[str] = "note"
    step: int | None = None


FACTS: tuple[type[PartFact], ...] = (
    Created,
    Begun,
    Paused,
    Resumed,
    Ended,
    Held,
    HoldLifted,
    Measured,
    Sent,
    Stopped,
    Sentenced,
    Corrected,
    Witnessed,
    Moved,
    Joined,
    Split,
    Remarked,
    Prioritised,
    Sought,
    Found,
    Contained,
    Cleared,
    NoticeSent,
    Reserved,
    GivenBack,
    Fitted,
    Returned,
    Doubted,
    Trusted,
    Attached,
    Noted,
)

HISTORY_ACTS = (
    "create",
    "begin",
    "pause",
    "resume",
    "end",
    "hold",
    "unhold",
    "measure",
    "send",
)
OUTCOMES = ("pass", "rework", "repair", "concession", "scrap")
DECISIONS = ("rework", "scrap", "withdrawn", "repair", "concession")
