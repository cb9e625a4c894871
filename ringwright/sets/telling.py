"""What Blade sets amounts to, in words: the answer of the page. Pure."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Final

from ringwright.balance.mistuning import amplification_bound
from ringwright.flow.answer import Piece
from ringwright.kit.numbers import Figures
from ringwright.kit.words import Words
from ringwright.sets.answers import Option
from ringwright.sets.figures import (
    G_MM,
    HZ,
    Manner,
    plus_minus,
    step_of,
    three_digits,
    to_step,
)
from ringwright.sets.model import ByRun, SetsSheet

LONGEST: Final = 90
"""Letters of an answer; clauses are left out from the right until it fits."""


def answer(sheet: SetsSheet, words: Words, show: Figures) -> tuple[Piece, ...]:
    """The answer to "which finished blades make a set, and in which slots?"."""
    clauses = [_first(sheet, words, show), *_lacking(sheet, words, show)]
    while len(clauses) > 1 and sum(len(piece.text) + 2 for piece in clauses) > LONGEST:
        clauses.pop()
    pieces: list[Piece] = []
    for clause in clauses:
        pieces += [Piece("; "), clause] if pieces else [clause]
    first = pieces[0]
    pieces[0] = Piece(first.text[:1].upper() + first.text[1:], first.needs)
    return (*pieces, Piece("."))


def _first(sheet: SetsSheet, words: Words, show: Figures) -> Piece:
    _, count = words._, show.count
    if not sheet.product and not sheet.source.pool:
        return Piece(_("no product is built in sets yet"))
    if sheet.slots is None:
        return Piece(_("say how many slots the ring has"))
    if sheet.shown is not None:
        return Piece(_told(sheet, sheet.shown, words, show))
    if sheet.run is not None and not sheet.answers.trouble:
        return _of_run(sheet.run, words)
    if len(sheet.pool) < sheet.slots:
        short = sheet.slots - len(sheet.pool)
        return Piece(
            words.ngettext(
                "%(n)s blade short: a set needs %(slots)s, and %(free)s may enter",
                "%(n)s blades short: a set needs %(slots)s, and %(free)s may enter",
                short,
                n=count(short),
                slots=count(sheet.slots),
                free=count(len(sheet.pool)),
            ),
            True,
        )
    if sheet.waits:
        return Piece(
            _(
                "a set of %(slots)s out of %(free)s blades is a longer search: start a run",
                slots=count(sheet.slots), free=count(len(sheet.pool)),
            )
        )  # fmt: skip
    return Piece(_("no set can be built as asked"), True)


def _told(sheet: SetsSheet, shown: Option, words: Words, show: Figures) -> str:
    """What the shown answer comes to."""
    manner = Manner(words, show, sheet.places, sheet.u95_g_mm)
    measured, _ = shown.measured, words._
    if sheet.exchanged is not None:
        before = sheet.exchanged.before.measured.residual_g_mm
        return _(
            "by hand, answer %(letter)s goes from %(before)s to %(after)s g·mm",
            letter=shown.letter,
            before=manner.residual(before),
            after=manner.residual(measured.residual_g_mm),
        )
    if sheet.run is not None and sheet.run.sets > 1:
        return _drawn(sheet.run, words, show)
    if measured.opposite_max_g_mm is None:
        return _(
            "answer %(letter)s keeps neighbours within %(figure)s g·mm",
            letter=shown.letter, figure=manner.moment(measured.neighbour_max_g_mm),
        )  # fmt: skip
    return _(
        "answer %(letter)s pairs every blade within %(figure)s g·mm of its opposite",
        letter=shown.letter, figure=manner.moment(measured.opposite_max_g_mm),
    )  # fmt: skip


def _of_run(run: ByRun, words: Words) -> Piece:
    if run.going:
        return Piece(words._("the run goes on; its answer stands here when it ends"))
    if run.state == "stopped":
        return Piece(words._("the run was stopped before it had an answer"))
    return Piece(words._("the run was broken off; start it again"), True)


def _drawn(run: ByRun, words: Words, show: Figures) -> str:
    """How many sets a run drew, against how many are possible."""
    values = {
        "sets": show.count(run.sets),
        "most": show.count(run.most),
        "number": show.count(run.number),
    }
    if run.proved:
        return words._("%(sets)s sets, the most there can be (proved); this is set %(number)s",
                       **values)  # fmt: skip
    return words._("%(sets)s sets of at most %(most)s; this is set %(number)s", **values)


def stock_answer(sheet: SetsSheet, words: Words, show: Figures) -> tuple[Piece, ...]:
    """The answer to "which blades may enter a set?"."""
    count, free = show.count, len(sheet.pool)
    if not sheet.product and not sheet.source.pool:
        return (Piece(words._("No product is built in sets yet.")),)
    told = words.ngettext(
        "%(n)s blade may enter a set", "%(n)s blades may enter a set", free, n=count(free)
    )
    if sheet.slots is not None:
        enough = free // sheet.slots
        told += ", " + words.ngettext(
            "enough for %(n)s by number", "enough for %(n)s by number", enough, n=count(enough)
        )
    out = len(sheet.source.excluded)
    rest = words._("; %(n)s may not.", n=count(out)) if out else "."
    return (Piece(told + rest),)


def _lacking(sheet: SetsSheet, words: Words, show: Figures) -> list[Piece]:
    if not sheet.standing.lacking:
        return []
    worst = sheet.standing.lacking[0]
    short = len(worst.slots)
    told = words.ngettext(
        "set %(code)s lacks %(n)s blade",
        "set %(code)s lacks %(n)s blades",
        short,
        n=show.count(short),
        code=worst.code,
    )
    return [Piece(told, True)]


@dataclass(frozen=True, slots=True, kw_only=True)
class Texts:
    """The sentences of the page beside its answer."""

    sum: str
    """Under the pairs: the mean, the spreads."""
    ring: str
    """What the ring shows, for those who do not see it."""
    source: str
    """Where the blades come from, and how many are left out."""
    doubt: str
    """What the uncertainty is made of."""
    share: str
    """Residual and uncertainty against the share; empty without one."""
    over: bool
    """True where they are more than the share."""
    taken: str
    """What reserving would take."""
    mistuning: str
    """What is published on alternation; information, no prediction."""
    foot: str


def texts_of(sheet: SetsSheet, words: Words, show: Figures) -> Texts:
    """All of them in the reader's language."""
    return Texts(
        sum=_sum(sheet, words, show),
        ring=_ring(sheet, words, show),
        source=_source(sheet, words, show),
        doubt=_doubt(sheet, words, show),
        share=_share(sheet, words, show),
        over=sheet.comparison is not None and not sheet.comparison.within,
        taken=_taken(sheet, words, show),
        mistuning=_mistuning(sheet, words, show),
        foot=cut_off_short(sheet, words, show),
    )


def _mistuning(sheet: SetsSheet, words: Words, show: Figures) -> str:
    if not sheet.slots:
        return ""
    return words._(
        "High and low in turn is one way to mistune on purpose. By mistuning, the worst blade "
        "of %(n)s moves at most %(bound)s times as far as in a tuned disc (Whitehead, 1966). "
        "For information: nothing here predicts vibration.",
        n=show.count(sheet.slots),
        bound=show.decimal(amplification_bound(sheet.slots), 2),
    )


def _sum(sheet: SetsSheet, words: Words, show: Figures) -> str:
    if sheet.shown is None:
        return ""
    taken = sheet.pool.take(sheet.shown.order)
    places = sheet.places
    told = words._(
        "Mean %(mean)s, spread %(spread)s",
        mean=show.decimal(float(taken.moment_g_mm.mean()), places) + G_MM,
        spread=show.decimal(sheet.shown.measured.moment_spread_g_mm, places),
    )
    if taken.frequency_hz is None:
        return words._("%(moments)s; no frequencies.", moments=told)
    return words._(
        "%(moments)s; frequency %(low)s to %(high)s.",
        moments=told,
        low=show.decimal(float(taken.frequency_hz.min()), 2),
        high=show.decimal(float(taken.frequency_hz.max()), 2) + HZ,
    )


def _ring(sheet: SetsSheet, words: Words, show: Figures) -> str:
    shown = sheet.shown
    if shown is None:
        return ""
    manner = Manner(words, show, sheet.places, sheet.u95_g_mm)
    told = words._(
        "Answer %(letter)s: residual %(residual)s",
        letter=shown.letter, residual=manner.residual(shown.measured.residual_g_mm),
    )  # fmt: skip
    doubt = plus_minus(sheet.u95_g_mm, show)
    return f"{told} {doubt}{G_MM}." if doubt else f"{told}{G_MM}."


def _source(sheet: SetsSheet, words: Words, show: Figures) -> str:
    source, count = sheet.source, show.count
    if source.pool:
        told = words._("%(all)s blades of %(name)s", all=count(source.all), name=source.name)
    elif sheet.product:
        told = words._("%(all)s finished and not sent", all=count(source.all))
    else:
        return ""
    if source.excluded:
        told += ", " + words._("%(n)s excluded", n=count(len(source.excluded)))
    if source.filtered:
        told += ", " + words._("%(n)s filtered out", n=count(source.filtered))
    return told + ", " + words._("%(n)s may enter.", n=count(len(sheet.pool)))


def _doubt(sheet: SetsSheet, words: Words, show: Figures) -> str:
    """What the uncertainty is the sum of, each part named; standard uncertainties."""
    rotor, us = sheet.rotor, [blade.moment_u_g_mm for blade in sheet.pool.blades]
    scales = [rotor.moment_u_g_mm if u is None else u for u in us]
    known = [u for u in scales if u is not None]
    if not known or len(known) < len(scales):
        return words._("No uncertainty of the moments is known.")
    scale = math.sqrt(math.fsum(u * u for u in known) / len(known))
    parts = [words._("scale %(u)s", u=three_digits(scale, show) + G_MM)]
    if rotor.slot_angle_u_deg is not None:
        parts.append(words._("slot angle %(u)s", u=f"{rotor.slot_angle_u_deg:g}°"))
    if rotor.seating_u_g_mm is not None:
        parts.append(
            words._("seating %(u)s", u=three_digits(rotor.seating_u_g_mm, show) + G_MM)
        )
    return words._("Standard uncertainty: %(parts)s.", parts=", ".join(parts))


def _share(sheet: SetsSheet, words: Words, show: Figures) -> str:
    found = sheet.comparison
    if found is None:
        return ""
    step = step_of(found.p95_g_mm)
    used = to_step(found.used_g_mm, step, show) if step else show.decimal(found.used_g_mm, 0)
    share = show.decimal(found.share_g_mm, 0) + G_MM
    if found.within:
        return words._(
            "Residual and its 95 %% together are %(used)s of the share %(share)s.",
            used=used, share=share,
        )  # fmt: skip
    return words._(
        "Residual and its 95 %% together are %(used)s, more than the share %(share)s.",
        used=used, share=share,
    )  # fmt: skip


def _taken(sheet: SetsSheet, words: Words, show: Figures) -> str:
    if sheet.shown is None:
        return ""
    free, slots = len(sheet.pool), len(sheet.shown.order)
    return words._(
        "Takes %(slots)s of %(free)s blades; %(left)s stay.",
        slots=show.count(slots), free=show.count(free), left=show.count(free - slots),
    )  # fmt: skip


def cut_off_short(sheet: SetsSheet, words: Words, show: Figures) -> str:
    """The foot: as of when, from which entry."""
    drawn = sheet.snapshot
    moment = show.full(drawn.now_us, drawn.zone)
    past = drawn.as_of
    pieces = [
        words._("As of %(moment)s, then known", moment=moment)
        if past
        else words._("Drawn %(moment)s", moment=moment),
        words._(
            "%(site)s time (%(zone)s)", site=drawn.site_name or drawn.site, zone=drawn.zone
        ),
        words._(
            "from entry %(entry)s, head %(head)s",
            entry=show.count(drawn.head_seq),
            head=f"{drawn.head_hash[:4]} {drawn.head_hash[4:8]}",
        ),
    ]
    return ", ".join(pieces)
