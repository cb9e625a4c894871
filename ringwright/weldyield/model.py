"""What is read of the welds, and what is counted from it, as data."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

from ringwright.core.glossary import N_
from ringwright.core.proportion import wilson

SMALL_N: Final = 20
WEEKS_SHOWN: Final = 13
MOST_WEEKS: Final = 104
HARD: Final = 0.05
WELDER: Final = "welder"
DIMENSIONS: Final[dict[str, str]] = {
    "joint": N_("joint"),
    "kind": N_("kind of joint"),
    "lot": N_("filler lot"),
    "shift": N_("shift"),
    "week": N_("week"),
    "product": N_("product"),
    WELDER: N_("welder"),
}
"""By what first readings are told apart; by welder only for whoever may see that."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Question:
    """What is asked: a product or all, whole weeks, by what it is told apart."""

    product: str | None = None
    first: str | None = None
    last: str | None = None
    by: str = "joint"


@dataclass(frozen=True, slots=True, kw_only=True)
class Verdict:
    """One verdict on one weld."""

    serial: str
    weld: str
    entry: int
    passed: int
    at_us: int
    accepted: bool


@dataclass(frozen=True, slots=True, kw_only=True)
class Made:
    """One time a weld was made; 0 the first, n its n-th repair."""

    serial: str
    weld: str
    passed: int
    at_us: int
    welder: str
    lot: str


@dataclass(frozen=True, slots=True, kw_only=True)
class JointOf:
    """What the plan says of a weld."""

    code: str
    kind: str
    length_mm: float


@dataclass(frozen=True, slots=True, kw_only=True)
class RingOf:
    """A ring by its plan."""

    product: str
    welds: int
    joints: dict[str, JointOf]
    """By the code of the joint, which is the end of each weld's code."""


@dataclass(frozen=True, slots=True, kw_only=True)
class History:
    """All that was known of the rings on which something happened in the weeks."""

    rings: dict[str, RingOf]
    verdicts: tuple[Verdict, ...]
    made: tuple[Made, ...]
    defects: tuple[tuple[str, str, int, str], ...]
    """Serial, weld, entry of the reading, number of ISO 6520-1."""


@dataclass(frozen=True, slots=True, kw_only=True)
class First:
    """The first verdict on a weld, and how the weld was made that it is on."""

    serial: str
    weld: str
    at_us: int
    accepted: bool
    keys: dict[str, str]
    """Dimension to group; empty where it is not recorded."""
    length_mm: float
    defects: tuple[str, ...]
    mended: bool
    """True where the weld was repaired before it was radiographed."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Share:
    """How many of how many, with the Wilson 95 % interval; Nones when there is none."""

    good: int
    n: int

    @property
    def value(self) -> float | None:
        """The proportion."""
        return self.good / self.n if self.n else None

    @property
    def low(self) -> float | None:
        """The lower end."""
        return wilson(self.good, self.n)[0] if self.n else None

    @property
    def high(self) -> float | None:
        """The upper end."""
        return wilson(self.good, self.n)[1] if self.n else None

    @property
    def small(self) -> bool:
        """True where there is too little to speak of a trend."""
        return self.n < SMALL_N


@dataclass(frozen=True, slots=True, kw_only=True)
class Group:
    """First readings of one group, and how it lies against all others together."""

    key: str
    share: Share
    chance: float | None
    """Two-sided p of Fisher's exact test against the rest; None where there is no rest."""
    adjusted: float | None
    """The same made good for all groups (Holm)."""

    @property
    def hard(self) -> bool:
        """True where chance alone explains it badly, all groups considered."""
        return self.adjusted is not None and self.adjusted < HARD


@dataclass(frozen=True, slots=True, kw_only=True)
class DefectRate:
    """How often one kind of defect was found at first readings, a metre of weld."""

    kind: str
    count: int
    metres: float
    rate: float
    low: float
    high: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Delay:
    """How long something took from its first verdict of not accepted to its acceptance."""

    what: str
    clock_h: tuple[float, ...]
    worked_h: tuple[float, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class Counted:
    """Everything the page shows."""

    first: Share
    mended: int
    """First readings of welds that had been repaired before, for colour or penetrant."""
    groups: tuple[Group, ...]
    defects: tuple[DefectRate, ...]
    metres: float
    cases: tuple[int, ...]
    """Repairs of each case whose last weld was accepted in the weeks."""
    rework: Share
    """Welds made again, of all welds made in the weeks."""
    delays: tuple[Delay, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class WeldYield:
    """The answer with what it was drawn from."""

    question: Question
    products: tuple[str, ...]
    weeks: tuple[str, ...]
    counted: Counted
    site: str
    site_name: str
    zone: str
    now_us: int
    as_of: bool
    head_seq: int
    head_hash: str
