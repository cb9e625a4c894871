"""The words of furnaces and runs, in one language."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

from ringwright.core.glossary import N_
from ringwright.core.instants import HOUR_US
from ringwright.furnaces.card import PROOFS
from ringwright.furnaces.rules import (
    ABORTED,
    ACCEPTED,
    CLOSED,
    FINISHED,
    FOR_REVIEW,
    HELD,
    LOADING,
    RUNNING,
    Health,
    Run,
    day_after,
)
from ringwright.gauges.words import GaugeWords
from ringwright.heatruns.board import Board
from ringwright.heatruns.departing import Departure, departure_text
from ringwright.heatruns.ready import Against
from ringwright.heatruns.waiting import ForFurnace
from ringwright.kit.numbers import Figures
from ringwright.kit.words import Words

STATES: Final[dict[str, str]] = {
    "free": N_("free"),
    "blocked": N_("blocked"),
    LOADING: N_("loading"),
    RUNNING: N_("running"),
    FINISHED: N_("finished, no trace yet"),
    FOR_REVIEW: N_("met, for review"),
    HELD: N_("held for engineering review"),
    ACCEPTED: N_("accepted"),
    CLOSED: N_("closed after review"),
    ABORTED: N_("aborted"),
}
MINUTE_US: Final = 60_000_000


@dataclass(frozen=True, slots=True)
class FurnaceWords:
    """What the Furnace pages say."""

    words: Words
    show: Figures

    def answer(self, board: Board, zone: str) -> list[tuple[str, bool]]:
        """Pieces of the headline, each with whether it needs a person."""
        _, n_ = self.words._, self.words.ngettext
        if not board.lines:
            return [(_("No furnace is on the register yet"), False)]
        pieces: list[tuple[str, bool]] = []
        if board.over:
            n = len(board.over)
            pieces.append(
                (n_("%(n)s window has run out", "%(n)s windows have run out", n, n=n), True)
            )
        if board.soon:
            first = board.soon[0].deadline_us or 0
            n = len(board.soon)
            told = n_(
                "%(n)s blade to load by %(clock)s",
                "%(n)s blades to load, the first by %(clock)s",
                n, n=n, clock=self.show.clock(first, zone),
            )  # fmt: skip
            pieces.append((told, True))
        if board.soon_held:
            until = board.soon_held[0].deadline_us or 0
            n = len(board.soon_held)
            told = n_(
                "%(n)s held, its window over by %(clock)s",
                "%(n)s held, the first window over by %(clock)s",
                n, n=n, clock=self.show.clock(until, zone),
            )  # fmt: skip
            pieces.append((told, True))
        pieces += self._decisions(board)
        if len(pieces) < 2:
            pieces.append((self._standing(board), False))
        return pieces[:3]

    def _decisions(self, board: Board) -> list[tuple[str, bool]]:
        n_ = self.words.ngettext
        held = sum(run.state == HELD for run in board.to_decide)
        review = sum(run.state == FOR_REVIEW for run in board.to_decide)
        found = []
        if held:
            found.append((n_("%(n)s run held", "%(n)s runs held", held, n=held), True))
        if review:
            told = n_("%(n)s run to be reviewed", "%(n)s runs to be reviewed", review, n=review)
            found.append((told, True))
        return found

    def _standing(self, board: Board) -> str:
        running = sum(line.run is not None for line in board.lines)
        return self.words.ngettext(
            "%(running)s of %(n)s furnace taken", "%(running)s of %(n)s furnaces taken",
            len(board.lines), n=len(board.lines), running=running,
        )  # fmt: skip

    def against(self, one: Against) -> str:
        """What keeps a furnace from being started, as the rest of a sentence about it."""
        _ = self.words._
        if one.proof is not None:
            return self.proof(one.proof)
        if one.channel is not None:
            return _(
                "has %(channel)s, which was used in %(uses)s runs, %(most)s at most; renew it",
                channel=one.channel.code, uses=one.uses, most=one.channel.most_uses,
            )  # fmt: skip
        if one.line is None:
            return _("reads with %(gauge)s, which is on no register", gauge=one.gauge)
        why = GaugeWords(self.words, self.show).why(one.line)
        return _("reads with %(gauge)s: %(why)s", gauge=one.gauge, why=why)

    def proof(self, one: Health) -> str:
        """What is wrong with one proof, as the rest of a sentence about its furnace."""
        _ = self.words._
        what = _(PROOFS[one.what])
        if one.last is None:
            return _("has no %(what)s on record", what=what)
        if not one.last.good:
            return _("failed its %(what)s on %(day)s", what=what, day=one.last.on)
        day = day_after(one.last.due)
        return _("has been overdue for its %(what)s since %(day)s", what=what, day=day)

    def left_corridor(self, one: Departure, zone: str, now_us: int) -> str:
        """When a run left what good runs do, and by what, as a sentence."""
        told = departure_text(one, self.words, self.show, (zone, now_us))
        return told[:1].upper() + told[1:]

    def out_of_good(self, one: Departure) -> str:
        """What such a flag is worth."""
        return self.words._(
            "the corridor of %(n)s good runs; of good runs %(share)s are flagged too",
            n=self.show.count(one.good_runs), share=self.show.percent(one.false_alarms, 0),
        )  # fmt: skip

    def left(self, part: ForFurnace, now_us: int) -> str:
        """The time left in its window, in words."""
        _, left = self.words._, part.left_us(now_us)
        if left is None:
            return _("no window")
        if left < 0:
            return _("window over for %(time)s", time=self.length(-left))
        return _("%(time)s left", time=self.length(left))

    def length(self, us: int) -> str:
        """38 min; 2 h 05 min; 27 h."""
        hours, rest = divmod(us, HOUR_US)
        minutes = rest // MINUTE_US
        if not hours:
            return self.words._("%(m)s min", m=minutes)
        if hours >= 10:
            return self.words._("%(h)s h", h=hours)
        return self.words._("%(h)s h %(m)s min", h=hours, m=f"{minutes:02d}")

    def state(self, run: Run) -> str:
        """The state of a run."""
        return self.words._(STATES[run.state])
