"""Which route is open to whom: one line a route, and none without a line.

A permission is a line of `people/rules.py`. A route asks for any one of those named here; the
command behind it asks again for the very one of the act. `bench` and `wall` say that a shared
bench, where each act is signed, or a wall screen may ask for it too.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final


@dataclass(frozen=True, slots=True, kw_only=True)
class Door:
    """Who may pass."""

    any_of: tuple[str, ...] = ()
    """Permissions, one of which is enough; none: everybody, signed in or not."""
    bench: bool = False
    wall: bool = False


OPEN: Final = Door()
READ: Final = Door(any_of=("read",), bench=True)
SHOWN: Final = Door(any_of=("read",), bench=True, wall=True)
FILE: Final = Door(any_of=("export",))
OWN: Final = Door(any_of=("own account",))
ACCOUNTS: Final = Door(any_of=("accounts",))


def _act(*permissions: str) -> Door:
    """An act at the floor, signed where the bench is shared."""
    return Door(any_of=permissions, bench=True)


def _at_desk(*permissions: str) -> Door:
    """An act by whoever is signed in by themselves."""
    return Door(any_of=permissions)


BOOKS: Final = (
    "create", "visit", "measure", "pass", "rework", "scrap", "repair", "concession", "hold",
    "lift a hold", "stop", "send", "move", "genealogy", "correct", "attach",
)  # fmt: skip

DOORS: Final[dict[str, Door]] = {
    # nobody need be signed in
    "health.alive": OPEN,
    "health.ready": OPEN,
    "people.sign_in": OPEN,
    "people.sign_in_act": OPEN,
    "people.sign_on": OPEN,
    "people.sign_on_return": OPEN,
    "people.demo_act": OPEN,
    "people.code": OPEN,
    "people.code_act": OPEN,
    "people.first": OPEN,
    "people.first_act": OPEN,
    "people.device": OPEN,
    "people.device_act": OPEN,
    # one's own account, and those of others
    "people.sign_out": OWN,
    "people.own": OWN,
    "people.own_act": OWN,
    "people.accounts": ACCOUNTS,
    "people.accounts_act": ACCOUNTS,
    "people.badge": ACCOUNTS,
    "people.devices": _at_desk("devices"),
    "people.devices_act": _at_desk("devices"),
    "people.keys": _at_desk("keys"),
    "people.keys_act": _at_desk("keys"),
    "people.audit": _at_desk("audit"),
    "people.audit_file": _at_desk("audit"),
    # pages
    "flow.home": SHOWN,
    "flow.week": SHOWN,
    "flow.file": FILE,
    "flow.ahead": SHOWN,
    "flow.ahead_file": FILE,
    "flow.backtest": SHOWN,
    "flow.backtest_file": FILE,
    "report.page": READ,
    "report.file": FILE,
    "flow.publish": _at_desk("publish"),
    "floor.board": SHOWN,
    "floor.wall": SHOWN,
    "floor.file": FILE,
    "floor.parts": READ,
    "floor.parts_file": FILE,
    "floor.move": READ,
    "floor.scan": _act("move"),
    "floor.shut": READ,
    "floor.shut_act": _act("shut", "open up"),
    "floor.search": READ,
    "floor.search_act": _act("seek"),
    "floor.priority": READ,
    "floor.prioritise": _act("prioritise"),
    "handover.page": READ,
    "handover.file": FILE,
    "handover.notes": READ,
    "handover.note": _act("hand over a shift"),
    "handover.take": _act("hand over a shift"),
    "bench.page": READ,
    "bench.act": _act(*BOOKS),
    "bench.send_waiting": _act(*BOOKS),
    "bench.worker": OPEN,
    "bench.labels": READ,
    "bench.route_cards": READ,
    "bench.station": READ,
    "bench.choose": _act("read"),
    "bench.cards": READ,
    "bench.nonconformities": READ,
    "bench.waiting_file": FILE,
    "bench.sentence": _act("sentence", "repair", "concession"),
    "bench.witness": _act("witness"),
    "bench.entries": READ,
    "bench.correct": _act("correct", "measure", "visit"),
    "yields.ladder": READ,
    "yields.file": FILE,
    "yields.chart": READ,
    "yields.chart_file": FILE,
    "yields.compare": READ,
    "yields.compare_file": FILE,
    "yields.losses": READ,
    "yields.losses_file": FILE,
    "spread.page": READ,
    "spread.file": FILE,
    "starts.page": READ,
    "starts.file": FILE,
    "queues.page": READ,
    "queues.file": FILE,
    "trace.touched": READ,
    "trace.file": FILE,
    "trace.preview": READ,
    "trace.contain": _at_desk("contain"),
    "trace.containments": READ,
    "trace.containments_file": FILE,
    "trace.containment": READ,
    "trace.containment_file": FILE,
    "trace.clear": _at_desk("clear"),
    "trace.notice": _at_desk("notice"),
    "trace.part": READ,
    "trace.part_file": FILE,
    "sets.builder": READ,
    "sets.file": FILE,
    "sets.stock": READ,
    "sets.stock_file": FILE,
    "sets.reserve_act": _at_desk("reserve"),
    "sets.start_run": _at_desk("build sets"),
    "sets.run": READ,
    "sets.stop_run": _at_desk("build sets"),
    "sets.pool": READ,
    "sets.bring_pool": _at_desk("build sets"),
    "sets.reserved": READ,
    "sets.set": READ,
    "sets.set_file": FILE,
    "sets.sheet": READ,
    "sets.fit": READ,
    "sets.fit_act": _act("fit"),
    "sets.take_out": _act("fit"),
    "sets.mend": READ,
    "sets.mend_act": _at_desk("reserve"),
    "sets.correct": READ,
    "sets.correct_act": _act("fit"),
    "sets.act": _at_desk("hand over", "give back", "send"),
    "sets.rotor": READ,
    "sets.rotor_act": _at_desk("rotor"),
    "heatruns.board": SHOWN,
    "heatruns.file": FILE,
    "heatruns.act_board": _act("run furnace", "furnaces"),
    "heatruns.furnace": READ,
    "heatruns.furnace_file": FILE,
    "heatruns.furnace_act": _act("prove furnace", "furnaces"),
    "heatruns.recipes": READ,
    "heatruns.recipes_act": _at_desk("recipes"),
    "heatruns.recipe": READ,
    "heatruns.run": READ,
    "heatruns.run_file": FILE,
    "heatruns.act": _act("run furnace", "accept run", "close run"),
    "heatruns.upload": _act("run furnace"),
    "heatruns.week": READ,
    "heatruns.week_file": FILE,
    "heatruns.envelope": READ,
    "heatruns.envelope_file": FILE,
    "weldmaps.board": READ,
    "weldmaps.file": FILE,
    "weldmaps.plan": READ,
    "weldmaps.plan_act": _at_desk("weld plans"),
    "weldmaps.ring": READ,
    "weldmaps.ring_file": FILE,
    "weldmaps.weld": READ,
    "weldmaps.film": READ,
    "weldmaps.act": _act("weld", "radiograph", "correct"),
    "find.page": READ,
    "attachments.file": READ,
    "attachments.photo": READ,
    "attachments.thumbnail": READ,
    "ground.rules": READ,
    "ground.set": _at_desk("ground rules"),
    "ground.load": _at_desk("load"),
    "ground.practice": _at_desk("load"),
    "paper.packs": READ,
    "paper.make": _act("visit"),
    "paper.pack": READ,
    "paper.sheet": READ,
    "paper.enter": _act("measure", "visit"),
    "paper.rack": READ,
    "paper.rack_act": _act("visit", "pass", "move"),
    "ringtest.page": READ,
    "ringtest.act": _act("measure"),
    "weighing.page": READ,
    "weighing.act": _act("measure"),
    "weighing.file": READ,
    "weighing.bring": _act("measure"),
    "gauges.register": READ,
    "gauges.file": FILE,
    "gauges.set": _at_desk("gauges"),
    "gauges.check": _act("check gauge"),
    "gauges.studies": READ,
    "gauges.keep_study": _act("check gauge"),
    "gauges.study": READ,
    "gauges.study_file": FILE,
    "gauges.one": READ,
    "gauges.one_file": FILE,
    "gauges.calibrate": _at_desk("gauges"),
    "gauges.trust": _at_desk("trust readings"),
    "ground.authorisations": READ,
    "ground.authorisations_file": FILE,
    "ground.authorise": _at_desk("authorise"),
    "ground.withdraw": _at_desk("authorise"),
    # whom to call, and permissions for a time
    "people.callout": READ,
    "people.set_callout": _at_desk("call-out"),
    "people.grant_permit": _at_desk("permit"),
    "people.end_permit": _at_desk("permit"),
    "people.review_permit": _at_desk("review permit"),
    "people.keep_contact": _at_desk("contacts"),
    "people.erase_contact": _at_desk("contacts"),
    "ground.route": READ,
    "live.stream": SHOWN,
    # the API
    "bench.book": _at_desk(*BOOKS),
    "parts.one": _at_desk("read"),
    "flow.week_numbers": _at_desk("read"),
    "flow.forecast": _at_desk("read"),
    "flow.published": _at_desk("read"),
    "yields.numbers": _at_desk("read"),
    "starts.plan": _at_desk("read"),
    "trace.list": _at_desk("read"),
    "heatruns.keep_api": _at_desk("run furnace"),
    "heatruns.one_api": _at_desk("read"),
    "weldmaps.tell_api": _at_desk("weld", "radiograph", "correct"),
    "weldmaps.one_api": _at_desk("read"),
    "sets.all_api": _at_desk("read"),
    "sets.one_api": _at_desk("read"),
    "sets.reserve_api": _at_desk("reserve"),
    "sets.give_back_api": _at_desk("give back"),
}
