"""What a suspect touched, over HTTP."""

from __future__ import annotations

from typing import Annotated, Any, Final

from fastapi import APIRouter, Query
from pydantic import BaseModel, Field

from ringwright.core.calendar import iso_text
from ringwright.core.errors import Refused
from ringwright.kit.instants import AsOf, as_of_instant
from ringwright.kit.problems import answer, problems
from ringwright.people.deps import Bearer
from ringwright.trace.question import KINDS, read_question
from ringwright.trace.touched import FATES, Touched, TouchedPart, read_touched

router = APIRouter(prefix="/api", tags=["trace"])
Suspect = Annotated[str | None, Query(max_length=200)]
INSTANT: Final[dict[str, Any]] = {"format": "date-time"}
TRACE: Final[dict[str, Any]] = {
    "suspect": "lot L-88",
    "from": None,
    "to": None,
    "counts": {"here": 1, "sent": 0, "scrapped": 0, "used": 0, "held": 0, "all": 1},
    "parts": [
        {
            "serial": "B-1042",
            "product": "HF22-BLADE",
            "place": "in work",
            "step": 10,
            "whereabouts": "rack 4",
            "hold": None,
            "containments": [],
            "made_from": None,
            "first_touched": "2026-09-28T07:00:00+02:00",
            "last_touched": "2026-09-28T07:00:00+02:00",
            "times": 1,
        }
    ],
}
"""An answer as the API's document shows it."""


class TouchedOut(BaseModel):
    """One touched part and where it is now."""

    serial: str
    product: str
    place: str
    step: int | None
    whereabouts: str | None
    hold: str | None
    containments: list[str]
    made_from: str | None
    first_touched: str
    last_touched: str
    times: int


class TraceOut(BaseModel):
    """Every part that a suspect touched, itself or through what it was made from."""

    suspect: str
    # `from` is a word of the language, hence the other names inside.
    start: str | None = Field(alias="from")
    end: str | None = Field(alias="to")
    counts: dict[str, int]
    """Parts that are here, sent, scrapped, used for others; held are among those here."""
    parts: list[TouchedOut]


@router.get(
    "/trace",
    name="trace.list",
    summary="What a suspect touched",
    response_model=TraceOut,
    responses=answer(TRACE) | problems(401, 404, 422),
)
def trace(  # noqa: PLR0913 - one field of the address each
    caller: Bearer,
    station: Suspect = None,
    run: Suspect = None,
    lot: Annotated[str | None, Query(max_length=200, examples=["L-88"])] = None,
    gauge: Suspect = None,
    person: Suspect = None,
    step: Suspect = None,
    defect: Suspect = None,
    part: Suspect = None,
    start: Annotated[
        str | None, Query(alias="from", max_length=64, json_schema_extra=INSTANT)
    ] = None,
    end: Annotated[
        str | None, Query(alias="to", max_length=64, json_schema_extra=INSTANT)
    ] = None,
    as_of: AsOf = None,
) -> Any:
    """Every part that one station, run, lot, gauge, person, step, defect or part touched."""
    given = dict(
        zip(KINDS, (station, run, lot, gauge, person, step, defect, part), strict=True)
    )
    asked = {
        name: text for name, text in (*given.items(), ("from", start), ("to", end)) if text
    }
    with caller.ledger.read(caller.site, as_of_instant(as_of)) as read:
        question = read_question(asked, read.site.zone)
        if question is None:
            raise Refused(f"say what is suspect: one of {', '.join(KINDS)}")
        return _out(read_touched(read, question))


def _out(touched: Touched) -> dict[str, Any]:
    question, zone = touched.question, touched.zone
    asked = question.address(zone)
    counts = {fate: touched.count(fate) for fate in FATES}
    return {
        "suspect": f"{question.kind} {question.value}",
        "from": asked.get("from"),
        "to": asked.get("to"),
        "counts": {**counts, "held": touched.held, "all": len(touched.parts)},
        "parts": [_part(part, zone) for part in touched.parts],
    }


def _part(part: TouchedPart, zone: str) -> dict[str, Any]:
    one = part.standing
    return {
        "serial": one.serial,
        "product": one.product,
        "place": one.place,
        "step": one.step,
        "whereabouts": one.whereabouts,
        "hold": one.hold,
        "containments": list(one.contained),
        "made_from": part.made_from or None,
        "first_touched": iso_text(part.touches[0].at_us, zone),
        "last_touched": iso_text(part.touches[-1].at_us, zone),
        "times": len(part.touches),
    }
