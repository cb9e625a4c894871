"""Repeats of one part's readings: typed, looked at, kept."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

from fastapi import APIRouter, Request
from starlette.responses import RedirectResponse, Response

from ringwright.bench.acts import EnterReadings
from ringwright.bench.desk import View, look
from ringwright.bench.forms import WITH
from ringwright.bench.gauging import chosen_uncertainty
from ringwright.bench.queries import Ruler
from ringwright.bench.reading import Taken
from ringwright.core.errors import Refused, RingwrightError
from ringwright.gauges.words import GaugeWords
from ringwright.kit.forms import Given, Sent, new_key
from ringwright.kit.render import figures_for, page, path_for, words_for
from ringwright.kit.typed import parse_figure
from ringwright.people.screen import AtScreen, Screen
from ringwright.people.trying import key_of
from ringwright.weighing.repeats import Repeats, summarise

router = APIRouter(include_in_schema=False)

MOST = 40


@dataclass(frozen=True, slots=True, kw_only=True)
class Block:
    """One characteristic on the page: what was typed and what it says."""

    ruler: Ruler
    text: str
    values: tuple[float, ...]
    left_out: tuple[int, ...]
    repeats: Repeats | None
    verdict: str
    why: str = ""

    @property
    def places(self) -> int:
        """Decimals of a mean: one more than those of a reading."""
        return self.ruler.decimals + 1


@router.get("/weighing", name="weighing.page")
def weighing(request: Request, screen: AtScreen) -> Response:
    """A part on the scale, nothing typed yet."""
    serial = request.query_params.get("scan", "").strip()
    given = Given(fields={}, files={})
    return _shown(request, screen, (serial, given), None)


@router.post("/weighing/{serial:path}", name="weighing.act")
def act(request: Request, screen: AtScreen, serial: str, sent: Sent) -> Response:
    """Look at what was typed, or keep it."""
    if sent.text("act") != "keep":
        return _shown(request, screen, (serial, sent), None)
    try:
        screen.ledger.execute(screen.site, _command(screen, serial, sent), screen.actor)
    except RingwrightError as trouble:
        return _shown(request, screen, (serial, sent), trouble)
    return RedirectResponse(path_for(request, "bench.page", scan=serial), 303)


def _command(screen: Screen, serial: str, sent: Given) -> EnterReadings:
    taken = {}
    for code, text in sent.under("repeats.").items():
        values = _values(code, text)
        if not values:
            continue
        left_out = _left_out(sent, code, len(values))
        taken[code] = Taken(
            repeats=values,
            left_out=left_out,
            reason=(sent.text("reason") or None) if left_out else None,
        )
    if not taken:
        raise Refused("no reading was given; type at least one")
    return EnterReadings(
        serial=serial,
        taken=taken,
        gauges={kind: code for kind, code in sent.under(WITH).items() if code},
        station=screen.station_code,
        seen=sent.whole("seen"),
        key=key_of(sent),
    )


def _values(code: str, text: str) -> tuple[float, ...]:
    """The figures of a field, parted by blanks or lines; raises Refused naming the one."""
    found = text.split()
    if len(found) > MOST:
        raise Refused(f"{code}: {len(found)} repeats are too many; {MOST} at most")
    return tuple(parse_figure(one, code) for one in found)


def _left_out(sent: Given, code: str, n: int) -> tuple[int, ...]:
    return tuple(place for place in range(n) if sent.text(f"out.{code}.{place}"))


def _blocks(view: View, given: Given) -> tuple[Block, ...]:
    if view.sheet is None:
        return ()
    return tuple(_block(ruler, view, given) for ruler in view.sheet.rulers)


def _block(ruler: Ruler, view: View, given: Given) -> Block:
    text = given.text(f"repeats.{ruler.code}")
    values: tuple[float, ...] = ()
    why = ""
    try:
        values = _values(ruler.code, text)
    except Refused as refusal:
        why = refusal.message
    left_out = _left_out(given, ruler.code, len(values))
    repeats = summarise(values, left_out, chosen_uncertainty(view.gauges, ruler))
    verdict = ruler.of.verdict(repeats.mean, repeats.uncertainty) if repeats else ""
    return Block(
        ruler=ruler,
        text=text,
        values=values,
        left_out=left_out,
        repeats=repeats,
        verdict=verdict,
        why=why,
    )


def _shown(
    request: Request,
    screen: Screen,
    asked: tuple[str, Given],
    trouble: RingwrightError | None,
) -> Response:
    serial, given = asked
    fields = {"scan": serial, **{f"{WITH}{k}": v for k, v in given.under(WITH).items()}}
    view = look(screen, fields)
    words, show = words_for(request), figures_for(request)
    told = GaugeWords(words, show)
    blocks = _blocks(view, given)
    shown: dict[str, Any] = {
        "status": trouble.status if trouble else 200,
        "screen": screen,
        "view": view,
        "sheet": view.sheet,
        "blocks": blocks,
        "looked": bool(given.fields),
        "ready": any(one.values for one in blocks) and not any(one.why for one in blocks),
        "given": given,
        "trouble": trouble,
        "told": told,
        "with_": WITH,
        "key": given.text("key") or new_key(),
        "zone": screen.zone,
    }
    return page(request, "weighing/repeats.html", **shown)
