"""What containing would do, part by part, shown before the one button that does it."""

from __future__ import annotations

from collections import Counter
from dataclasses import dataclass, field

from ringwright.core.errors import Refused
from ringwright.core.glossary import N_
from ringwright.flow.moment import to_the_minute
from ringwright.kit.forms import new_key
from ringwright.kit.numbers import NOTHING, Figures
from ringwright.kit.sheets import Cell, Column, Sheet
from ringwright.kit.words import Words
from ringwright.people.screen import Screen
from ringwright.trace.answer import suspect_name
from ringwright.trace.question import Question
from ringwright.trace.service import HOLD, KEEP, NOTE, NOTICE, plan_of, plans_of
from ringwright.trace.sheets import Tell, cut
from ringwright.trace.touched import Touched, read_touched

PLAN_WORDS = {
    HOLD: N_("will be held"),
    KEEP: N_("held already; that hold stays"),
    NOTICE: N_("sent: a notice opens"),
    NOTE: N_("scrapped: noted"),
}


def ngettext(one: str, many: str) -> tuple[str, str]:
    """Mark a singular and a plural for translation where they are written."""
    return one, many


_HOLDS = ngettext(
    "%(count)s is here and will be held where it is.",
    "%(count)s are here and will be held where they are.",
)
_KEEPS = ngettext(
    "%(count)s is held already; that hold stays and the containment is added.",
    "%(count)s are held already; those holds stay and the containment is added.",
)
_NOTICES = ngettext(
    "%(count)s is sent: a notice opens for it, to be sent from the containment.",
    "%(count)s are sent: a notice opens for each, to be sent from the containment.",
)
_NOTES = ngettext(
    "%(count)s is scrapped: that is noted, nothing else is done.",
    "%(count)s are scrapped: that is noted, nothing else is done.",
)


@dataclass(frozen=True, kw_only=True)
class Preview:
    """A containment as it would be now, and what changed since the person looked before."""

    touched: Touched
    reason: str = ""
    added: frozenset[str] = frozenset()
    """Parts that were not there, or stood otherwise, when the person looked before."""
    key: str = field(default_factory=new_key)

    @property
    def plans(self) -> str:
        """The plans as the form carries them: one line a part."""
        return "\n".join(f"{plan} {serial}" for serial, plan in plans_of(self.touched))

    @property
    def counts(self) -> Counter[str]:
        """Parts by what would be done."""
        return Counter(plan for _, plan in plans_of(self.touched))

    def name(self, words: Words, show: Figures) -> str:
        """The suspect as a sentence names it."""
        return suspect_name(self.touched.question, self.touched.zone, words, show)

    def told(self, words: Words, show: Figures) -> dict[str, str]:
        """What will be done, one sentence a plan, and the name of the suspect."""
        found = {"name": self.name(words, show), "button": self._button(words, show)}
        counts, ng = self.counts, words.ngettext

        def say(plan: str, one: str, many: str) -> None:
            if counts[plan]:
                found[plan] = ng(one, many, counts[plan], count=show.count(counts[plan]))

        say(HOLD, *_HOLDS)
        say(KEEP, *_KEEPS)
        say(NOTICE, *_NOTICES)
        say(NOTE, *_NOTES)
        return found

    def _button(self, words: Words, show: Figures) -> str:
        n = len(self.touched.parts)
        return words.ngettext(
            "Contain this %(count)s part",
            "Contain these %(count)s parts",
            n,
            count=show.count(n),
        )

    def sheet(self, words: Words, show: Figures) -> Sheet:
        """Every part and what will be done with it; what is new since the last look first."""
        _ = words._
        tell = Tell(words, show, self.touched.zone, self.touched.now_us)
        parts = sorted(self.touched.parts, key=lambda part: part.serial not in self.added)
        rows = tuple(
            (
                Cell(part.serial, part.serial),
                Cell(_(PLAN_WORDS[plan_of(part.standing)])),
                Cell(tell.place(part.standing)),
                Cell(tell.whereabouts(part.standing)),
                Cell(part.standing.hold or NOTHING),
                Cell(_("new or changed") if part.serial in self.added else NOTHING),
            )
            for part in parts
        )
        columns = (
            Column(name=_("part"), head=True),
            Column(name=_("what will be done")),
            Column(name=_("stands")),
            Column(name=_("lies at")),
            Column(name=_("hold now")),
            Column(name=_("since you looked")),
        )
        return cut(Sheet(code="preview", title=_("Part by part"), columns=columns, rows=rows))


def preview_of(
    screen: Screen, question: Question, *, reason: str = "", seen: str = ""
) -> Preview:
    """The containment as it would be now; `seen` is what an earlier preview carried."""
    with screen.ledger.read(screen.site) as read:
        touched = read_touched(to_the_minute(read), question)
    added: frozenset[str] = frozenset()
    if seen:
        try:
            before = set(sent_plans(seen))
        except Refused:
            before = set()
        added = frozenset(
            serial for serial, plan in plans_of(touched) if (serial, plan) not in before
        )
    return Preview(touched=touched, reason=reason, added=added)


def sent_plans(text: str) -> tuple[tuple[str, str], ...]:
    """(serial, plan) of each line a preview carried; raises Refused for a broken form."""
    found = []
    for line in text.split("\n"):
        plan, _, serial = line.strip("\r").partition(" ")
        if plan not in PLAN_WORDS or not serial:
            raise Refused("the list of parts did not arrive whole; look again, then contain")
        found.append((serial, plan))
    return tuple(found)
