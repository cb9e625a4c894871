"""The Bench as drawn: rulers, which acts can be pressed, and the words beside them."""

from __future__ import annotations

import json
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any, Final

from ringwright.bench.desk import View
from ringwright.bench.forms import WITH
from ringwright.bench.gauging import GaugeChoice
from ringwright.bench.queries import BenchSheet, ShiftCount
from ringwright.bench.rulers import SUSPECT, RulerView, draw
from ringwright.core.conformity import GUARD, OUTSIDE
from ringwright.core.glossary import N_
from ringwright.core.instants import site_time
from ringwright.gauges.words import GaugeWords
from ringwright.kit.numbers import Figures
from ringwright.kit.words import Words
from ringwright.parts.outline import outline_of
from ringwright.parts.rows import FOREVER_US
from ringwright.routecards.card import Step
from ringwright.routecards.caution import step_caution

OUTCOMES: Final[dict[str, str]] = {
    "pass": N_("passed"),
    "rework": N_("to rework"),
    "repair": N_("to repair"),
    "concession": N_("concession"),
    "scrap": N_("scrapped"),
}
KINDS: Final[dict[str, str]] = {
    "create": N_("created"),
    "begin": N_("begun"),
    "pause": N_("paused"),
    "resume": N_("resumed"),
    "end": N_("ended"),
    "hold": N_("held"),
    "unhold": N_("hold lifted"),
    "measure": N_("read"),
    "send": N_("sent"),
    "stop": N_("stopped"),
    "sentence": N_("sentenced"),
    "correct": N_("corrected"),
    "witness": N_("witnessed unusable"),
    "prioritise": N_("priority"),
    "seek": N_("search begun"),
    "find": N_("found"),
    "contain": N_("contained"),
    "clear": N_("cleared"),
    "notice-sent": N_("notice sent"),
    "move": N_("moved"),
    "remark": N_("marked anew"),
    "join": N_("joined"),
    "split": N_("parted"),
    "doubt": N_("reading doubted"),
    "trust": N_("reading stands"),
    "attach": N_("attached"),
    "note": N_("note"),
}
DRAWN_MARKS: Final = 24
MOST_TILES: Final = 8


@dataclass(frozen=True, kw_only=True)
class ReworkChoice:
    """A rework that can be chosen at this step: its value in the form and its words."""

    value: str
    label: str
    under: str


@dataclass(frozen=True, kw_only=True)
class GaugeField:
    """The choice of a gauge of one kind: (code, its words) and what speaks against it."""

    kind: str
    name: str
    options: tuple[tuple[str, str], ...]
    chosen: str
    why: str


@dataclass(frozen=True, kw_only=True)
class Board:
    """The whole screen."""

    rulers: tuple[RulerView, ...]
    read_count: int
    outside: int
    doubtful: int
    """How many lie in the guard band or are suspect."""
    reworks: tuple[ReworkChoice, ...]
    offers: frozenset[str]
    caution: str | None
    tiles: tuple[str, ...]
    zones: tuple[tuple[str, str], ...]
    """Places on the part as (value, word), to press instead of typing."""
    minute_of_day: int
    marks: tuple[str, ...]
    """A shape for each end and stop of the shift, as many of a kind as can be drawn."""
    step_words: str
    next_words: str
    seconds_left: int
    gauges: tuple[GaugeField, ...]
    rings: bool
    """True when the step asks for a natural mode: a recording of taps answers it."""
    any_gauge: bool
    """True when a characteristic is read with what is on no register: a code may be typed."""

    @property
    def all_read(self) -> bool:
        """True when every characteristic has a reading, booked or typed, that can be read."""
        return self.read_count == len(self.rulers)


def make_board(view: View, words: Words, figures: Figures) -> Board:
    """The screen of a view, in the reader's language."""
    sheet = view.sheet
    rulers = tuple(draw(r, view, words, figures) for r in sheet.rulers) if sheet else ()
    here = site_time(view.now_us, view.screen.zone)
    count = view.tally.count if view.tally else None
    return Board(
        rulers=rulers,
        read_count=sum(bool(ruler.text) and not ruler.why for ruler in rulers),
        outside=sum(ruler.verdict == OUTSIDE for ruler in rulers),
        doubtful=sum(ruler.verdict in (GUARD, SUSPECT) for ruler in rulers),
        gauges=tuple(_gauge_field(one, words, figures) for one in view.gauges),
        rings=sheet is not None and any(one.of.search for one in sheet.rulers),
        any_gauge=_any_gauge(view),
        reworks=_reworks(sheet, words) if sheet else (),
        offers=_offers(sheet) if sheet else frozenset(),
        caution=step_caution(sheet.step) if sheet and sheet.step else None,
        tiles=_tiles(view),
        zones=zones_of(sheet, words) if sheet else (),
        minute_of_day=here.hour * 60 + here.minute,
        marks=_marks(count) if count else (),
        step_words=_step_words(sheet.step) if sheet else "",
        next_words=_step_words(sheet.next_step) if sheet else "",
        seconds_left=-(-view.after.left_ms // 1000) if view.after else 0,
    )


def _gauge_field(choice: GaugeChoice, words: Words, figures: Figures) -> GaugeField:
    told = GaugeWords(words, figures)
    line = choice.line
    return GaugeField(
        kind=choice.kind,
        name=f"{WITH}{choice.kind}",
        options=tuple((one.gauge.code, told.option(one)) for one in choice.lines),
        chosen=choice.chosen,
        why=told.why(line) if line is not None and not line.now.decides else "",
    )


def _any_gauge(view: View) -> bool:
    kinds = {one.kind for one in view.gauges}
    return view.sheet is not None and any(
        one.of.gauge_kind not in kinds for one in view.sheet.rulers
    )


def _marks(count: ShiftCount) -> tuple[str, ...]:
    kinds = (("passed", count.passed), ("rework", count.reworked), ("stopped", count.stopped))
    return tuple(shape for shape, n in kinds for _ in range(min(n, DRAWN_MARKS)))


def _step_words(step: Step | None) -> str:
    return f"{step.number} {step.name}" if step else ""


def _offers(sheet: BenchSheet) -> frozenset[str]:
    """The acts that make sense on the part as it stands; the rules still judge each."""
    part = sheet.part
    found = {"move"} if part.place != "sent" else set()
    if part.place in ("sent", "scrapped"):
        return frozenset(found)
    found |= {"unhold" if part.hold else "hold", "remark"}
    if part.nonconformities:
        return frozenset(found - {"unhold"})
    if part.place != "fitted":
        found.add("stop")
    if part.hold is None:
        found |= _FREE.get(part.place, frozenset())
    if part.place == "in work":
        found |= {"resume", "hand-over"} if part.paused else _in_hand(sheet)
    return frozenset(found)


_FREE: Final = {
    "waiting": frozenset({"begin", "join", "split"}),
    "in work": frozenset({"join"}),
    "released": frozenset({"send", "join", "split"}),
}
"""What else can be done with a part that nothing holds, by its place."""


def _in_hand(sheet: BenchSheet) -> set[str]:
    return {"pass", "rework", "pause", "hand-over"} | ({"keep"} if sheet.rulers else set())


def _reworks(sheet: BenchSheet, words: Words) -> tuple[ReworkChoice, ...]:
    """The cards raised at this step; where the route lists none at all, the plain rework."""
    step = sheet.part.step
    if not sheet.card.rework_cards:
        again = words._("waits for %(step)s again", step=step)
        return (ReworkChoice(value="rework", label=words._("Rework"), under=again),)
    return tuple(
        ReworkChoice(
            value=f"rework:{card.code}",
            label=card.name or card.code,
            under=words._(
                "%(code)s: repeats %(steps)s, then %(step)s",
                code=card.code,
                steps=", ".join(map(str, card.repeat)),
                step=step,
            ),
        )
        for card in sheet.card.rework_cards
        if card.raised_at == step
    )


def _tiles(view: View) -> tuple[str, ...]:
    """Defects to press instead of typing: what waits for a sentence, then what was common."""
    if view.sheet is None:
        return ()
    same = [n.defect for n in view.waiting if n.product == view.sheet.part.product]
    return tuple(dict.fromkeys([*reversed(same), *view.defects]))[:MOST_TILES]


def zones_of(sheet: BenchSheet, words: Words) -> tuple[tuple[str, str], ...]:
    """The places on the part's outline, by which Yield draws where defects lie."""
    zones = outline_of(sheet.card.family).zones
    return tuple((zone.name, words._(zone.name)) for zone in zones)


@dataclass(frozen=True, kw_only=True)
class EntryLine:
    """One entry of a part as a row, with the fields of it that can be corrected."""

    entry: int
    kind: str
    word: str
    at_us: int
    by: str
    second: str
    """The second person who signed it, if any."""
    station: str
    step: int | None
    told: str
    corrects: int | None
    void: bool
    fields: tuple[tuple[str, str, str], ...]
    """(field, its word, its text)."""


FIELD_WORDS: Final[dict[str, str]] = {
    "at_us": N_("When"),
    "step": N_("Step"),
    "outcome": N_("Outcome"),
    "defect": N_("Defect"),
    "value": N_("Reading"),
    "gauge": N_("Gauge"),
    "by": N_("Who acted"),
    "station": N_("Station"),
    "reason": N_("Reason or note"),
}
FIELDS_OF: Final[dict[str, tuple[str, ...]]] = {
    "end": ("outcome", "defect"),
    "measure": ("value", "gauge"),
    "hold": ("reason",),
    "stop": ("defect", "reason"),
}


def entry_lines(events: Sequence[Any], words: Words, at_text: Any) -> list[EntryLine]:
    """Every entry of a part, the newest first, in words."""
    void = {row.corrects for row in events if row.kind == "correct" and _data(row).get("void")}
    return [_entry_line(row, row.site_seq in void, words, at_text) for row in reversed(events)]


def _data(row: Any) -> dict[str, Any]:
    found: dict[str, Any] = json.loads(row.payload)
    return found


def _entry_line(row: Any, void: bool, words: Words, at_text: Any) -> EntryLine:
    data = _data(row)
    names = ("at_us", *FIELDS_OF.get(row.kind, ()))
    texts = {**data, "at_us": at_text(row.at_us)}
    return EntryLine(
        entry=row.site_seq,
        kind=row.kind,
        word=words._(KINDS.get(row.kind, row.kind)),
        at_us=row.at_us,
        by=row.actor,
        second=row.approver or "",
        station=row.station,
        step=data.get("step"),
        told=_told(row.kind, data, words),
        corrects=row.corrects,
        void=void,
        fields=tuple((n, words._(FIELD_WORDS[n]), str(texts.get(n) or "")) for n in names),
    )


SAID: Final = (
    "defect", "card", "document", "place_on_part", "containment", "to", "where", "how",
    "reason",
)  # fmt: skip
"""What the line of an entry says, in this order, where it was given."""


def _told(kind: str, data: dict[str, Any], words: Words) -> str:
    """What an entry says beyond its kind."""
    if kind == "measure":
        return f"{data['characteristic']} {data['value']:g} {data['unit']}"
    if kind == "correct":
        changed = ", ".join(sorted(data.get("fields") or {})) or words._("void")
        return f"{changed}: {data.get('reason') or ''}"
    outcome = data.get("outcome") or data.get("decision")
    said = [words._(OUTCOMES.get(outcome, outcome))] if outcome else []
    if data.get("renews"):
        said.append(words._("again: the window of step %(step)s ran out", step=data["renews"]))
    said += [str(data[name]) for name in SAID if data.get(name)]
    return ", ".join(said)


def ended_us(row: Any) -> int | None:
    """When a visit ended, or None while it is open."""
    return row.end_us if row.end_us < FOREVER_US else None
