"""The ring test's page: bring or record taps, look at what was heard, keep it."""

from __future__ import annotations

import base64
import binascii
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any, Final

from fastapi import APIRouter, Request
from starlette.responses import RedirectResponse, Response

from ringwright.attachments.content import judged
from ringwright.bench.desk import View, look
from ringwright.bench.forms import WITH
from ringwright.bench.gauging import chosen_uncertainty
from ringwright.bench.queries import Ruler
from ringwright.bench.reading import Taken
from ringwright.core.errors import Refused, RingwrightError
from ringwright.gauges.words import GaugeWords
from ringwright.kit.forms import Given, Sent, new_key
from ringwright.kit.numbers import places_of
from ringwright.kit.render import figures_for, page, path_for, words_for
from ringwright.kit.typed import parse_figure
from ringwright.people.screen import AtScreen, Screen
from ringwright.people.trying import key_of
from ringwright.ringtest.hearing import Heard, Named, draw, hear
from ringwright.ringtest.service import KeepRing
from ringwright.tapping import warnings

router = APIRouter(include_in_schema=False)

MICROPHONE: Final = "camera=(), geolocation=(), microphone=(self)"
MOST_BYTES: Final = 3_800_000
"""Of a recording, which travels on in the form as text a third longer."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Line:
    """One mode that the step asks for, as it will be kept."""

    named: Named
    uncertainty_hz: float | None
    """The larger of the fit's and of the rig's when a part is clamped anew."""
    of_rig: bool
    verdict: str
    places: int
    """Decimals down to the second digit of the uncertainty."""


@router.get("/ringtest", name="ringtest.page")
def ringtest(request: Request, screen: AtScreen) -> Response:
    """A part on the rig, nothing recorded yet."""
    serial = request.query_params.get("scan", "").strip()
    return _shown(request, screen, (serial, Given(fields={}, files={})), None)


@router.post("/ringtest/{serial:path}", name="ringtest.act")
def act(request: Request, screen: AtScreen, serial: str, sent: Sent) -> Response:
    """Hear what was recorded, or keep it: heard again, so that nothing is typed past it."""
    given = sent
    try:
        given = _with_recording(sent)
        if given.text("act") == "keep":
            command = _command(screen, serial, given)
            screen.ledger.execute(screen.site, command, screen.actor)
            return RedirectResponse(path_for(request, "bench.page", scan=serial), 303)
    except RingwrightError as trouble:
        return _shown(request, screen, (serial, given), trouble)
    return _shown(request, screen, (serial, given), None)


def _with_recording(sent: Given) -> Given:
    """The form with its recording as text, so that the next step still has it."""
    upload = sent.files.get("file")
    if upload is None or not upload.content:
        return Given(fields=sent.fields, files={})
    if len(upload.content) > MOST_BYTES:
        raise Refused(f"{upload.name} is larger than 3.8 MB; a few seconds of taps are enough")
    text = base64.b64encode(upload.content).decode()
    fields = {**sent.fields, "recording": [text], "name": [upload.name]}
    return Given(fields=fields, files={})


def _data(given: Given) -> bytes:
    try:
        return base64.b64decode(given.text("recording"), validate=True)
    except (binascii.Error, ValueError):
        raise Refused("the recording did not arrive whole; choose it again") from None


def _view(screen: Screen, serial: str, given: Given) -> View:
    chosen = {f"{WITH}{kind}": code for kind, code in given.under(WITH).items()}
    return look(screen, {"scan": serial, **chosen})


def _rulers(view: View) -> list[Ruler]:
    rulers = view.sheet.rulers if view.sheet else ()
    return [one for one in rulers if one.of.search is not None]


def _heard(rulers: Sequence[Ruler], given: Given) -> Heard:
    name = given.text("name") or "the recording"
    return hear(_data(given), name, [one.of for one in rulers])


def _command(screen: Screen, serial: str, given: Given) -> KeepRing:
    if not given.text("recording"):
        raise Refused("choose a recording, or record one here")
    view = _view(screen, serial, given)
    rulers = _rulers(view)
    heard = _heard(rulers, given)
    content = judged(_data(given), given.text("name") or "the recording")
    about: dict[str, Any] = {
        "fixture": given.text("fixture") or None,
        "torque_n_m": _figure(given, "torque"),
        "temperature_c": _figure(given, "temperature"),
        "recording": content.digest,
    }
    taken = {
        one.characteristic.code: Taken(
            value=float(f"{mode.frequency_hz:.{places_of(mode.uncertainty_hz) + 1}f}"),
            uncertainty=mode.uncertainty_hz,
            **about,
        )
        for one in heard.named
        if (mode := one.mode) is not None
    }
    return KeepRing(
        serial=serial,
        content=content,
        taken=taken,
        gauges={kind: code for kind, code in given.under(WITH).items() if code},
        station=screen.station_code,
        seen=given.whole("seen"),
        key=key_of(given),
    )


def _figure(given: Given, name: str) -> float | None:
    text = given.text(name)
    return parse_figure(text, name) if text else None


def _lines(view: View, rulers: Sequence[Ruler], heard: Heard) -> list[Line]:
    return [_line(view, ruler, one) for ruler, one in zip(rulers, heard.named, strict=True)]


def _line(view: View, ruler: Ruler, named: Named) -> Line:
    rig = chosen_uncertainty(view.gauges, ruler)
    mode = named.mode
    if mode is None:
        return Line(named=named, uncertainty_hz=None, of_rig=False, verdict="", places=0)
    u = max(mode.uncertainty_hz, rig or 0.0)
    return Line(
        named=named,
        uncertainty_hz=u,
        of_rig=bool(rig and rig > mode.uncertainty_hz),
        verdict=ruler.of.verdict(mode.frequency_hz, u),
        places=places_of(u),
    )


def _shown(
    request: Request,
    screen: Screen,
    asked: tuple[str, Given],
    trouble: RingwrightError | None,
) -> Response:
    serial, given = asked
    view = _view(screen, serial, given)
    rulers = _rulers(view)
    heard: Heard | None = None
    if given.text("recording") and rulers:
        try:
            heard = _heard(rulers, given)
        except RingwrightError as refused:
            trouble = trouble or refused
    lines = _lines(view, rulers, heard) if heard else []
    answer = page(
        request,
        "ringtest/ringtest.html",
        status=trouble.status if trouble else 200,
        screen=screen,
        view=view,
        sheet=view.sheet,
        rulers=rulers,
        heard=heard,
        lines=lines,
        ready=any(line.uncertainty_hz for line in lines),
        pictures=draw(heard) if heard else None,
        warnings=warnings(heard.answer) if heard else [],
        given=given,
        trouble=trouble,
        told=GaugeWords(words_for(request), figures_for(request)),
        with_=WITH,
        key=given.text("key") or new_key(),
        zone=screen.zone,
    )
    # The one page that may ask for the microphone.
    answer.headers["Permissions-Policy"] = MICROPHONE
    return answer
