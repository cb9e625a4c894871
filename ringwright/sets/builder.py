"""What the Blade sets page asks of the record, in one snapshot, and the answers to it."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

from ringwright.balance.limits import LEAST_SLOTS, Limits
from ringwright.balance.pool import Blade, Pool
from ringwright.balance.uncertainty import uncertainty_of
from ringwright.core.errors import Missing, Refused
from ringwright.kit.cutoff import Snapshot
from ringwright.ledger.drawn import snapshot_of
from ringwright.ledger.service import Read
from ringwright.routecards.queries import read_revisions
from ringwright.sets.answers import (
    KEPT,
    Answers,
    Option,
    Question,
    answers_of,
    at_once,
    exchange,
)
from ringwright.sets.asked import Asked, limits_of, slots_of
from ringwright.sets.lacking import lacking_sets
from ringwright.sets.model import ByRun, SetsSheet, Source, Standing
from ringwright.sets.queries import next_code, read_rotor, read_sets
from ringwright.sets.rotor import Rotor, floor_of
from ringwright.sets.run_question import question_of
from ringwright.sets.run_store import KeptPool, RunNow, read_pool
from ringwright.sets.stock import read_stock


@dataclass(frozen=True, kw_only=True)
class Choice:
    """The blades that an address chooses from, before any answer."""

    snapshot: Snapshot
    products: tuple[str, ...]
    product: str
    slots: int | None
    rotor: Rotor
    source: Source
    pool: Pool
    standing: Standing


def read_choice(read: Read, asked: Asked, run: RunNow | None = None) -> Choice:
    """The blades and what is known of their rotor; raises Missing for an unknown product."""
    sizes = _sizes(read)
    brought = read_pool(read, asked.text("pool")) if asked.text("pool") else None
    product = _product(asked, sizes, brought)
    source, blades = _stock(read, product) if product else (Source(), ())
    if brought is not None:
        source, blades = _brought(brought, source), brought.blades
    kept = filtered(blades, asked)
    pool = Pool(blades=kept) if run is None else question_of(run.question).pool
    return Choice(
        snapshot=snapshot_of(read),
        products=tuple(sizes),
        product=product,
        slots=slots_of(asked, sizes.get(product)),
        rotor=read_rotor(read, product) if product else Rotor(),
        source=replace(source, filtered=len(blades) - len(kept)),
        pool=pool,
        standing=read_standing(read, product),
    )


def _brought(brought: KeptPool, stock: Source) -> Source:
    """Where the blades come from when a file brought them; those of the record are known."""
    return Source(
        pool=brought.code,
        name=brought.name,
        all=len(brought.blades),
        free=len(brought.blades),
        seqs=stock.seqs,
    )


def _sizes(read: Read) -> dict[str, int]:
    """Product to the blades of a set, of those that are built in sets: one part is none."""
    found = read_revisions(read.connection, read.site.id)
    known = [r for r in found if r.effective_us <= read.now_us]
    newest = {revision.product: revision.card.set_size for revision in known}
    return {name: size for name, size in newest.items() if size and size >= LEAST_SLOTS}


def _product(asked: Asked, sizes: dict[str, int], brought: KeptPool | None) -> str:
    name = asked.text("product")
    if name and name not in sizes:
        raise Missing(f"{name[:80]} is no product that is built in sets")
    if brought is not None:
        return name or brought.product
    return name or next(iter(sizes), "")


def _stock(read: Read, product: str) -> tuple[Source, tuple[Blade, ...]]:
    stock = read_stock(read, product)
    blades = tuple(one.blade for one in stock.blades)
    source = Source(
        all=len(stock.blades) + len(stock.excluded),
        free=len(stock.blades),
        excluded=tuple((one.serial, one.reason) for one in stock.excluded),
        seqs={one.blade.serial: one.last_seq for one in stock.blades},
    )
    return source, blades


def filtered(blades: Sequence[Blade], asked: Asked) -> tuple[Blade, ...]:
    """The blades that the address does not filter out; raises Refused."""
    find = asked.text("find").casefold()
    moment = asked.number("moment_from"), asked.number("moment_to")
    tone = asked.number("frequency_from"), asked.number("frequency_to")
    kept = [
        blade
        for blade in blades
        if find in blade.serial.casefold()
        and _inside(blade.moment_g_mm, *moment)
        and _inside(blade.frequency_hz, *tone)
    ]
    return tuple(kept)


def _inside(value: float | None, low: float | None, high: float | None) -> bool:
    """Inside its ends; without the reading only where no end is given."""
    if low is None and high is None:
        return True
    if value is None:
        return False
    return (low is None or value >= low) and (high is None or value <= high)


def bare_sheet(choice: Choice) -> SetsSheet:
    """The page before any answer."""
    return SetsSheet(
        snapshot=choice.snapshot,
        products=choice.products,
        product=choice.product,
        slots=choice.slots,
        rotor=choice.rotor,
        source=choice.source,
        pool=choice.pool,
        standing=choice.standing,
    )


def answered(choice: Choice, asked: Asked, run: RunNow | None = None) -> SetsSheet:
    """The page's answers to what is asked of these blades; raises Refused."""
    bare = bare_sheet(choice)
    if run is not None:
        return _by_run(bare, asked, run)
    if choice.slots is None:
        return bare
    limits = limits_of(asked, choice.slots, choice.rotor)
    question = _question(choice, limits, asked)
    sheet = replace(bare, question=question)
    if len(choice.pool) < choice.slots:
        return sheet
    if not at_once(choice.pool, choice.slots, asked.effort):
        return replace(sheet, waits=True)
    answers = KEPT.answer(question)
    return shown(sheet, question, answers, asked)


def _question(choice: Choice, limits: Limits, asked: Asked) -> Question:
    return Question(
        pool=choice.pool,
        limits=limits,
        effort=asked.effort,
        seed=asked.seed,
        floor=floor_of(choice.rotor),
    )


def shown(sheet: SetsSheet, question: Question, answers: Answers, asked: Asked) -> SetsSheet:
    """The page with these answers: one of them chosen, exchanged by hand where asked."""
    if not answers.options:
        return replace(sheet, answers=answers)
    chosen = _chosen(answers.options, asked.text("answer"))
    exchanged = exchange(question, chosen, asked.texts("exchange"))
    drawn = exchanged.after if exchanged else chosen
    doubt = uncertainty_of(question.pool, drawn.order, question.floor)
    return replace(sheet, answers=answers, chosen=chosen, doubt=doubt, exchanged=exchanged)


def _chosen(options: tuple[Option, ...], letter: str) -> Option:
    named = [option for option in options if option.letter == letter.upper()]
    if letter and not named:
        raise Refused(f"there is no answer {letter[:20]!r}; there are "
                      f"{', '.join(option.letter for option in options)}")  # fmt: skip
    return named[0] if named else options[0]


def read_standing(read: Read, product: str) -> Standing:
    """How many sets stand, which of them lack blades, what the next one is called."""
    if not product:
        return Standing()
    sets = read_sets(read, product)
    return Standing(
        sets=sum(one.holding for one in sets),
        lacking=lacking_sets(read, sets),
        next_code=next_code(read.connection, read.site.id, product),
    )


def _by_run(bare: SetsSheet, asked: Asked, run: RunNow) -> SetsSheet:
    """The answers of a run that has ended; while it goes on there is none yet."""
    asking = question_of(run.question)
    question = Question(
        pool=asking.pool,
        limits=asking.limits,
        effort=asking.effort,
        seed=asking.seed,
        floor=asking.floor,
    )
    by_run = ByRun(going=run.going, state=run.state)
    sheet = replace(
        bare, question=question, slots=asking.limits.slots, waits=run.going, run=by_run
    )
    found = run.answer
    if found is None:
        return sheet
    if "sets" not in found:
        told = Answers(trouble=found["trouble"], smallest=found["smallest"])
        return replace(sheet, answers=told, waits=False)
    number = asked.whole("set", 1, len(found["sets"]), 1)
    by_run = replace(
        by_run,
        sets=len(found["sets"]),
        most=found["bound"]["max_sets"],
        proved=found["bound"]["proved"],
        number=number,
    )
    places = question.pool.places
    order = tuple(places[serial] for serial in found["sets"][number - 1]["slots"])
    if number > 1:
        # Locks hold for the first set; the others know none.
        question = replace(question, limits=replace(question.limits, locks={}))
    answers = answers_of(question, order, stopped_early=found["stopped_early"])
    sheet = replace(sheet, question=question, waits=False, run=by_run)
    return shown(sheet, question, answers, asked)
