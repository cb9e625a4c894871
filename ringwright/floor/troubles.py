"""What is worst on the floor, in sentences: what, why, how many parts, where to act."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field
from typing import Final

from ringwright.core.glossary import N_
from ringwright.floor.model import (
    HOUR_US,
    FloorSheet,
    FloorStep,
    Shut,
    Standing,
    steps_of_station,
)
from ringwright.kit.left import Left
from ringwright.kit.numbers import Figures
from ringwright.kit.words import Words
from ringwright.parts.windows import PartWindow

MOST: Final = 5
NO_REASON: Final = N_("no reason recorded")
"""What the record says of a hold that was booked without a reason."""
SOON_US: Final = 2 * HOUR_US
"""A window that is over within this time is told."""
SHUT, OVER, SOON, HELD, LATE, SOUGHT = "shut", "over", "soon", "held", "late", "sought"
ORDER: Final = (SHUT, OVER, SOON, HELD, LATE, SOUGHT)
"""Which comes first where as many parts are concerned."""


@dataclass(frozen=True, kw_only=True)
class Trouble:
    """One thing that keeps parts from moving on."""

    kind: str
    step: int | None
    """Where on the line it bites; None: nowhere on it."""
    cause: str
    why: str
    parts: int
    figure: str
    place: str
    route: str
    """The route and the query of the address where somebody can act."""
    query: Mapping[str, object] = field(default_factory=dict)
    rank: int = 0
    left: Left | None = None
    """The time left in the window that is over first, while it still runs."""


def cuts_of(sheet: FloorSheet) -> dict[int, tuple[str, ...]]:
    """Step to what is shut there; a text that begins with / is the whole step."""
    found: dict[int, list[str]] = {}
    for shut in sheet.shut:
        for step in _steps_shut(sheet, shut):
            whole = "/" if shut.kind == "step" else ""
            found.setdefault(step.number, []).append(whole + _short(shut))
    return {step: tuple(texts) for step, texts in found.items()}


def shut_here(sheet: FloorSheet) -> tuple[Shut, ...]:
    """What is shut that bites this product; a recipe may bite any."""
    return tuple(s for s in sheet.shut if s.kind == "recipe" or _steps_shut(sheet, s))


def _short(shut: Shut) -> str:
    return shut.code.partition("/")[2] if shut.kind == "step" else shut.code


def _steps_shut(sheet: FloorSheet, shut: Shut) -> tuple[FloorStep, ...]:
    """The steps of this product where something shut bites."""
    if shut.kind == "station":
        stations = [s for s in sheet.stations if s.code == shut.code]
        return steps_of_station(sheet.steps, stations[0]) if stations else ()
    if shut.kind == "step":
        product, _, number = shut.code.partition("/")
        return tuple(
            step
            for step in sheet.steps
            if product == sheet.product and str(step.number) == number
        )
    if shut.kind == "lot":
        numbers = {part.step for part in sheet.parts if shut.code in (part.lot, part.used_lot)}
        return tuple(step for step in sheet.steps if step.number in numbers)
    return ()


def find_troubles(sheet: FloorSheet, words: Words, show: Figures) -> tuple[Trouble, ...]:
    """At most five, most parts first; a window that runs out always has a place."""
    told = _Told(sheet, words, show)
    found = [trouble for trouble in told.all() if trouble.parts]
    found.sort(key=lambda t: (-t.parts, ORDER.index(t.kind), t.step or 0))
    first = found[:MOST]
    urgent = [t for t in found if t.kind in (OVER, SOON)]
    if urgent and not any(t.kind in (OVER, SOON) for t in first):
        first = [*first[: MOST - 1], urgent[0]]
    return tuple(
        Trouble(**{**trouble.__dict__, "rank": rank})
        for rank, trouble in enumerate(first, start=1)
    )


class _Told:
    """Says each kind of trouble of one floor."""

    def __init__(self, sheet: FloorSheet, words: Words, show: Figures) -> None:
        self.sheet, self.words, self.show = sheet, words, show
        self.names = {step.number: f"{step.number} {step.name}" for step in sheet.steps}
        self.kinds = {step.number: step.kind for step in sheet.steps}

    def all(self) -> Iterable[Trouble]:
        """Every trouble, those without parts among them."""
        yield from map(self.shut, self.sheet.shut)
        for step in self.sheet.steps:
            here = [part for part in self.sheet.parts if part.step == step.number]
            yield from self.windows(step.number, here)
            yield self.held(step.number, [part for part in here if part.hold is not None])
            yield self.late(step.number, [part for part in here if part.over_plan])
        yield self.sought([part for part in self.sheet.parts if part.sought])

    def _moment(self, at_us: int) -> str:
        return self.show.moment(at_us, self.sheet.zone, self.sheet.now_us)

    def _parts(self, count: int) -> str:
        return self.words.ngettext("%(n)s part", "%(n)s parts", count, n=self.show.count(count))

    def _list(self, state: str, step: int | None) -> dict[str, object]:
        query = {"product": self.sheet.product, "state": state, "step": step}
        return {"route": "floor.parts", "query": query}

    def shut(self, shut: Shut) -> Trouble:
        """A thing that is shut, with the parts that cannot go on."""
        _ = self.words._
        steps = _steps_shut(self.sheet, shut)
        numbers = {step.number for step in steps}
        parts = [part for part in self.sheet.parts if self._stuck(part, shut, numbers)]
        name = shut.code if shut.kind == "station" else f"{_(shut.kind)} {shut.code}"
        if shut.kind == "step" and steps:
            name = f"{steps[0].number} {steps[0].name}"
        figure = _("%(parts)s stand there", parts=self._parts(len(parts)))
        return Trouble(
            kind=SHUT,
            step=steps[0].number if steps else None,
            cause=_(
                "%(name)s shut since %(moment)s", name=name, moment=self._moment(shut.since_us)
            ),
            why=" ".join((_stopped(shut.reason), self._others(shut))).strip(),
            # Shut with nothing before it is still told, behind all that parts wait for.
            parts=len(parts) or int(shut in shut_here(self.sheet)),
            figure=figure,
            place=_("Open it again"),
            route="floor.shut",
            query={"subject": shut.subject},
        )

    def _stuck(self, part: Standing, shut: Shut, steps: set[int]) -> bool:
        if shut.kind == "lot":
            return shut.code in (part.lot, part.used_lot)
        if part.step not in steps:
            return False
        return not part.in_work or shut.kind == "step" or part.station == shut.code

    def _others(self, shut: Shut) -> str:
        """How many stations of the group still run."""
        own = [s for s in self.sheet.stations if shut.kind == "station" and s.code == shut.code]
        if not own or not own[0].group:
            return ""
        closed = {s.code for s in self.sheet.shut if s.kind == "station"}
        group = [s for s in self.sheet.stations if s.group == own[0].group]
        still = [s for s in group if s.code not in closed]
        return self.words._(
            "%(open)s of %(all)s such stations open.",
            open=self.show.count(len(still)), all=self.show.count(len(group)),
        )  # fmt: skip

    def windows(self, step: int, here: list[Standing]) -> Iterable[Trouble]:
        """Windows that are over, and those soon to be, of the parts at a step."""
        over = [part for part in here if part.window_over]
        soon = [part for part in here if part.window and 0 <= part.window.left_us <= SOON_US]
        for kind, parts in ((OVER, over), (SOON, soon)):
            if not parts:
                continue
            window = min((p.window for p in parts if p.window), key=lambda w: w.deadline_us)
            yield Trouble(
                kind=kind,
                step=step,
                cause=self._window_cause(kind, window, len(parts)),
                why=self._window_why(kind, window),
                parts=len(parts),
                figure=self._parts(len(parts)),
                place=self.words._("Step %(step)s", step=step),
                left=self._left(window) if kind == SOON else None,
                **self._list("window", step),  # type: ignore[arg-type]
            )

    def _left(self, window: PartWindow) -> Left:
        over = self.words._("window ran out")
        return Left(until_us=window.deadline_us, left_us=window.left_us, over=over)

    def _window_why(self, kind: str, window: PartWindow) -> str:
        _ = self.words._
        said = _(
            "Step %(after)s, then %(step)s within %(hours)s.",
            after=window.after, step=window.before,
            hours=self.show.plan_hours(window.length_us / HOUR_US),
        )  # fmt: skip
        if kind == SOON:
            return said
        back = _(
            "They go back to step %(step)s, or are held for the design authority.",
            step=window.after,
        )
        return f"{said} {back}"

    def _window_cause(self, kind: str, window: PartWindow, n: int) -> str:
        _, ngettext, count = self.words._, self.words.ngettext, self.show.count(n)
        clean = self.kinds.get(window.after) == "cleaning"
        until = self._moment(window.deadline_us)
        if kind == SOON:
            if clean:
                return _("%(n)s clean until %(until)s", n=count, until=until)
            return _("%(n)s must begin by %(until)s", n=count, until=until)
        if clean:
            return ngettext(
                "%(n)s part's clean time is over", "%(n)s parts' clean time is over", n, n=count
            )
        return ngettext(
            "%(n)s part is past its hour", "%(n)s parts are past their hour", n, n=count
        )

    def held(self, step: int, parts: list[Standing]) -> Trouble:
        """Parts on hold at a step, with the commonest reason."""
        _ = self.words._
        reasons = Counter(part.hold for part in parts)
        why = ""
        if reasons:
            reason, times = reasons.most_common(1)[0]
            why = _stopped(hold_words(reason or "", self.words))
            if len(reasons) > 1:
                why += " " + _("So %(n)s of them.", n=self.show.count(times))
        return self._at_step(
            HELD, step, parts, _("%(step)s: %(n)s held", **self._at(step, parts)), why
        )

    def late(self, step: int, parts: list[Standing]) -> Trouble:
        """Parts longer at a step than planned, with the one that is there longest."""
        _ = self.words._
        why = ""
        if parts:
            oldest = max(parts, key=lambda part: part.age_us)
            why = _(
                "Longest there: %(serial)s, %(hours)s.",
                serial=oldest.serial, hours=self.show.hours(oldest.age_us / HOUR_US),
            )  # fmt: skip
        return self._at_step(
            LATE, step, parts, _("%(step)s: %(n)s late", **self._at(step, parts)), why
        )

    def _at(self, step: int, parts: list[Standing]) -> dict[str, str]:
        return {"step": self.names[step], "n": self.show.count(len(parts))}

    def _at_step(
        self, kind: str, step: int, parts: list[Standing], cause: str, why: str
    ) -> Trouble:
        here = sum(part.step == step for part in self.sheet.parts)
        figure = self.words._(
            "%(n)s of %(all)s there", n=self.show.count(len(parts)), all=self.show.count(here)
        )
        return Trouble(
            kind=kind,
            step=step,
            cause=cause,
            why=why,
            parts=len(parts),
            figure=figure,
            place=self.words._("Step %(step)s", step=step),
            **self._list(kind, step),  # type: ignore[arg-type]
        )

    def sought(self, parts: list[Standing]) -> Trouble:
        """Parts that should be here and are not."""
        ngettext = self.words.ngettext
        count = self.show.count(len(parts))
        return Trouble(
            kind=SOUGHT,
            step=parts[0].step if len(parts) == 1 else None,
            cause=ngettext(
                "%(n)s part is looked for", "%(n)s parts are looked for", len(parts), n=count
            ),
            why=", ".join(part.serial for part in parts[:3]),
            parts=len(parts),
            figure=self._parts(len(parts)),
            place=self.words._("Where to look"),
            route="floor.search",
        )


def hold_words(reason: str, words: Words) -> str:
    """Why a part is held, as somebody wrote it; where nobody did, that is said."""
    return words._(reason) if reason == NO_REASON else reason


def _stopped(text: str) -> str:
    """A reason as a sentence."""
    return text if not text or text[-1] in ".!?" else f"{text}."
