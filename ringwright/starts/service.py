"""How many parts to start for so many sets by a day, from one snapshot of the record."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from typing import Any, Final

import numpy as np

from ringwright.core.errors import Missing, Refused
from ringwright.flow.account import read_account
from ringwright.flow.loads import load_steps
from ringwright.flow.model import Account
from ringwright.flow.queries import HOUR_US
from ringwright.flow.service import moment_of
from ringwright.kit.cutoff import Snapshot
from ringwright.ledger.drawn import snapshot_of
from ringwright.ledger.service import Read
from ringwright.routecards.card import RouteCard, Step
from ringwright.routecards.queries import card_in_force, read_revisions
from ringwright.sets.stock import read_stock
from ringwright.starting.plan import MOST, Answer, Evidence, NotReached, how_many
from ringwright.starts import queries
from ringwright.starts.asked import Asked, due_us_of

WEEKS: Final = 13
"""A quarter of a year: what yields and times are taken from."""
SINCE_US: Final = WEEKS * 7 * 24 * HOUR_US
FEW: Final = 8
"""Fewer releases than this say nothing of how long the way takes: the plan does."""


@dataclass(frozen=True, slots=True, kw_only=True)
class StepPlan:
    """One step: what is known of its yield, what stands there, and how long the rest takes."""

    step: Step
    evidence: Evidence
    here: int
    held: int
    late: int
    """Parts that will not be through in time as surely as asked; they do not count."""
    left_us: int
    """From arrival here to release, within which so many of a hundred came through."""
    left_n: int
    """Released parts that this is from; nought: from the plan on the route card."""

    @property
    def counted(self) -> int:
        """Parts here that may still be among the good ones by that day."""
        return self.here - self.held - self.late


@dataclass(frozen=True, slots=True, kw_only=True)
class StartsSheet:
    """The answer, and everything it stands on."""

    drawn: Snapshot
    products: tuple[str, ...]
    card: RouteCard
    asked: Asked
    wanted: int
    """Good parts wanted in all, spares included."""
    stock: int
    """Finished and free already."""
    due_us: int
    steps: tuple[StepPlan, ...]
    unknown: tuple[int, ...]
    """Steps without history and without a yield typed in: nothing is said until there is."""
    answer: Answer | None
    out_of_reach: bool
    last_start_us: int
    """By when the last of them has to be started."""
    since_us: int
    """From when on yields and times are taken."""
    account: Account
    """Of the product's parts since then."""


def read_starts(read: Read, asked: Asked) -> StartsSheet | None:
    """The plan; None while there is no product. Raises Missing or Refused."""
    revisions = read_revisions(read.connection, read.site.id)
    products = tuple(dict.fromkeys(row.product for row in revisions))
    if not products:
        return None
    product = asked.product or _first_with_sets(read, revisions, products)
    if product not in products:
        raise Missing(f"no product {product!r} at {read.site.name or read.site.code}")
    card = card_in_force(revisions, product, read.now_us)
    due_us = due_us_of(asked, read, card)
    steps = _steps(read, card, asked, due_us)
    stock = len(read_stock(read, product).blades) if card.set_size else 0
    wanted = asked.sets * (card.set_size or 1) + asked.spares
    unknown = tuple(one.step.number for one in steps if one.evidence.assumed == 0.0)
    answer, out_of_reach = _answer(steps, max(0, wanted - stock), asked, unknown)
    return StartsSheet(
        drawn=snapshot_of(read, to_the_minute=read.as_of_us is None),
        products=products,
        card=card,
        asked=asked,
        wanted=wanted,
        stock=stock,
        due_us=due_us,
        steps=steps,
        unknown=unknown,
        answer=answer,
        out_of_reach=out_of_reach,
        last_start_us=due_us - (steps[0].left_us if steps else 0),
        since_us=read.now_us - SINCE_US,
        account=read_account(read, card.product, read.now_us - SINCE_US, moment_of(read)),
    )


def _first_with_sets(read: Read, revisions: Any, products: Sequence[str]) -> str:
    sized = (one for one in products if card_in_force(revisions, one, read.now_us).set_size)
    return next(sized, products[0])


def _answer(
    steps: Sequence[StepPlan], needed: int, asked: Asked, unknown: Sequence[int]
) -> tuple[Answer | None, bool]:
    """The answer, and whether none is within reach."""
    if unknown:
        return None, False
    known = [one.evidence for one in steps]
    work = [one.counted for one in steps]
    try:
        return how_many(needed, asked.sure, known, work), False
    except NotReached:
        return None, True


def _steps(read: Read, card: RouteCard, asked: Asked, due_us: int) -> tuple[StepPlan, ...]:
    since_us = read.now_us - SINCE_US
    evidence = _evidence(read, card, asked, since_us)
    left = _left(read, card, asked.sure, since_us)
    parts: dict[int, list[Any]] = {}
    for row in read.connection.execute(queries.parts_in_work(read, card.product)):
        parts.setdefault(row.step, []).append(row)
    found = []
    for step in card.steps:
        here = parts.get(step.number, ())
        left_us, left_n = left[step.number]
        free = [row for row in here if not row.held]
        found.append(
            StepPlan(
                step=step,
                evidence=evidence[step.number],
                here=len(here),
                held=len(here) - len(free),
                late=sum(row.since_us + left_us > due_us for row in free),
                left_us=left_us,
                left_n=left_n,
            )
        )
    return tuple(found)


def _evidence(read: Read, card: RouteCard, asked: Asked, since_us: int) -> dict[int, Evidence]:
    run, product = read.connection.execute, card.product
    through = _counts(run(queries.through_by_step(read, product, since_us)))
    lost = _counts(run(queries.lost_by_step(read, product, since_us)))
    # Scrap that no step found is laid at the first: a plan had better be too careful.
    lost[card.first] = lost.get(card.first, 0) + lost.pop(None, 0)
    in_loads = tuple(sorted(load_steps(card)))
    rows = run(queries.loads_by_step(read, product, since_us, in_loads)) if in_loads else ()
    # PostgreSQL gives sums as decimals, which do not mix with floats.
    size = {row.step: max(1.0, int(row.parts) / row.loads) for row in rows}
    return {
        step.number: _of_step(step.number, through, lost, size, asked.yields)
        for step in card.steps
    }


def _of_step(
    number: int,
    through: Mapping[int | None, int],
    lost: Mapping[int | None, int],
    size: Mapping[int, float],
    typed: Mapping[int, float],
) -> Evidence:
    if number in typed:
        return Evidence(step=number, assumed=typed[number])
    passed, gone = through.get(number, 0), lost.get(number, 0)
    if not passed + gone:
        return Evidence(step=number, assumed=0.0)
    parts_a_load = size.get(number, 1.0)
    return Evidence(step=number, through=passed, lost=gone, parts_a_load=parts_a_load)


def _counts(rows: Iterable[Any]) -> dict[int | None, int]:
    return {row.step: row.parts for row in rows}


def _left(
    read: Read, card: RouteCard, sure: float, since_us: int
) -> dict[int, tuple[int, int]]:
    """By step: the time from arrival to release that so many came through in, and their n."""
    taken: dict[int, list[int]] = {}
    for row in read.connection.execute(queries.ways_left(read, card.product, since_us)):
        taken.setdefault(row.step, []).append(row.left_us)
    planned_h, found = card.plan_h, {}
    for step in card.steps:
        some = taken.get(step.number, [])
        if len(some) >= FEW:
            found[step.number] = (int(np.quantile(some, sure)), len(some))
        else:
            found[step.number] = (int(planned_h * HOUR_US), 0)
        planned_h -= step.planned_hours + step.queue_hours
    return found


def starts_json(sheet: StartsSheet) -> dict[str, Any]:
    """The plan as the API gives it; raises Refused where none can be made."""
    answer = sheet.answer
    if answer is None:
        raise Refused(refusal(sheet))
    return {
        "product": sheet.card.product,
        "sets": sheet.asked.sets,
        "spares": sheet.asked.spares,
        "sure": sheet.asked.sure,
        "wanted": sheet.wanted,
        "finished": sheet.stock,
        "needed": answer.needed,
        "start": answer.start,
        "chance": answer.chance,
        "plain": answer.plain,
        "plain_chance": answer.plain_chance,
        "from_work_mean": answer.from_work,
        "through": answer.through,
        "ladder": [
            {"sure": sure, "start": start, "chance": chance}
            for sure, start, chance in answer.ladder
        ],
        "steps": [_step_json(one) for one in sheet.steps],
        "time_left_h": sheet.steps[0].left_us / HOUR_US if sheet.steps else 0.0,
    }


def refusal(sheet: StartsSheet) -> str:
    """Why there is no plan."""
    if sheet.unknown:
        steps = ", ".join(map(str, sheet.unknown))
        return f"nothing is known of the yield of step {steps}: say what to take for it"
    return f"more than {MOST} would have to be started"


def _step_json(one: StepPlan) -> dict[str, Any]:
    low, high = one.evidence.interval()
    return {
        "number": one.step.number,
        "name": one.step.name,
        "through": one.evidence.through,
        "lost": one.evidence.lost,
        "parts_a_load": one.evidence.parts_a_load,
        "yield": {"value": one.evidence.mean, "low": low, "high": high},
        "here": one.here,
        "held": one.held,
        "late": one.late,
        "counted": one.counted,
    }
