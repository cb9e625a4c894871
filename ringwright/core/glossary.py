"""The words of the shop and of its figures, each with one meaning.

Pages, the API's document and the README take their explanations from here.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from types import MappingProxyType
from typing import Final


def N_(text: str) -> str:  # noqa: N802 - the mark that catalogue tools look for
    """Mark a text for translation where it is written, to be translated where it is shown."""
    return text


GLOSSARY: Final[Mapping[str, str]] = MappingProxyType(
    {
        # What happens to a part.
        "part": N_("One thing with a serial number, such as a blade or a case."),
        "route card": N_(
            "The ordered list of steps of a product at a revision. "
            "A part keeps the revision it started on."
        ),
        "visit": N_("One pass of one part through one step, from begin to end."),
        "hold": N_("A part that must not move. A hold stops no clock."),
        "nonconformity": N_(
            "A requirement that a part does not meet; it stays open until sentenced."
        ),
        "sentence": N_("The decision on a nonconforming part."),
        "rework": N_("Making a nonconforming part conform (ISO 9000:2015, 3.12.8)."),
        "repair": N_(
            "Making a nonconforming part fit for its use, "
            "though it does not conform (ISO 9000:2015, 3.12.9)."
        ),
        "concession": N_(
            "Permission to use or release a part that does not conform (ISO 9000:2015, 3.12.5)."
        ),
        "scrap": N_(
            "Taking a nonconforming part out of use for good (ISO 9000:2015, 3.12.10)."
        ),
        "release": N_("The end of the last step of the route with a pass or a concession."),
        # Where a part stands on the floor.
        "waiting": N_("At a step, its visit not begun yet: after creation or the step before."),
        "in work": N_("At a step, its visit begun and not ended; a pause does not change it."),
        "late": N_(
            "Over plan at the step, by the clock, or a window of the part is over. "
            "A part may be late and held; the two are never added."
        ),
        "window": N_(
            "A step must begin within some hours of the end of an earlier one, such as while a "
            "surface is still clean. When it is over the part goes back to the earlier step, "
            "or is held for the design authority."
        ),
        "shut": N_(
            "A station, step, lot or recipe at which nothing may begin, with a reason and who "
            "may open it."
        ),
        "set": N_("Blades chosen for one disc, each in a slot of it."),
        "slot": N_("A numbered position in the disc; slot 1 stands at angle 0."),
        "reserved": N_("Kept for a set; no other set may take the part."),
        "proposed": N_("A set kept by name; none of its blades is taken yet."),
        "handed over": N_("A reserved set that lies with build, which may fit it."),
        "fitted": N_("In a slot of the disc, as scanned there; planned there or not."),
        "given back": N_("Kept for the set no longer; free for another."),
        "lapsed": N_(
            "A reading taken before a later visit that changes material, coating or shape; it "
            "cannot enter a set."
        ),
        "mass moment": N_(
            "Mass times the radius of its centre, as a moment scale reads it [g·mm]."
        ),
        "residual unbalance": N_(
            "Size and angle of the sum of all blades' mass moments as vectors, with the disc's "
            "own unbalance if it is given (ISO 21940-11)."
        ),
        "couple unbalance": N_("The same sum over the axial moments [g·mm²]."),
        "opposite difference": N_("Between the moments of two blades half a ring apart."),
        "neighbour difference": N_("Between the moments of blades in adjoining slots."),
        "spread": N_("Largest less smallest within the set."),
        "alternating": N_(
            "Each pair of neighbours has one blade above and one below the set's median "
            "frequency."
        ),
        "bound": N_(
            "No more sets than this can be drawn, whatever is tried; proved when so many "
            "really were, or when a proof has shown that one more is impossible."
        ),
        "effort": N_("How much work a search does, 1 to 5; the usual one is 3."),
        "seed": N_("Which way a search begins: the same question has the same answer."),
        "pool": N_("The blades to choose from: the stock, or a file that somebody brought."),
        "locked": N_("A blade that must stand in that slot."),
        "share": N_(
            "The part of the rotor's permissible residual unbalance that the rotor engineer "
            "allots to the distribution of the blades."
        ),
        "looked for": N_(
            "By the record the part is here and nobody finds it; any later scan of it ends the "
            "search."
        ),
        "goes first": N_("A part raised before the others at its step, with a reason."),
        "whereabouts": N_(
            "Where a part was put last: rack, trolley, container or quarantine cage. What lies "
            "in a container is where the container stands."
        ),
        # What a suspect touched.
        "touched": N_(
            "A part that was at the suspect station or step, in its run, made from its lot, "
            "read with its gauge, or made from a part that was."
        ),
        "containment": N_(
            "Parts that something suspect touched, held where they are until each is cleared; "
            "the sent ones have a notice instead."
        ),
        "notice": N_("Word to whoever has a sent part that it is in a containment."),
        # Figures of the week.
        "week": N_(
            "The site week that contains the noon of the ISO week's Thursday; it begins when "
            "the site says and holds its start, not its end."
        ),
        "output": N_("Distinct serials released in the week."),
        "pace": N_("Target times working time gone, over the working time of the week."),
        "owed": N_("Pace less output, when the pace is ahead of the output."),
        "ahead": N_("Output less pace, when the output is ahead of the pace."),
        "scrapped": N_("Distinct serials scrapped in the week."),
        "in the cell": N_(
            "Parts created and neither released nor scrapped, counted at the step they are in "
            "work at, else at the step they wait for."
        ),
        "over plan": N_(
            "Parts longer at the step than planned: waiting longer than the planned queue, "
            "or in work longer than the planned hours."
        ),
        "touch": N_("From begin to end of a visit, pauses left out; the median of the week."),
        "queue": N_("From the previous end, or creation, to begin; the median of the week."),
        "first-pass yield": N_(
            "First visits that ended in the week with a pass, over all first visits that "
            "ended in the week. A concession is not a first pass. Interval: Wilson, 95 %."
        ),
        "rework ratio": N_("Visits ended in rework or repair, over visits ended in the week."),
        "scrap ratio": N_(
            "Visits ended in scrap, over visits ended at the step (ISO 22400-2: SQ / PQ)."
        ),
        "fall-off ratio": N_(
            "Visits ended in scrap at the step, over first visits ended at the first step of "
            "the route (ISO 22400-2)."
        ),
        "load": N_(
            "The parts in work together at one station, as their visits overlap in time. They "
            "share a fate: intervals of steps worked in loads count loads, not parts."
        ),
        "caused": N_("The step that a scrap or rework is put down to when it is sentenced."),
        "found": N_("The step at which the nonconformity was found."),
        "p-chart": N_(
            "A share by week with limits three standard errors round the weeks before "
            "(NIST/SEMATECH e-Handbook of Statistical Methods, 6.3.3.2)."
        ),
        "rolled throughput yield": N_(
            "The product of the first-pass yields of the steps that had a first visit in the "
            "week; steps without one are named."
        ),
        "final yield": N_(
            "Released over released and scrapped, by the time it happened. "
            "Interval: Wilson, 95 %."
        ),
        "cycle time": N_(
            "Release less creation, in hours, of the parts released in the week. The 90th "
            "percentile lies at position (n - 1) x 0.9 of the sorted values."
        ),
        "plan": N_("The sum of planned hours and queue hours over the steps of the route."),
        "cohort": N_("The parts created in the week and what became of them as of now."),
        "reconciliation": N_(
            "Opening, created and reopened must equal released, scrapped, used and closing. "
            "Opening and closing count parts in the cell; reopened are those whose release or "
            "scrap of before the week was taken back in it; used are those that were parted, "
            "as for a test, or went into another part."
        ),
        "little's law": N_(
            "Over a long while the parts in the cell are the rate of exits times the time in "
            "the cell (J. D. C. Little, Operations Research 9, 1961). A gap between the two "
            "means that the record lacks something."
        ),
        "restated": N_("A release once counted in this week has been revoked since."),
        "published": N_(
            "A product's week put on record as it stood, with the entry it was made from. "
            "Published again it has another edition; the earlier ones stay."
        ),
        "small n": N_("Fewer than 20: too few to speak of a trend."),
        "entry": N_("One line of the record; numbered without gaps, never edited."),
        "head": N_("The digest of the newest entry; it covers every entry before it."),
    }
)


def meaning(term: str, translate: Callable[[str], str] = str) -> str:
    """What a word means here; raises KeyError for a word that has no entry."""
    return translate(GLOSSARY[term])
