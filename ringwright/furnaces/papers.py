"""A furnace as it may be recorded; raises Refused."""

from __future__ import annotations

import math
from collections.abc import Sequence

from ringwright.core.errors import Refused
from ringwright.core.fields import first_repeated, problem_of_code
from ringwright.furnaces.card import PROOFS, Furnace, Proof
from ringwright.heat.classes import furnace_class


def checked_furnace(furnace: Furnace) -> Furnace:
    """The furnace, if its codes are sound, each once, and its limits and days above zero."""
    channels = [one.code for one in furnace.channels]
    _check_codes("code", [furnace.code])
    _check_codes("position", furnace.positions)
    _check_codes("thermocouple", channels)
    _check_codes("gauge", furnace.gauges)
    if not furnace.positions:
        raise Refused("name the positions of the load, one for each part")
    if not furnace.channels:
        raise Refused("name the thermocouples of the load (tc1_c, tc2_c …)")
    if furnace.furnace_class is not None:
        furnace_class(furnace.furnace_class)
    for what, proof in furnace.proofs.items():
        _check_proof(what, proof)
    for one in furnace.channels:
        if one.most_uses is not None and one.most_uses < 1:
            raise Refused(f"{one.code}: the most uses must be one or more")
    return furnace


def _check_codes(name: str, codes: Sequence[str]) -> None:
    for code in codes:
        problem = problem_of_code(code)
        if problem is not None:
            raise Refused(f"{name} {problem}")
    twice = first_repeated(codes)
    if twice is not None:
        raise Refused(f"{name} {twice} stands twice; each once")


def _check_proof(what: str, proof: Proof) -> None:
    if what not in PROOFS:
        raise Refused(f"unknown proof {what[:40]!r}; one of: {', '.join(PROOFS)}")
    if proof.days < 1:
        raise Refused(f"{what}: the days must be one or more")
    if proof.limit is not None and not 0 < proof.limit < math.inf:
        raise Refused(f"{what}: the limit must be above zero")
