"""What the Blade sets page is drawn from, read from one snapshot. Pure data."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field

from ringwright.balance.grade import Comparison, compare
from ringwright.balance.pool import Pool
from ringwright.balance.uncertainty import Uncertainty
from ringwright.kit.cutoff import Snapshot
from ringwright.sets.answers import Answers, Exchanged, Option, Question
from ringwright.sets.figures import moment_places
from ringwright.sets.rotor import Rotor


@dataclass(frozen=True, slots=True, kw_only=True)
class Lacking:
    """A reserved set with blades that no longer count."""

    code: str
    slots: tuple[int, ...]
    why: str
    """The first reason."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Source:
    """Where the blades come from: the stock, or a file that somebody brought."""

    pool: str = ""
    """Id of the uploaded pool; empty: the stock."""
    name: str = ""
    all: int = 0
    """Blades of it before anything was left out."""
    free: int = 0
    excluded: tuple[tuple[str, str], ...] = ()
    """(serial, why) of each blade that may not enter."""
    filtered: int = 0
    """Free blades that the filters leave out."""
    seqs: Mapping[str, int] = field(default_factory=dict)
    """Serial to the part's last entry, where the blade is in the record."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Standing:
    """The sets of a product that stand already."""

    sets: int = 0
    """Reserved, handed over, fitted or sent."""
    lacking: tuple[Lacking, ...] = ()
    next_code: str = ""
    """What the next set will be called."""


@dataclass(frozen=True, slots=True, kw_only=True)
class ByRun:
    """What a longer search found, and which of its sets is drawn."""

    going: bool
    state: str
    sets: int = 0
    most: int = 0
    proved: bool = False
    number: int = 1


@dataclass(frozen=True, kw_only=True)
class SetsSheet:
    """Everything of one page."""

    snapshot: Snapshot
    products: tuple[str, ...]
    product: str
    """Empty where no product is built in sets."""
    slots: int | None
    rotor: Rotor
    source: Source
    pool: Pool
    """The blades to choose from."""
    doubt: Uncertainty | None = None
    """Of the shown answer's residual; None where no blade's scale is known."""
    question: Question | None = None
    answers: Answers = field(default_factory=Answers)
    chosen: Option | None = None
    exchanged: Exchanged | None = None
    run: ByRun | None = None
    waits: bool = False
    """True where the answer is a run's work."""
    standing: Standing = field(default_factory=Standing)

    @property
    def places(self) -> int:
        """Decimals of moments."""
        return moment_places(self.pool.moment_g_mm.tolist())

    @property
    def shown(self) -> Option | None:
        """The answer that is drawn: as exchanged by hand, or as chosen."""
        return self.exchanged.after if self.exchanged else self.chosen

    @property
    def u95_g_mm(self) -> float | None:
        """95 % uncertainty of the shown residual; None where it is not known."""
        return None if self.doubt is None else self.doubt.p95_g_mm

    @property
    def noise(self) -> bool:
        """True where more search would only fit what nobody can measure."""
        if self.shown is None or self.doubt is None:
            return False
        return self.shown.measured.residual_g_mm <= self.doubt.stop_at_g_mm

    @property
    def comparison(self) -> Comparison | None:
        """The shown residual with its uncertainty against the share; None without a share."""
        if self.shown is None:
            return None
        found = self.shown.measured.residual_g_mm
        return compare(found, self.u95_g_mm, self.rotor.share_g_mm)
