"""Parts over HTTP."""

from __future__ import annotations

import json
import unicodedata
from typing import Annotated, Any

from fastapi import APIRouter, Path

from ringwright.core.calendar import iso_text
from ringwright.core.errors import Missing
from ringwright.kit.instants import AsOf, as_of_instant
from ringwright.kit.problems import answer, problems
from ringwright.parts.queries import read_events, read_part
from ringwright.parts.views import EVENT, PART, PartHistory
from ringwright.people.deps import Bearer

router = APIRouter(prefix="/api", tags=["parts"])


@router.get(
    "/parts/{serial:path}",
    name="parts.one",
    summary="One part and its events",
    response_model=PartHistory,
    response_model_exclude_unset=True,
    responses=answer({**PART, "events": [EVENT]}) | problems(401, 404, 422),
)
def part(
    caller: Bearer,
    serial: Annotated[str, Path(examples=["B-1042"])],
    as_of: AsOf = None,
) -> Any:
    """One part by serial or mark, with its events; as of a past moment as known then."""
    if any(unicodedata.category(letter) in ("Cc", "Cs") for letter in serial):
        raise Missing("no serial holds a control character")
    with caller.ledger.read(caller.site, as_of_instant(as_of)) as read:
        found = read_part(read, serial)
        rows = read_events(read, found.serial)
        events = [
            {
                "site_seq": row.site_seq,
                "key": row.key,
                "act": row.kind,
                "serial": row.subject,
                "step": json.loads(row.payload).get("step"),
                "at": iso_text(row.at_us, read.site.zone),
                **({"approver": row.approver} if row.approver else {}),
            }
            for row in rows
        ]
    return {
        "serial": found.serial,
        "product": found.product,
        "place": found.place,
        "step": found.step,
        "hold": found.hold,
        "reservation": found.reservation,
        "events": events,
    }
