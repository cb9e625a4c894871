"""What was found, in the words of the page: groups, their counts, where each hit leads."""

from __future__ import annotations

from collections.abc import Callable, Collection
from dataclasses import dataclass
from typing import Final

from ringwright.core.glossary import N_
from ringwright.find.service import Found, Group, Hit
from ringwright.flow.loads import load_name
from ringwright.kit.numbers import Figures
from ringwright.kit.words import Words
from ringwright.people.words import ROLE_WORDS

Link = Callable[..., str]

KIND_WORDS: Final[dict[str, str]] = {
    "part": N_("Parts"), "mark": N_("Marks"), "lot": N_("Lots"), "run": N_("Loads"),
    "defect": N_("Defects"), "containment": N_("Containments"), "set": N_("Sets"),
    "furnace-run": N_("Furnace runs"), "recipe": N_("Recipes"),
    "product": N_("Products"),
    "step": N_("Steps"), "station": N_("Stations"), "person": N_("People"),
    "week": N_("Weeks"), "whereabouts": N_("Places and containers"),
}  # fmt: skip
EXAMPLES: Final = (
    (N_("a serial or a mark, or how it begins"), "HB-41"),
    (N_("a lot"), "TI-2207"),
    (N_("a load: its station, or station and day"), "INF-1 2026-11-25"),
    (N_("a defect"), N_("porosity")),
    (N_("a step, by number or name"), "70"),
    (N_("a station, a person, a product"), "INF-1"),
    (N_("a containment"), "C-12"),
    (N_("a set of blades"), "HF22-S044"),
    (N_("a furnace run"), "INF-1-0042"),
    (N_("a week"), "2026-W40"),
)
"""What can be asked for, with an example of how it is written."""


@dataclass(frozen=True, slots=True)
class Line:
    """One hit: its name, where it leads ("" for nowhere), what is told of it."""

    name: str
    link: str
    about: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Section:
    """A group on the page."""

    kind: str
    title: str
    told: str
    lines: tuple[Line, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class FindBoard:
    """The page."""

    text: str
    answer: str
    sections: tuple[Section, ...]
    near: tuple[Line, ...]
    examples: tuple[tuple[str, str], ...]


class Drawing:
    """Draws in one language, with links only to pages that are served."""

    def __init__(
        self, words: Words, show: Figures, link: Link, served: Collection[str]
    ) -> None:
        self.words, self.show, self.link, self.served = words, show, link, served

    def board(self, found: Found) -> FindBoard:
        """The whole page."""
        return FindBoard(
            text=found.text,
            answer=self._answer(found),
            sections=tuple(self._section(group, found.zone) for group in found.groups),
            near=tuple(self._line(hit, found.zone) for hit in found.near),
            examples=tuple((self.words._(what), self.words._(how)) for what, how in EXAMPLES),
        )

    def _answer(self, found: Found) -> str:
        if not found.text:
            return self.words._("Scan or type what you look for")
        if not found.groups:
            return self.words._("Nothing begins with %(text)s", text=found.text)
        more = any(group.more for group in found.groups)
        n = self.show.count(found.count)
        if more:
            return self.words._(
                "More than %(n)s things begin with %(text)s", n=n, text=found.text
            )
        return self.words.ngettext(
            "%(n)s thing begins with %(text)s", "%(n)s things begin with %(text)s",
            found.count, text=found.text,
        )  # fmt: skip

    def _section(self, group: Group, zone: str) -> Section:
        return Section(
            kind=group.kind,
            title=self.words._(KIND_WORDS[group.kind]),
            told=self._lately(group) if group.lately else self._told(group),
            lines=tuple(self._line(hit, zone) for hit in group.hits),
        )

    def _lately(self, group: Group) -> str:
        told = self._told(group)
        return self.words._("%(count)s in the last seven days", count=told)

    def _told(self, group: Group) -> str:
        """How many there are, and how many of them stand here."""
        shown, count = self.show.count(len(group.hits)), self.show.count(group.count)
        if group.more:
            return self.words._("the first %(shown)s of more than %(n)s", shown=shown, n=count)
        if group.count > len(group.hits):
            return self.words._("the first %(shown)s of %(n)s", shown=shown, n=count)
        return count

    def _line(self, hit: Hit, zone: str) -> Line:
        name = hit.name
        about = [self.words._(ROLE_WORDS.get(text, text)) for text in hit.about if text]
        if hit.begin_us is not None:
            name = load_name(hit.name, hit.begin_us, zone, self.show)
            about = [self.words._("step %(step)s", step=text) for text in hit.about]
        if hit.word:
            step = self.show.decimal(None) if hit.step is None else str(hit.step)
            about.append(self.words._(hit.word, step=step))
        return Line(name=name, link=self._link(hit), about=", ".join(about))

    def _link(self, hit: Hit) -> str:
        for place in hit.places:
            if place.route in self.served:
                anchor = f"#{place.anchor}" if place.anchor else ""
                return self.link(place.route, **dict(place.values)) + anchor
        return ""
