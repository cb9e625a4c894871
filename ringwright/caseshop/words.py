"""What the case shop says, in one language. Pure."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final

from ringwright.caseshop.board import Board, Line
from ringwright.caseshop.desk import HOUR_US, TICK_US
from ringwright.caseshop.week import CaseWeek, MachineWeek, OnMachine
from ringwright.core.glossary import N_
from ringwright.flow.answer import LONGEST, Piece
from ringwright.jobshop.change import Effect, Moved
from ringwright.jobshop.locks import (
    CLOSED,
    NO_FIXTURE,
    NOT_THERE,
    TAKEN,
    WRONG_MACHINE,
    Conflict,
)
from ringwright.jobshop.reasons import BEHIND, FIXTURE, LOCKED, OWN, Late, Wait
from ringwright.jobshop.reasons import CLOSED as CLOSED_HOURS
from ringwright.kit.numbers import NOTHING, Figures
from ringwright.kit.words import Words
from ringwright.machines.card import REASONS
from ringwright.machines.rules import CUTTING, OFF, SET_UP, STOPPED

STATES: Final[dict[str, str]] = {
    OFF: N_("off"),
    SET_UP: N_("set-up"),
    CUTTING: N_("cutting"),
    STOPPED: N_("stopped"),
}
KINDS: Final[dict[str, str]] = {
    "set-up-begun": N_("set-up begun"),
    "cutting-begun": N_("cutting begun"),
    "spindle-stopped": N_("stopped"),
    "spindle-resumed": N_("resumed"),
    "spindle-off": N_("switched off"),
}
CAUTION: Final = N_(
    "Rotating parts, sharp and burning swarf, and forgings and cases of tonnes on the crane. "
    "The site's machine and lifting rules, local codes and licensed practice decide how it is "
    "done; this record does not."
)


@dataclass(frozen=True, slots=True)
class CaseWords:
    """The words of the week and of the board."""

    words: Words
    show: Figures
    zone: str

    def moment(self, us: int) -> str:
        """Day and clock at the site."""
        return f"{self.show.day(us, self.zone)} {self.show.clock(us, self.zone)}"

    def ticks(self, ticks: int) -> str:
        """Hours of some ticks, in full: quarters where there are any."""
        quarters, hours = abs(ticks) % 4, abs(ticks) * TICK_US / HOUR_US
        return self.show.decimal(hours, (0, 2, 1, 2)[quarters])

    # The week

    def answer(self, week: CaseWeek) -> tuple[Piece, ...]:
        """The page's one line; clauses are left out from the right until it fits."""
        _ = self.words._
        if not week.machines:
            return (Piece(_("No product of family case has a machining step yet")),)
        return joined([*self._stopped(week), *self._on(week), *self._hours(week)])

    def _stopped(self, week: CaseWeek) -> list[Piece]:
        _ = self.words._
        found = [(one.code, one.stopped_now) for one in week.machines]
        stopped = [(code, span) for code, span in found if span is not None]
        if len(stopped) == 1:
            code, span = stopped[0]
            told = _("%(code)s stopped: %(why)s", code=code, why=_(REASONS[span.reason]))
            return [Piece(told, True)]
        if stopped:
            codes = ", ".join(code for code, _span in stopped)
            return [Piece(_("%(codes)s stopped", codes=codes), True)]
        return []

    def _on(self, week: CaseWeek) -> list[Piece]:
        on = sum(one.now is not None for one in week.machines)
        off = sum(one.off for one in week.machines)
        told = []
        if not week.over:
            told.append(
                Piece(
                    self.words._(
                        "%(on)s of %(all)s machines have a case on",
                        on=self.show.count(on), all=self.show.count(len(week.machines)),
                    )
                )
            )  # fmt: skip
        gone = self.words.ngettext(
            "%(n)s case went off its machine", "%(n)s cases went off their machine", off
        )
        return [*told, Piece(gone)]

    def _hours(self, week: CaseWeek) -> list[Piece]:
        hours = self.show.decimal(week.hours(STOPPED), 0)
        return [Piece(self.words._("%(hours)s h stopped", hours=hours))]

    def beside(self, one: MachineWeek, coming: Line | None) -> list[str]:
        """What stands beside a machine's ruler."""
        _, show = self.words._, self.show
        gone = _(
            "%(gone)s h gone, %(left)s h left",
            gone=show.decimal(one.gone_h, 0), left=show.decimal(one.left_h, 0),
        )  # fmt: skip
        return [self.now(one), self.next(coming), gone]

    def then(self, one: MachineWeek) -> list[str]:
        """What stands beside the ruler of a week that is over."""
        _, show = self.words._, self.show
        return [
            _("%(hours)s h cutting", hours=show.decimal(one.hours(CUTTING), 0)),
            _("%(hours)s h set-up", hours=show.decimal(one.hours(SET_UP), 0)),
            _("%(hours)s h stopped", hours=show.decimal(one.hours(STOPPED), 0)),
        ]

    def now(self, one: MachineWeek) -> str:
        """What is on now."""
        _, case = self.words._, one.now
        if case is None:
            return _("nothing is on")
        stopped = one.stopped_now
        if stopped is not None:
            return _(
                "%(serial)s on, stopped: %(why)s",
                serial=case.stay.serial, why=_(REASONS[stopped.reason]),
            )  # fmt: skip
        left = case.left_h
        if left is None:
            return _("%(serial)s on", serial=case.stay.serial)
        return _(
            "%(serial)s on, %(left)s h of its plan left",
            serial=case.stay.serial, left=self.show.decimal(left, 0),
        )  # fmt: skip

    def next(self, coming: Line | None) -> str:
        """What the plan puts on next."""
        if coming is None:
            return self.words._("nothing planned next")
        return self.words._(
            "then %(serial)s, %(moment)s",
            serial=coming.placement.serial, moment=self.moment(coming.start_us),
        )  # fmt: skip

    def ruler(self, one: MachineWeek) -> str:
        """The ruler's answer, for who cannot see it."""
        told = [self._stay(case) for case in one.cases] or [self.words._("no case was on")]
        return "; ".join(told) + "."

    def _stay(self, case: OnMachine) -> str:
        off = self.words._("now") if case.stay.on else self.moment(case.stay.end_us)
        return self.words._(
            "%(serial)s, step %(step)s, %(from)s to %(to)s",
            serial=case.stay.serial, step=case.stay.step, to=off,
            **{"from": self.moment(case.begin_us)},
        )  # fmt: skip

    # The board

    def board(self, board: Board) -> tuple[Piece, ...]:
        """The board's one line."""
        _ = self.words._
        if not board.desk.shop.operations:
            return (Piece(_("No case waits for a machine")),)
        if board.proposed and board.plan is None:
            return (Piece(_("No plan can keep every lock"), True),)
        if board.plan is None:
            return (Piece(_("No plan is kept yet: ask for a proposal")),)
        late = len(board.late)
        in_time = self.words.ngettext("%(n)s case late", "%(n)s cases late", late)
        head = Piece(_("Proposal")) if board.proposed else None
        done = self.words.ngettext(
            "%(n)s case off its last machine this week",
            "%(n)s cases off their last machine this week",
            board.done_this_week,
        )
        pieces = [Piece(in_time, bool(late)), Piece(done)]
        return joined([head, *pieces] if head else pieces)

    def against_kept(self, board: Board) -> str:
        """The lateness of a proposal beside that of the plan as kept."""
        _, kept = self.words._, board.kept_late_ticks
        if kept is None:
            return _("%(late)s h late in all.", late=self.ticks(board.late_ticks))
        return _(
            "%(late)s h late in all, against %(kept)s h with the plan as kept.",
            late=self.ticks(board.late_ticks), kept=self.ticks(kept),
        )  # fmt: skip

    def late(self, one: Late) -> str:
        """The sentence of a late case."""
        _ = self.words._
        head = _(
            "%(serial)s is %(hours)s h late", serial=one.serial, hours=self.ticks(one.ticks)
        )
        return f"{head}: {self._because(one)}."

    def _because(self, one: Late) -> str:
        _ = self.words._
        own = _(
            "its own work alone is %(hours)s h longer than the time left",
            hours=self.ticks(one.own),
        )
        waits = [self._wait(wait) for wait in one.waits[:2]]
        if not waits:
            return own
        if one.first == OWN:
            return f"{own}; {waits[0]}"
        return "; ".join(waits)

    def _wait(self, wait: Wait) -> str:
        _, hours, step = self.words._, self.ticks(wait.ticks), wait.key[1]
        given = {"hours": hours, "step": step, "machine": wait.machine}
        if wait.why == BEHIND:
            return _(
                "step %(step)s waits %(hours)s h for %(machine)s behind %(case)s",
                case=wait.behind, **given,
            )  # fmt: skip
        if wait.why == FIXTURE:
            return _(
                "step %(step)s waits %(hours)s h for fixture %(fixture)s, which %(case)s has",
                step=step, hours=hours, fixture=wait.fixture, case=wait.behind,
            )  # fmt: skip
        if wait.why == CLOSED_HOURS:
            return _("%(machine)s is closed %(hours)s h before step %(step)s", **given)
        if wait.why == LOCKED:
            return _("step %(step)s is locked %(hours)s h later than it could begin", **given)
        return _("step %(step)s is %(hours)s h later for the sake of the order", **given)

    def conflict(self, one: Conflict, board: Board) -> str:
        """Why a lock cannot be kept, and what would do."""
        _, (serial, step) = self.words._, one.key
        given = {"serial": serial, "step": step, "machine": one.machine}
        why = {
            WRONG_MACHINE: _("%(machine)s may not do it", **given),
            NOT_THERE: _("the case is not there yet"),
            CLOSED: _("%(machine)s is closed then", **given),
            TAKEN: _("%(machine)s has another case then", **given),
            NO_FIXTURE: _("no fixture %(kind)s is free then", kind=one.fixture),
        }.get(one.why, _("it clashes with the other locks"))
        if one.why == TAKEN and one.behind is not None:
            why = _("%(machine)s has %(case)s then", machine=one.machine, case=one.behind[0])
        told = _("%(serial)s, step %(step)s, cannot keep its lock: %(why)s.", why=why, **given)
        if one.start is None:
            return told
        moment = self.moment(board.desk.us(one.start))
        return f"{told} " + _("The smallest change: let it begin %(moment)s.", moment=moment)

    def slipped(self, board: Board) -> list[str]:
        """Locks of the kept plan that hold no more."""
        return [
            self.words._(
                "%(serial)s, step %(step)s, is locked but goes on %(hours)s h later.",
                serial=serial, step=step, hours=self.ticks(ticks),
            )
            for (serial, step), ticks in board.slipped.items()
        ]  # fmt: skip

    def effect(self, board: Board, effect: Effect) -> str:
        """What the change does, in one sentence."""
        _ = self.words._
        told = [self._moved(one) for one in effect.moved]
        if effect.stay and effect.moved:
            few = ", ".join(effect.stay) if len(effect.stay) <= 3 else ""
            told.append(
                self.words.ngettext("%(who)s stays", "%(who)s stay", len(effect.stay), who=few)
                if few
                else _("%(n)s others stay", n=self.show.count(len(effect.stay)))
            )
        if not effect.moved:
            told = [_("every case ends when it did before")]
        before, after = board.by_week_end(effect.before), board.by_week_end(effect.after)
        if before != after:
            told.append(
                _(
                    "off their last machine this week: %(after)s instead of %(before)s",
                    after=self.show.count(after), before=self.show.count(before),
                )
            )  # fmt: skip
        return ", ".join(told) + "."

    def _moved(self, one: Moved) -> str:
        _, given = self.words._, {"serial": one.serial, "hours": self.ticks(one.later)}
        if one.later > 0:
            return _("%(serial)s goes %(hours)s h later", **given)
        return _("%(serial)s goes %(hours)s h earlier", **given)

    def not_possible(self, effect: Effect, board: Board) -> Sequence[str]:
        """Locks that the change breaks."""
        return [
            self.words._(
                "%(serial)s, step %(step)s, cannot begin then: at the earliest %(moment)s.",
                serial=key[0], step=key[1],
                moment=self.moment(board.desk.us(effect.after.by_key[key].start)),
            )
            for key in effect.missed
        ]  # fmt: skip

    def hours(self, value: float | None) -> str:
        """Hours with one decimal, or the mark for none."""
        return NOTHING if value is None else self.show.decimal(value, 1)


def joined(clauses: Sequence[Piece]) -> tuple[Piece, ...]:
    """Clauses with commas between, left out from the right until they fit."""
    kept: list[Piece] = []
    for one in clauses:
        if kept and sum(len(p.text) + 2 for p in kept) + len(one.text) > LONGEST:
            break
        kept.append(one)
    found: list[Piece] = []
    for place, one in enumerate(kept):
        found += [Piece(", ")] if place else []
        text = one.text if place else one.text[:1].upper() + one.text[1:]
        found.append(Piece(text, one.needs))
    return tuple(found)
