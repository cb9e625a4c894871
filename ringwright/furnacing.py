"""`ringwright furnace`: a furnace trace against its recipe. Loads neither web nor SQL."""

from __future__ import annotations

import argparse
import json
from pathlib import Path
from typing import Final

from ringwright.core.errors import Missing, Refused
from ringwright.heat.judge import Judged, Judgement, as_json, judge
from ringwright.heat.reading import MOST_BYTES, read_trace
from ringwright.heat.toml import parse_recipe

FEWEST: Final = 2
MOST_RECIPE_BYTES: Final = 1_000_000


def furnace(arguments: argparse.Namespace) -> str:
    """The judgement as text; raises Refused or Missing where nothing can be judged."""
    recipe_path = Path(arguments.recipe)
    recipe_text = _bytes(arguments.recipe, MOST_RECIPE_BYTES)
    try:
        recipe = parse_recipe(recipe_text.decode("utf-8-sig"), recipe_path.name)
    except UnicodeDecodeError:
        raise Refused(f"{recipe_path.name} is no UTF-8 text") from None
    trace = read_trace(_bytes(arguments.file, MOST_BYTES), Path(arguments.file).name)
    if trace.size < FEWEST:
        raise Refused(f"{arguments.file} has one sample; {FEWEST} are the least")
    judgement = judge(trace, recipe)
    if arguments.json:
        return json.dumps(as_json(judgement), allow_nan=False)
    return "\n".join(told(judgement))


def told(judgement: Judgement) -> list[str]:
    """The judgement for a person at a terminal."""
    rows = [
        judgement.verdict.capitalize(),
        f"{'segment':24} {'min':>8} {'out min':>8} {'least':>8} {'most':>8} {'spread':>7}  met",
        *(_row(one) for one in judgement.segments),
    ]
    rows += [f"{one.name}: {one.why}" for one in judgement.segments if one.why]
    if judgement.channels_failed:
        failed = ", ".join(judgement.channels_failed)
        rows.append(f"Failed and left out: {failed}. Such a run goes to engineering review.")
    rows.append("Temperatures in °C. Whether a run is accepted, an authorised person signs.")
    return rows


def _row(one: Judged) -> str:
    cells = (one.min_c, one.max_c, one.spread_c)
    low, high, spread = ("" if cell is None else f"{cell:.1f}" for cell in cells)
    return (
        f"{one.name[:24]:24} {one.minutes:8.1f} {one.out_of_band_minutes:8.1f} "
        f"{low:>8} {high:>8} {spread:>7}  {'yes' if one.met else 'no'}"
    )


def _bytes(name: str, most: int) -> bytes:
    try:
        path = Path(name)
        if path.stat().st_size > most:
            raise Refused(f"{path.name} holds over {most // 1_000_000} MB")
        return path.read_bytes()
    except (OSError, ValueError) as trouble:
        why = getattr(trouble, "strerror", None) or "cannot be read"
        raise Missing(f"{name}: {why}") from None
