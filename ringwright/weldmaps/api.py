"""Rings over HTTP: one as it stands, and one thing recorded of it."""

from __future__ import annotations

from typing import Annotated, Any, Final

from fastapi import APIRouter, Body, Path
from pydantic import BaseModel, ConfigDict, Field

from ringwright.core.calendar import iso_text
from ringwright.core.errors import Missing
from ringwright.kit.problems import answer, problems
from ringwright.people.deps import Bearer, Signed
from ringwright.weldmaps.ring_board import NoRing, RingBoard, read_ring_board
from ringwright.weldmaps.rules import PERMISSION_OF
from ringwright.weldmaps.service import TellRing
from ringwright.welds.state import NEXT

router = APIRouter(prefix="/api", tags=["welds"])

PRINTED: Final[dict[str, Any]] = {"pattern": r"^[^\x00-\x1f\x7f-\x9f]+$"}
Serial = Annotated[str, Path(alias="serial", examples=["C-1042"])]
Text = Annotated[str, Field(min_length=1, max_length=200, json_schema_extra=PRINTED)]
ACTS: Final[dict[str, Any]] = {"enum": list(PERMISSION_OF)}
TELL: Final = {
    "vanes": {
        "summary": "Two vanes stand in the ring; millimetres from the drawing",
        "value": {
            "key": "weld-cell-1-000311",
            "serial": "C-1042",
            "act": "vanes-fitted",
            "said": {
                "vanes": [
                    {"vane": 1, "radial_mm": 0.12, "axial_mm": -0.3},
                    {"vane": 2, "radial_mm": 0.05, "axial_mm": 0.1},
                ]
            },
        },
    }
}
RECORDED: Final[dict[str, Any]] = {
    "serial": "C-1042",
    "entry": 40231,
    "act": "vanes-fitted",
    "open": 2,
    "held": False,
    "welds": {"1-OUT": "not welded", "1-IN": "not welded"},
}
STANDING: Final[dict[str, Any]] = {
    "serial": "C-1042",
    "product": "RING",
    "revision": "1",
    "entry": 40231,
    "left": ["1-OUT"],
    "welds": [
        {
            "weld": "1-OUT",
            "state": "to read",
            "next": NEXT["to read"],
            "repairs": 1,
            "film": "A2",
        }
    ],
    "films": [
        {
            "film": "A2",
            "taken": "2026-10-01T09:30:00+02:00",
            "welds": ["1-OUT"],
            "wire": 13,
            "shows_enough": True,
            "read_by": None,
        }
    ],
}


class ToldIn(BaseModel):
    """One thing that happened to a ring. A repeated key answers as it did first."""

    model_config = ConfigDict(extra="forbid", strict=True)

    key: Text
    serial: Text
    act: Annotated[str, Field(max_length=40, json_schema_extra=ACTS)]
    said: dict[str, Any]
    """The particulars of the act, as the guide lists them."""
    seen: Annotated[int | None, Field(ge=0)] = None
    """The ring's last entry when it was looked at; absent: whatever it is."""


class RecordedOut(BaseModel):
    """The ring after it was recorded."""

    serial: str
    entry: int
    act: str
    open: int
    held: bool
    """True where a weld came to its limit of repairs and the part was put on hold."""
    welds: dict[str, str]
    """Weld to its state."""


class WeldOut(BaseModel):
    """One weld."""

    weld: str
    state: str
    next: str
    repairs: int
    film: str | None


class FilmOut(BaseModel):
    """One film."""

    film: str
    taken: str
    welds: list[str]
    wire: int
    """Number of the finest wire seen (ISO 19232-1), 0 for none."""
    shows_enough: bool
    read_by: str | None


class RingOut(BaseModel):
    """A ring as it stands."""

    serial: str
    product: str
    revision: str
    entry: int
    left: list[str]
    """Welds that keep the part from its next step or its release."""
    welds: list[WeldOut]
    films: list[FilmOut]


@router.post(
    "/case/welds",
    name="weldmaps.tell_api",
    summary="Record one thing of a ring's welds",
    response_model=RecordedOut,
    responses=answer(RECORDED) | problems(401, 403, 404, 409, 422),
)
def tell(caller: Signed, order: Annotated[ToldIn, Body(openapi_examples=TELL)]) -> Any:
    """Vanes fitted, welds made, penetrant, films, readings, repairs, as on the pages."""
    command = TellRing(
        serial=order.serial, act=order.act, said=order.said, key=order.key, seen=order.seen
    )
    return caller.ledger.execute(caller.site, command, caller.actor)


@router.get(
    "/case/welds/{serial:path}",
    name="weldmaps.one_api",
    summary="The welds of one part",
    response_model=RingOut,
    responses=answer(STANDING) | problems(401, 404, 422),
)
def one(caller: Bearer, serial: Serial) -> Any:
    """One ring: each weld with its state and what is next, each film."""
    with caller.ledger.read(caller.site) as read:
        board = read_ring_board(read, serial)
        if isinstance(board, NoRing):
            raise Missing(f"nothing is asked of the welds of {board.part.serial}")
        return standing(board, read.site.zone)


def standing(board: RingBoard, zone: str) -> dict[str, Any]:
    """A ring as the API shows it."""
    ring = board.ring
    return {
        "serial": ring.serial,
        "product": board.plan.product,
        "revision": board.plan.revision,
        "entry": ring.last_seq,
        "left": list(board.left),
        "welds": [
            {
                "weld": code,
                "state": weld.state,
                "next": NEXT[weld.state],
                "repairs": weld.repairs,
                "film": weld.film or None,
            }
            for code, weld in ring.welds.items()
        ],
        "films": [
            {
                "film": film.code,
                "taken": iso_text(film.at_us, zone),
                "welds": list(film.welds),
                "wire": film.wire,
                "shows_enough": film.good,
                "read_by": film.read_by or None,
            }
            for film in ring.films.values()
        ],
    }
