"""Which shift an instant belongs to, and what may be noted and taken over: pure decisions.

Every instant belongs to exactly one span: a shift of the calendar, or the time between two
shifts. So nothing that happens over a week end falls out of every handover.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import timedelta
from typing import Final

from ringwright.core.errors import Clash, Forbidden, Refused
from ringwright.core.fields import problem_of_text
from ringwright.core.instants import HOUR_US, site_time, wall_us
from ringwright.core.shifts import CalendarLike, shift_at, shifts_near
from ringwright.sites.site import ROLES, Calendar, Shift

LONGEST_NOTE: Final = 600
"""Letters of a note: what is read in half a minute at a change of shift."""
MOST_NOTES: Final = 60
"""Notes of one shift."""
LATE_US: Final = 24 * HOUR_US
"""How long after its end a shift may still be written about."""
LOOK_US: Final = 21 * 24 * HOUR_US
"""How far a closed time may reach before it is cut at midnight."""
EVERY_DAY: Final = tuple(range(7))
THIRDS: Final = Calendar(
    code="thirds",
    shifts=(
        Shift(days=EVERY_DAY, start="00:00", end="08:00"),
        Shift(days=EVERY_DAY, start="08:00", end="16:00"),
        Shift(days=EVERY_DAY, start="16:00", end="24:00"),
    ),
)
"""What stands for shifts where a site has no calendar: eight hours by its clock."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Span:
    """A shift, or the time between two: half open [us)."""

    start_us: int
    end_us: int
    name: str
    """Empty where nobody works."""
    thirds: bool = False
    """True where the site has no calendar, and eight hours stand for a shift."""

    def over(self, at_us: int) -> bool:
        """True once it has ended."""
        return self.end_us <= at_us


def span_at(calendars: Sequence[CalendarLike], us: int, zone: str) -> Span:
    """The shift worked at an instant, or the time between two shifts that holds it.

    Where shifts overlap, the one that began last is the shift: the crew taking over.
    """
    worked = calendars or (THIRDS,)
    near = shifts_near(worked, us - LOOK_US, us + LOOK_US, zone)
    begun = [shift for shift in near if shift[0] <= us]
    ends = [end for _, end, _ in begun]
    here = shift_at(worked, us, zone)
    since = [end for end in ends if end <= us]
    since += [here[0]] if here else []
    until = [start for start, _, _ in near if start > us]
    until += [end for end in ends if end > us]
    return Span(
        start_us=max(since, default=_midnight_us(us, zone, 0)),
        end_us=min(until, default=_midnight_us(us, zone, 1)),
        name=here[2] if here else "",
        thirds=not calendars,
    )


def _midnight_us(us: int, zone: str, days: int) -> int:
    day = site_time(us, zone).replace(tzinfo=None, hour=0, minute=0, second=0, microsecond=0)
    return wall_us(day + timedelta(days=days), zone)


def checked_note(text: str) -> str:
    """A note as it is kept, its lines parted by one sign; raises Refused."""
    lines = [
        line.strip() for line in text.replace("\r\n", "\n").replace("\r", "\n").split("\n")
    ]
    kept = "\n".join(lines).strip()
    if not kept:
        raise Refused("write what the next shift must know")
    if len(kept) > LONGEST_NOTE:
        raise Refused(f"the note has {len(kept)} letters; at most {LONGEST_NOTE} are read")
    for line in lines:
        problem = problem_of_text(line)
        if problem:
            raise Refused(f"the note {problem}; type it again")
    return kept


def check_for_role(role: str) -> None:
    """Refuse a note for a role that nobody has."""
    if role and role not in ROLES:
        raise Refused(f"{role[:40]!r} is no role; a note is for one of: {', '.join(ROLES)}")


def check_when(span: Span, now_us: int, notes: int) -> None:
    """Refuse a note on a shift to come, on one long over, or one too many."""
    if span.start_us > now_us:
        raise Refused("that shift has not begun; write it on the shift under way")
    if span.end_us + LATE_US <= now_us:
        raise Refused("that shift ended more than a day ago; write it on the shift under way")
    if notes >= MOST_NOTES:
        raise Refused(f"this shift has {MOST_NOTES} notes already; nobody reads more")


@dataclass(frozen=True, slots=True, kw_only=True)
class Note:
    """A note as it stands."""

    number: int
    """Its entry in the record."""
    subject: str
    shift_us: int
    """When the shift it belongs to begins."""
    at_us: int
    actor: str
    text: str
    for_role: str | None = None
    serial: str | None = None
    taken_us: int | None = None
    taken_by: str = ""

    def for_whom(self, actor: str, roles: frozenset[str]) -> bool:
        """True where that person may take it over."""
        return actor != self.actor and (self.for_role is None or self.for_role in roles)


def check_taking(note: Note, actor: str, roles: frozenset[str]) -> None:
    """Refuse to take over one's own note, another role's, or one that somebody took."""
    if note.taken_us is not None:
        raise Clash(
            f"note {note.number} was taken over by {note.taken_by} already; look again",
            code="acted-first",
        )
    if actor == note.actor:
        raise Refused(f"note {note.number} is your own; whoever comes next takes it over")
    if not note.for_whom(actor, roles):
        raise Forbidden(f"note {note.number} is for a {note.for_role}; they take it over")
