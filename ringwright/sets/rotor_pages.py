"""What is known and allowed of a product's rotor, entered by the rotor engineer."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Any, Final

from fastapi import APIRouter, Request
from starlette.responses import RedirectResponse, Response

from ringwright.balance.grade import permissible_eccentricity_um
from ringwright.core.errors import Missing, Refused, RingwrightError
from ringwright.core.glossary import N_
from ringwright.flow.moment import to_the_minute
from ringwright.kit.cutoff import cut_off
from ringwright.kit.forms import Given, Sent, new_key
from ringwright.kit.render import figures_for, page, path_for, words_for
from ringwright.ledger.drawn import snapshot_of
from ringwright.people.screen import AtScreen, Screen
from ringwright.routecards.queries import read_revisions
from ringwright.sets.building import SetRotor
from ringwright.sets.queries import read_rotor
from ringwright.sets.rotor import Rotor

router = APIRouter(include_in_schema=False)


@dataclass(frozen=True, slots=True)
class Entry:
    """One field of the form."""

    name: str
    label: str
    hint: str = ""


ENTRIES: Final = (
    Entry("mass_kg", N_("Mass of the assembled rotor, kg")),
    Entry("speed_rpm", N_("Largest service speed, 1/min")),
    Entry("grade_mm_s", N_("Balance quality grade G, mm/s"), N_("ISO 21940-11, such as 2.5")),
    Entry("share_g_mm", N_("Share for the blades' distribution, g·mm")),
    Entry("moment_u_g_mm", N_("Standard uncertainty of one moment, g·mm"), N_("of the scale")),
    Entry("slot_angle_u_deg", N_("Standard uncertainty of a slot's angle, °")),
    Entry("seating_u_g_mm", N_("Standard uncertainty from seating, g·mm a blade")),
    Entry("frequency_spread_hz", N_("Usual frequency spread of a set, Hz")),
    Entry("moment_spread_g_mm", N_("Usual moment spread, g·mm")),
    Entry("neighbour_g_mm", N_("Usual difference of neighbours, g·mm")),
    Entry("opposite_g_mm", N_("Usual difference of opposites, g·mm")),
    Entry("positions", N_("Places for balance weights, equally spaced")),
    Entry("position_radius_mm", N_("Their radius, mm")),
    Entry("masses_g", N_("Masses of the weights there are, g"), N_("parted by commas")),
)


@router.get("/sets/rotor/{product:path}", name="sets.rotor")
def rotor(request: Request, screen: AtScreen, product: str) -> Response:
    """What does this product's rotor allow?"""
    return _drawn(request, screen, product)


@router.post("/sets/rotor/{product:path}", name="sets.rotor_act")
def enter(request: Request, screen: AtScreen, product: str, sent: Sent) -> Response:
    """Record the rotor's values from now on."""
    try:
        command = SetRotor(
            key=sent.text("key") or None,
            product=product,
            rotor=rotor_sent(sent),
            reason=sent.text("reason"),
        )
        screen.ledger.execute(screen.site, command, screen.actor)
    except RingwrightError as trouble:
        return _drawn(request, screen, product, (sent, trouble))
    return RedirectResponse(path_for(request, "sets.rotor", product=product), 303)


def rotor_sent(sent: Given) -> dict[str, Any]:
    """The form as a rotor's fields; raises Refused, naming one that is no number."""
    found: dict[str, Any] = {
        "clockwise": sent.text("clockwise") != "no",
        "view": sent.text("view") or "front",
    }
    for entry in ENTRIES:
        text = sent.text(entry.name)
        if text and entry.name == "masses_g":
            found["masses_g"] = [_number(entry, piece) for piece in text.split(",")]
        elif text and entry.name == "positions":
            found["positions"] = sent.whole("positions")
        elif text:
            found[entry.name] = _number(entry, text)
    return found


def _number(entry: Entry, text: str) -> float:
    try:
        number = float(text)
    except ValueError:
        number = math.nan
    if not math.isfinite(number):
        raise Refused(f"{entry.name} {text.strip()[:40]!r} is no number")
    return number


def _drawn(
    request: Request,
    screen: Screen,
    product: str,
    tried: tuple[Given, RingwrightError] | None = None,
) -> Response:
    with screen.ledger.read(screen.site) as read:
        if not read_revisions(read.connection, read.site.id, product):
            raise Missing(f"there is no product {product} at this site")
        found, snapshot = read_rotor(read, product), snapshot_of(to_the_minute(read))
    words, show = words_for(request), figures_for(request)
    known = {entry.name: _shown(found, entry.name) for entry in ENTRIES}
    known |= {"view": found.view, "clockwise": "yes" if found.clockwise else "no"}
    if tried is not None:
        known = {name: tried[0].text(name) for name in known}
    return page(
        request,
        "sets/rotor.html",
        status=tried[1].status if tried else 200,
        product=product,
        rotor=found,
        entries=ENTRIES,
        values=known,
        eccentricity_um=_eccentricity_um(found),
        why=tried[1].message if tried else "",
        reason=tried[0].text("reason") if tried else "",
        screen=screen,
        key=new_key(),
        foot=cut_off(snapshot, words, show),
    )


def _shown(rotor: Rotor, name: str) -> str:
    value = getattr(rotor, name)
    if name == "masses_g":
        return ", ".join(f"{mass:g}" for mass in value)
    return "" if value is None else f"{value:.12g}"


def _eccentricity_um(rotor: Rotor) -> float | None:
    """e_per; None while speed or grade is not entered."""
    if rotor.grade_mm_s is None or rotor.speed_rpm is None:
        return None
    return permissible_eccentricity_um(rotor.grade_mm_s, rotor.speed_rpm)
