"""The mass account over HTTP: the numbers of the Mass account page."""

from __future__ import annotations

from typing import Annotated, Any, Final

from fastapi import APIRouter, Query
from pydantic import BaseModel

from ringwright.kit.instants import AsOf, as_of_instant
from ringwright.kit.problems import answer, problems
from ringwright.massing.account import Closing
from ringwright.people.deps import Bearer
from ringwright.swarf.model import MassSheet
from ringwright.swarf.service import read_mass

router = APIRouter(prefix="/api", tags=["case shop"])

ACCOUNT: Final[dict[str, Any]] = {
    "mass_in_kg": 24.0,
    "part_kg": 4.0,
    "scrapped_kg": 0.0,
    "swarf_kg": {"turnings": 18.9, "offcuts": 0.7, "coupons": 0.3},
    "found_kg": 23.9,
    "unaccounted_kg": 0.1,
    "uncertainty_kg": 0.122,
    "closes": True,
    "buy_to_fly": 6.0,
    "utilisation": 0.1667,
    "recovered": 0.995,
}
MASS: Final[dict[str, Any]] = {
    "week": "2026-W40",
    "product": None,
    "account": ACCOUNT,
    "cases": [{"serial": "C22-0073", "product": "HF22-CASE", "alloy": "TI64"} | ACCOUNT],
}


class AccountOut(BaseModel):
    """Mass in against mass found, as dry metal."""

    mass_in_kg: float
    part_kg: float
    scrapped_kg: float
    swarf_kg: dict[str, float]
    found_kg: float
    unaccounted_kg: float
    uncertainty_kg: float
    """Combined standard uncertainty; the account closes within twice as much."""
    closes: bool
    buy_to_fly: float | None
    utilisation: float | None
    recovered: float | None


class CaseOut(AccountOut):
    """One case closed in the week."""

    serial: str
    product: str
    alloy: str


class MassOut(BaseModel):
    """The mass account of a week."""

    week: str
    product: str | None
    account: AccountOut | None
    cases: list[CaseOut]


@router.get(
    "/case/mass",
    name="swarf.mass_api",
    summary="The mass account of a week",
    response_model=MassOut,
    responses=answer(MASS) | problems(401, 404, 422),
)
def mass(
    caller: Bearer,
    week: Annotated[
        str | None, Query(pattern=r"^[0-9]{4}-W[0-9]{2}$", examples=["2026-W40"])
    ] = None,
    product: Annotated[str | None, Query(max_length=200)] = None,
    as_of: AsOf = None,
) -> Any:
    """What the cases weighed finished or scrapped in a week were bought and became."""
    with caller.ledger.read(caller.site, as_of_instant(as_of)) as read:
        return mass_json(read_mass(read, week or None, product or None))


def mass_json(sheet: MassSheet) -> dict[str, Any]:
    """The sheet as JSON values."""
    return {
        "week": sheet.week,
        "product": sheet.product or None,
        "account": None if sheet.closing is None else _account(sheet.closing),
        "cases": [
            {"serial": one.serial, "product": one.product, "alloy": one.alloy}
            | _account(one.closing)
            for one in sheet.cases
            if one.closing is not None
        ],
    }


def _account(found: Closing) -> dict[str, Any]:
    return {
        "mass_in_kg": found.bought.kg,
        "part_kg": found.part.kg,
        "scrapped_kg": found.scrapped.kg,
        "swarf_kg": {kind: mass.kg for kind, mass in found.by_kind.items()},
        "found_kg": found.found.kg,
        "unaccounted_kg": found.unaccounted.kg,
        "uncertainty_kg": found.unaccounted.u_kg,
        "closes": found.closes,
        "buy_to_fly": found.buy_to_fly,
        "utilisation": found.utilisation,
        "recovered": found.recovered,
    }
