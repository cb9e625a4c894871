"""Lots and alloys: register them, release them, see where they went."""

from __future__ import annotations

from functools import partial
from typing import Any, Final

from fastapi import APIRouter, Request
from starlette.responses import RedirectResponse, Response

from ringwright.core.errors import Refused
from ringwright.core.glossary import N_
from ringwright.flow.moment import past_us
from ringwright.kit.forms import NOTHING, Given, Sent, new_key
from ringwright.kit.render import figures_for, file_answer, page, path_for, words_for
from ringwright.kit.scanned import scanned_text
from ringwright.kit.typed import parse_figure
from ringwright.material.card import Alloy, Lot
from ringwright.material.service import SetAlloy, SetLot
from ringwright.people.screen import AtScreen, Screen
from ringwright.people.trying import Tried, attempt, key_of
from ringwright.swarf.lot_sheets import SHOWN, LotLists
from ringwright.swarf.lots import read_lots_sheet
from ringwright.swarf.words import USES

router = APIRouter(include_in_schema=False)


@router.get("/case/lots", name="swarf.lots")
def lots(request: Request, screen: AtScreen) -> Response:
    """Is every part made of what it may be made of?"""
    return _lots(request, screen, None)


@router.get("/case/lots/file.{form}", name="swarf.lots_file")
def lots_file(
    request: Request, screen: AtScreen, form: str, sheet: str | None = None
) -> Response:
    """Lots and alloys as a file."""
    with screen.ledger.read(screen.site, _past(request, screen)) as read:
        found = read_lots_sheet(read, request.query_params.get("find") or "")
    return file_answer(request, _lists(request, screen).lots_book(found), form, sheet)


@router.post("/case/lots", name="swarf.lots_act")
def lots_act(request: Request, screen: AtScreen, sent: Sent) -> Response:
    """Register a lot or say anew what it may be used for; set an alloy."""
    tried = attempt(screen, sent, N_("Not kept"), _act)
    if tried is not None:
        return _lots(request, screen, tried)
    return RedirectResponse(path_for(request, "swarf.lots"), 303)


def _act(screen: Screen, sent: Given) -> object:
    making = _ACTS.get(sent.text("act"))
    if making is None:
        raise Refused("that act is not known here; open the page again")
    return screen.ledger.execute(screen.site, making(sent), screen.actor)


def _set_lot(sent: Given) -> SetLot:
    lot = Lot(
        code=scanned_text(sent.text("lot")),
        alloy=sent.text("alloy"),
        heat=sent.text("heat"),
        certificate=sent.text("certificate"),
        use=sent.text("use"),
        containers=tuple(sent.text("containers").replace(",", " ").split()),
        note=sent.text("note"),
    )
    return SetLot(lot=lot, reason=sent.text("reason"), key=key_of(sent))


def _set_alloy(sent: Given) -> SetAlloy:
    alloy = Alloy(
        code=sent.text("code"),
        name=sent.text("name"),
        density_g_cm3=parse_figure(sent.text("density"), "density"),
        products=tuple(sent.text("products").replace(",", " ").split()),
        withdrawn=bool(sent.text("withdrawn")),
    )
    return SetAlloy(alloy=alloy, key=key_of(sent))


_ACTS: Final[dict[str, Any]] = {"lot": _set_lot, "alloy": _set_alloy}


def _past(request: Request, screen: Screen) -> int | None:
    return past_us(screen.ledger, screen.site, request.query_params.get("as_of"))


def _lists(request: Request, screen: Screen) -> LotLists:
    link = partial(path_for, request)
    return LotLists(words_for(request), figures_for(request), link, screen.zone)


def _lots(request: Request, screen: Screen, tried: Tried | None) -> Response:
    with screen.ledger.read(screen.site, _past(request, screen)) as read:
        found = read_lots_sheet(read, request.query_params.get("find") or "")
    lists, _ = _lists(request, screen), words_for(request)._
    return page(
        request,
        "swarf/lots.html",
        status=tried.status if tried else 200,
        screen=screen,
        sheet=found,
        as_of=request.query_params.get("as_of") or None,
        answer=lists.lots_answer(found),
        lots=lists.lots(found, SHOWN),
        breaches=lists.went("breaches", _("Not permitted for what they became"), found, SHOWN),
        unrecorded=lists.went("unrecorded", _("Permitted use not recorded"), found, SHOWN),
        alloys=lists.alloy_sheet(found),
        bars=lists.uses(found),
        uses=USES,
        tried=tried,
        given=tried.given if tried else NOTHING,
        key=new_key(),
    )
