"""What the answer asks of a person: what is loose here, whom to tell, what is gone. Pure."""

from __future__ import annotations

from dataclasses import dataclass

from ringwright.kit.numbers import Figures
from ringwright.kit.words import Words
from ringwright.trace.touched import HERE, SCRAPPED, SENT, Touched


@dataclass(frozen=True, kw_only=True)
class Ask:
    """One thing the answer asks, with its balloon in the picture."""

    rank: int
    kind: str
    title: str
    why: str = ""
    stamp: str = ""
    open: bool = False
    """True while somebody still has to act."""


def asks_of(touched: Touched, words: Words, show: Figures) -> tuple[Ask, ...]:
    """What is still loose, the parts here first."""
    found: list[Ask] = []
    for make in (_here, _sent, _scrapped):
        ask = make(touched, len(found) + 1, words, show)
        if ask is not None:
            found.append(ask)
    return tuple(found)


def _here(touched: Touched, rank: int, words: Words, show: Figures) -> Ask | None:
    here, held = touched.count(HERE), touched.held
    if not here:
        return None
    _, count = words._, show.count(here)
    if held < here:
        free = show.count(here - held)
        return Ask(
            rank=rank,
            kind=HERE,
            open=True,
            title=_("%(count)s still here, %(free)s not held", count=count, free=free)
            if held
            else _("%(count)s still here, none held", count=count),
            why=_("Containing holds them where they are, in one act."),
        )
    codes = ", ".join(touched.containments)
    title = words.ngettext(
        "%(count)s still here, held", "%(count)s still here, all held", here, count=count
    )
    return Ask(
        rank=rank,
        kind=HERE,
        stamp=_("Held %(count)s", count=count),
        title=title,
        why=_("In containment %(codes)s.", codes=codes)
        if codes
        else _("Held for other reasons; none is in a containment."),
    )


def _sent(touched: Touched, rank: int, words: Words, show: Figures) -> Ask | None:
    sent, untold = touched.count(SENT), touched.untold
    if not sent:
        return None
    _, count = words._, show.count(sent)
    if not untold:
        title = _("%(count)s sent, and those who have them were told", count=count)
        return Ask(rank=rank, kind=SENT, title=title, stamp=_("Notice sent"))
    opened = any(part.standing.open_notices for part in untold)
    serials = _few([part.serial for part in untold], show)
    return Ask(
        rank=rank,
        kind=SENT,
        open=True,
        title=_("%(count)s sent: %(serials)s", count=count, serials=serials),
        why=_("A notice is open and not yet sent.")
        if opened
        else _("Containing opens a notice for each."),
        stamp=_("Notice open") if opened else "",
    )


def _scrapped(touched: Touched, rank: int, words: Words, show: Figures) -> Ask | None:
    scrapped = touched.count(SCRAPPED)
    if not scrapped:
        return None
    title = words._("%(count)s scrapped, nothing to do", count=show.count(scrapped))
    return Ask(rank=rank, kind=SCRAPPED, title=title)


def _few(serials: list[str], show: Figures, most: int = 3) -> str:
    more = show.count(len(serials) - most)
    shown = ", ".join(serials[:most])
    return f"{shown} + {more}" if len(serials) > most else shown
