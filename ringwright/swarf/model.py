"""One case from its forging on: what was weighed, what came off, what is missing."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from functools import cached_property

from ringwright.kit.cutoff import Snapshot
from ringwright.massing.account import Account, Closing, close, merged
from ringwright.massing.mass import Mass
from ringwright.massing.swarf import DRY, Moisture, Swarf
from ringwright.material.queries import Put
from ringwright.material.rules import Container, Line


@dataclass(frozen=True, slots=True, kw_only=True)
class Point:
    """A step at which a product is weighed."""

    product: str
    step: int
    name: str
    code: str
    unit: str
    decimals: int


@dataclass(frozen=True, slots=True, kw_only=True)
class Plan:
    """Where a product is weighed, in the order of its route; the first is what was bought."""

    product: str
    family: str
    points: tuple[Point, ...]

    @property
    def last(self) -> Point:
        """Where it is weighed finished."""
        return self.points[-1]


@dataclass(frozen=True, slots=True, kw_only=True)
class Weighed:
    """The part on a scale."""

    point: Point
    at_us: int
    mass: Mass
    gauge: str
    assumed: bool
    """True where no gauge says what the figure is worth: its last digit alone does."""
    suspect: bool


@dataclass(frozen=True, kw_only=True)
class Batch:
    """Swarf of a case in a container."""

    container: str
    alloy: str
    state: str
    to: str
    lot: str
    line: Line
    swarf: Swarf


@dataclass(frozen=True, kw_only=True)
class Stage:
    """From one weighing to the next."""

    before: Weighed
    after: Weighed
    put: tuple[Put, ...]
    batches: tuple[Batch, ...]

    @cached_property
    def account(self) -> Account:
        """What went into the stage and what was found at its end."""
        return Account(
            bought=(self.before.mass, *(_mass(one) for one in self.put)),
            parts=(self.after.mass,),
            swarf=tuple(one.swarf for one in self.batches),
        )

    @cached_property
    def closing(self) -> Closing:
        """What it comes to."""
        return close(self.account)


@dataclass(frozen=True, kw_only=True)
class Case:
    """One part with everything that was weighed of it."""

    serial: str
    product: str
    alloy: str
    lot: str
    weighed: tuple[Weighed, ...]
    """In the order of the route, the last weighing of each step."""
    batches: tuple[Batch, ...]
    put: tuple[Put, ...]
    finished: bool
    """True once it was weighed at the last step that weighs it."""
    scrapped_us: int | None

    @property
    def closed_us(self) -> int | None:
        """When its account could be closed: weighed finished, or scrapped."""
        if self.finished:
            return self.weighed[-1].at_us
        return self.scrapped_us

    @property
    def counted(self) -> tuple[Batch, ...]:
        """Swarf of the steps up to the last weighing; later swarf waits for the next one."""
        if not self.weighed:
            return ()
        last = self.weighed[-1].point.step
        return tuple(one for one in self.batches if one.line.step <= last)

    @property
    def waiting(self) -> tuple[Batch, ...]:
        """Swarf of the steps since the last weighing."""
        counted = {one.line.number for one in self.counted}
        return tuple(one for one in self.batches if one.line.number not in counted)

    @cached_property
    def account(self) -> Account | None:
        """From the forging to the last weighing; None before it was weighed twice."""
        if len(self.weighed) < 2:
            return None
        last = self.weighed[-1]
        now = (last.mass,)
        put = [_mass(one) for one in self.put if one.step <= last.point.step]
        return Account(
            bought=(self.weighed[0].mass, *put),
            parts=() if self.scrapped_us is not None else now,
            scrapped=now if self.scrapped_us is not None else (),
            swarf=tuple(one.swarf for one in self.counted),
        )

    @cached_property
    def closing(self) -> Closing | None:
        """What its account comes to."""
        return None if self.account is None else close(self.account)

    @cached_property
    def stages(self) -> tuple[Stage, ...]:
        """From each weighing to the next."""
        found, since = [], -1
        for before, after in zip(self.weighed, self.weighed[1:], strict=False):
            span = range(since + 1, after.point.step + 1)
            found.append(
                Stage(
                    before=before,
                    after=after,
                    put=tuple(one for one in self.put if one.step in span),
                    batches=tuple(one for one in self.batches if one.line.step in span),
                )
            )
            since = after.point.step
        return tuple(found)

    @property
    def assumed(self) -> bool:
        """True where a weighing rests on its last digit alone."""
        return any(one.assumed for one in self.weighed)


@dataclass(frozen=True, kw_only=True)
class Group:
    """Several cases together: of a week, or of an alloy."""

    name: str
    cases: int
    scrapped: int
    closing: Closing
    density_g_cm3: float | None = None


@dataclass(frozen=True, kw_only=True)
class Kept:
    """What of the cases lies in one container, dry."""

    batch: Batch
    """Any one of them: it names the container."""
    dry: Mass


@dataclass(frozen=True, kw_only=True)
class MassSheet:
    """Everything the mass account shows of a week."""

    drawn: Snapshot
    week: str
    product: str
    products: tuple[str, ...]
    cases: tuple[Case, ...]
    """Closed in the week, the worst first."""
    weeks: tuple[Group, ...]
    alloys: tuple[Group, ...]
    kept: tuple[Kept, ...]
    open: tuple[Case, ...]
    """Still in work."""
    closing: Closing | None

    @property
    def astray(self) -> tuple[Case, ...]:
        """Cases whose account does not close."""
        return tuple(one for one in self.cases if one.closing and not one.closing.closes)


def batch_of(container: Container, line: Line) -> Batch:
    """A line of a container with what it is worth as metal."""
    wet = Moisture(fraction=container.moisture, u=container.moisture_u, sample=container.code)
    return Batch(
        container=container.code,
        alloy=container.alloy,
        state=container.state,
        to=container.to,
        lot=container.lot,
        line=line,
        swarf=Swarf(
            kind=container.swarf,
            wet=Mass(kg=line.kg, u_kg=line.u_kg),
            moisture=wet if line.wet else DRY,
            clean=container.clean,
        ),
    )


def group(name: str, cases: Sequence[Case], density: float | None = None) -> Group:
    """Several cases as one account; those weighed only once have none."""
    told = [one.account for one in cases if one.account is not None]
    return Group(
        name=name,
        cases=len(told),
        scrapped=sum(bool(one.scrapped) for one in told),
        closing=close(merged(told)),
        density_g_cm3=density,
    )


def worst_first(cases: Iterable[Case]) -> tuple[Case, ...]:
    """Those that do not close first, then those with the largest rest."""

    def rank(case: Case) -> tuple[float, float, str]:
        found = case.closing
        if found is None:
            return (0.0, 0.0, case.serial)
        return (-found.beyond_kg, -abs(found.unaccounted.kg), case.serial)

    return tuple(sorted(cases, key=rank))


def _mass(put: Put) -> Mass:
    return Mass(kg=put.kg, u_kg=put.u_kg)
