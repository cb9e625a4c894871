"""What people decide in the invented factory: starts, sentences, lots in doubt, units sent."""

from __future__ import annotations

from typing import Final

from ringwright.core.calendar import HOUR_US, SECOND_US
from ringwright.demo.factory import MINUTE_US, Factory
from ringwright.demo.faults import (
    OUTAGES,
    STARTS,
    TROUBLE_EVERY_WEEKS,
    TROUBLE_FIRST_WEEK,
    Fault,
)
from ringwright.demo.floor import Group, Part
from ringwright.routecards.card import RouteCard

DAY_US: Final = 24 * HOUR_US
WEEK_US: Final = 7 * DAY_US
MANNED_H: Final = 126.0
"""Manned hours of an ordinary week, over which starts are spread."""
SEND_HOURS: Final = (37, 85, 110)
"""Tuesday 13:00, Thursday 13:00 and Friday 14:00, in hours of the week."""
LOT_HELD_US: Final = 8 * DAY_US + 3 * HOUR_US
"""Longer than the week from one lot in doubt to the next: one is always held."""
LOTS_IN_DOUBT: Final = {"HF22-BLADE": (20, 110), "PT68-BLADE": (60, 140)}
"""First and last step at which parts of a lot are looked for."""


class Office:
    """Keeps the factory fed, judges what it stops, and sends what it has made."""

    def __init__(self, factory: Factory, cards: tuple[RouteCard, ...], start_us: int) -> None:
        self._factory, self._start_us = factory, start_us
        self._cards = {card.product: card for card in cards}
        self._made = dict.fromkeys(self._cards, 0)
        self._concessions = 0
        self._of_lot: dict[str, list[Part]] = {}
        factory.on_stop = self._stopped
        for product in self._cards:
            factory.later(factory.hours.next_open(start_us), self._start, product)
        for hour in SEND_HOURS:
            factory.later(start_us + WEEK_US + hour * HOUR_US, self._send)
        factory.later(start_us + WEEK_US + 58 * HOUR_US, self._doubt, 0)
        for name, hour, out_h in OUTAGES:
            at_us = start_us + TROUBLE_FIRST_WEEK * WEEK_US + hour * HOUR_US
            factory.later(at_us, self._survey, factory.groups[name], out_h * HOUR_US)

    def _start(self, now: int, product: str) -> None:
        """Start the next few parts, unless the pile is high enough."""
        plan, factory = STARTS[product], self._factory
        if factory.in_work[product] < plan.most_in_work:
            for _ in range(plan.at_once):
                self._create(now, product)
        gap = MANNED_H * plan.at_once / plan.per_week
        gap_us = factory.hours_of(gap, 0.1)
        spans = factory.hours.spans(now, gap_us)
        factory.later(spans[-1][1], self._start, product)

    def _create(self, now: int, product: str) -> None:
        plan, factory = STARTS[product], self._factory
        number = self._made[product]
        self._made[product] += 1
        part = Part(
            serial=f"{plan.serial}{number + 1:0{plan.digits}}",
            card=self._cards[product],
            lot=f"{plan.lot}{101 + number // plan.per_lot:04}",
            size=factory.random.gauss(0.0, 1.0),
        )
        factory.in_work[product] += 1
        self._of_lot.setdefault(part.lot, []).append(part)
        factory.pen.write(now, part, "create", "supervisor", lot=part.lot)
        factory.queue(now, part)

    def _stopped(self, now: int, part: Part, fault: Fault) -> None:
        """The stopped part is judged in office hours, some hours later."""
        random = self._factory.random
        at_us = self._factory.office.next_open(now + random.randrange(40, 600) * MINUTE_US)
        at_us += random.randrange(60, 4800) * SECOND_US
        self._factory.later(at_us, self._sentence, part, fault)

    def _sentence(self, now: int, part: Part, fault: Fault) -> None:
        pen = self._factory.pen
        outcome = fault.outcome
        if outcome in ("rework", "repair"):
            # A rework comes here only when the route card allows no further visit.
            again = part.may_repeat(fault.back_to or part.step.number)
            inspected = part.step.kind == "inspection"
            other = "concession" if inspected else "scrap"
            outcome = "repair" if again and outcome == "repair" else other
        by = {
            "scrap": "quality-engineer", "concession": "design-authority",
            "repair": "design-authority", "pass": "quality-engineer",
        }[outcome]  # fmt: skip
        reason = f"sentenced: {'nothing wrong' if outcome == 'pass' else outcome}"
        if outcome in ("concession", "repair"):
            self._concessions += 1
            reason = f"sentenced: {outcome}, document HRW-{self._concessions:04}"
        pen.write(now, part, "unhold", by, reason=reason)
        part.held = ""
        self._factory.later(now + 20 * SECOND_US, self._close, part, fault, outcome, by)

    def _close(self, now: int, part: Part, fault: Fault, outcome: str, by: str) -> None:
        factory = self._factory
        role = "inspector" if part.step.kind == "inspection" else "maker"
        part.actor = factory.crew(now, role)
        factory.pen.write(now, part, "resume", part.actor, station=part.station)
        factory.later(now + 40 * SECOND_US, factory.end, part, outcome, by, fault)

    def _doubt(self, now: int, turn: int) -> None:
        """Once a week the material of one lot is doubted, and what is left of it held."""
        factory = self._factory
        lot = self._lot_to_doubt(("HF22-BLADE", "PT68-BLADE")[turn % 2])
        factory.later(now + WEEK_US, self._doubt, turn + 1)
        if not lot:
            return
        factory.doubted[lot] = f"lot {lot} under suspicion: certificate in question"
        for part in self._of_lot[lot]:
            if not part.gone and factory.may_hold(part):
                factory.hold(now, part, factory.doubted[lot])
        factory.later(now + LOT_HELD_US, self._clear, lot)

    def _lot_to_doubt(self, product: str) -> str:
        """The lot with the most parts waiting midway."""
        first, last = LOTS_IN_DOUBT[product]
        seen: dict[str, int] = {}
        for lot, parts in self._of_lot.items():
            if parts[0].card.product == product and lot not in self._factory.doubted:
                midway = [p for p in parts if not p.gone and first <= p.step.number <= last]
                seen[lot] = sum(map(self._factory.may_hold, midway))
        most = max(seen.values(), default=0)
        return next((lot for lot in seen if most and seen[lot] == most), "")

    def _clear(self, now: int, lot: str) -> None:
        """The lot is found good; its parts go on."""
        factory = self._factory
        reason = factory.doubted.pop(lot)
        for part in self._of_lot.pop(lot):
            if part.held == reason and not part.busy:
                part.held = ""
                factory.pen.write(
                    now, part, "unhold", "quality-engineer", reason="certificate found good"
                )
                factory.queue(now, part)

    def _send(self, now: int) -> None:
        """Send a unit, two at most, when every product has enough beyond what is kept."""
        factory = self._factory
        at_us = now
        for _ in range(2):
            if any(
                len(factory.finished[product]) < STARTS[product].per_unit + STARTS[product].kept
                for product in self._cards
            ):
                break
            for product in self._cards:
                ready = factory.finished[product]
                going = [ready.pop(0) for _ in range(STARTS[product].per_unit)]
                for part in going:
                    factory.later(at_us, self._send_one, part)
                    at_us += 12 * SECOND_US
        factory.later(now + WEEK_US, self._send)

    def _send_one(self, now: int, part: Part) -> None:
        self._factory.pen.write(now, part, "send", "supervisor")

    def _survey(self, now: int, group: Group, out_us: int) -> None:
        """A survey fails: what is in the stations runs out, nothing more goes in."""
        factory = self._factory
        group.shutting = True
        if group.cleaned_waiting:
            # Cleaned parts would miss their window; they are the last to go in.
            factory.later(now + 20 * MINUTE_US, self._survey, group, out_us)
            return
        for place in group.places:
            place.out = True
        factory.later(now + out_us, self._reopen, group)
        again = now + TROUBLE_EVERY_WEEKS * WEEK_US
        factory.later(again, self._survey, group, out_us)

    def _reopen(self, now: int, group: Group) -> None:
        for place in group.places:
            place.out = False
        group.shutting = False
        self._factory.dispatch(now, group)
