"""From verdicts, passes and defects to the figures of the page. Pure."""

from __future__ import annotations

from collections import Counter, defaultdict
from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass
from typing import Final

from ringwright.measure.counts import poisson_rate
from ringwright.measure.two_groups import fisher, holm
from ringwright.weldyield.model import (
    Counted,
    DefectRate,
    Delay,
    First,
    Group,
    History,
    Made,
    Share,
    Verdict,
)

HOUR_US: Final = 3_600_000_000
OF_WELDS, OF_CASES = "weld", "case"
Weld = tuple[str, str]
"""Serial and code."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Site:
    """What the site makes of instants."""

    from_us: int
    to_us: int
    """The weeks, half open."""
    week: Callable[[int], str]
    shift: Callable[[int], str]
    worked_us: Callable[[int, int], int]

    def within(self, at_us: int) -> bool:
        """True for an instant of the weeks."""
        return self.from_us <= at_us < self.to_us


def count(history: History, site: Site, by: str) -> Counted:
    """All figures, first readings told apart by one dimension."""
    firsts = [one for one in first_readings(history, site) if site.within(one.at_us)]
    metres = sum(one.length_mm for one in firsts) / 1000
    made = [one for one in history.made if site.within(one.at_us)]
    again = sum(one.passed > 0 for one in made)
    done = {
        serial: done_us
        for serial, done_us in accepted_us(history).items()
        if site.within(done_us)
    }
    repairs = Counter(one.serial for one in history.made if one.passed)
    return Counted(
        first=_share(firsts),
        mended=sum(one.mended for one in firsts),
        groups=groups_of(firsts, by),
        defects=defect_rates(firsts, metres),
        metres=metres,
        cases=tuple(sorted(repairs[serial] for serial in done)),
        rework=Share(good=again, n=len(made)),
        delays=_delays(history, site, done),
    )


def first_readings(history: History, site: Site) -> list[First]:
    """The first verdict on each weld, in the order they were recorded."""
    made = {(one.serial, one.weld, one.passed): one for one in history.made}
    found: dict[tuple[str, str, int], list[str]] = defaultdict(list)
    for serial, weld, entry, kind in history.defects:
        found[serial, weld, entry].append(kind)
    firsts: dict[Weld, Verdict] = {}
    for one in history.verdicts:
        seen = firsts.setdefault((one.serial, one.weld), one)
        if one.entry < seen.entry:
            firsts[one.serial, one.weld] = one
    return [
        _first(history, one, made.get((one.serial, one.weld, one.passed)), site,
               found.get((one.serial, one.weld, one.entry), []))
        for one in sorted(firsts.values(), key=lambda one: (one.entry, one.weld))
    ]  # fmt: skip


def _first(
    history: History, one: Verdict, made: Made | None, site: Site, defects: Sequence[str]
) -> First:
    ring = history.rings[one.serial]
    joint = ring.joints[one.weld.partition("-")[2]]
    return First(
        serial=one.serial,
        weld=one.weld,
        at_us=one.at_us,
        accepted=one.accepted,
        keys={
            "joint": joint.code,
            "kind": joint.kind,
            "lot": made.lot if made else "",
            "shift": site.shift(made.at_us) if made else "",
            "week": site.week(one.at_us),
            "product": ring.product,
            "welder": made.welder if made else "",
        },
        length_mm=joint.length_mm,
        defects=tuple(defects),
        mended=one.passed > 0,
    )


def _share(firsts: Iterable[First]) -> Share:
    verdicts = [one.accepted for one in firsts]
    return Share(good=sum(verdicts), n=len(verdicts))


def groups_of(firsts: Sequence[First], by: str) -> tuple[Group, ...]:
    """First readings told apart: by name for weeks, else the least accepted first."""
    lots: dict[str, list[First]] = defaultdict(list)
    for one in firsts:
        lots[one.keys[by]].append(one)
    shares = {key: _share(those) for key, those in lots.items()}
    every = _share(firsts)
    order = sorted(shares, key=lambda key: (_rank(shares[key], by), key))
    if len(order) < 2:
        return tuple(Group(key=key, share=shares[key], chance=None, adjusted=None)
                     for key in order)  # fmt: skip
    chances = [_against_rest(shares[key], every) for key in order]
    return tuple(
        Group(key=key, share=shares[key], chance=chance, adjusted=made_good)
        for key, chance, made_good in zip(order, chances, holm(chances), strict=True)
    )


def _rank(share: Share, by: str) -> float:
    return 0.0 if by == "week" else share.value or 0.0


def _against_rest(one: Share, every: Share) -> float:
    return fisher(one.good, one.n, every.good - one.good, every.n - one.n)


def defect_rates(firsts: Iterable[First], metres: float) -> tuple[DefectRate, ...]:
    """Each kind a metre of weld read for the first time, the most frequent first."""
    if metres <= 0:
        return ()
    found = Counter(kind for one in firsts for kind in one.defects)
    rows = []
    for kind, number in sorted(found.items(), key=lambda one: (-one[1], one[0])):
        rate, low, high = poisson_rate(number, metres)
        rows.append(
            DefectRate(kind=kind, count=number, metres=metres, rate=rate, low=low, high=high)
        )
    return tuple(rows)


def accepted_us(history: History) -> dict[str, int]:
    """When the last weld of each case was accepted; cases with an open weld are left out.

    A weld is accepted when the latest verdict on it says so and is on its latest pass.
    """
    passes: dict[Weld, int] = {}
    for made in history.made:
        at = (made.serial, made.weld)
        passes[at] = max(made.passed, passes.get(at, 0))
    latest: dict[Weld, Verdict] = {}
    for one in sorted(history.verdicts, key=lambda one: one.entry):
        latest[one.serial, one.weld] = one
    found: dict[str, list[int]] = defaultdict(list)
    for at, one in latest.items():
        if one.accepted and one.passed == passes.get(at, 0):
            found[one.serial].append(one.at_us)
    return {
        serial: max(moments)
        for serial, moments in found.items()
        if len(moments) == history.rings[serial].welds
    }


def _delays(history: History, site: Site, done: Mapping[str, int]) -> tuple[Delay, ...]:
    """From the first verdict of not accepted to the acceptance, by weld and by case."""
    refused: dict[Weld, int] = {}
    accepted: dict[Weld, int] = {}
    for one in sorted(history.verdicts, key=lambda one: one.entry):
        at = (one.serial, one.weld)
        if one.accepted:
            accepted[at] = one.at_us
        else:
            refused.setdefault(at, one.at_us)
    welds = [(began, accepted[at]) for at, began in sorted(refused.items()) if at[0] in done]
    cases: dict[str, int] = {}
    for (serial, _), began in refused.items():
        if serial in done:
            cases[serial] = min(began, cases.get(serial, began))
    whole = [(began, done[serial]) for serial, began in sorted(cases.items())]
    return (_delay(OF_WELDS, welds, site), _delay(OF_CASES, whole, site))


def _delay(what: str, spans: Sequence[tuple[int, int]], site: Site) -> Delay:
    return Delay(
        what=what,
        clock_h=tuple((end - begin) / HOUR_US for begin, end in spans),
        worked_h=tuple(site.worked_us(begin, end) / HOUR_US for begin, end in spans),
    )
