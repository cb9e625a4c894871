"""An entry of a part in one line of words, readings with their decimals and units."""

from __future__ import annotations

import json
from typing import Any

from ringwright.bench.board import FIELD_WORDS, entry_lines
from ringwright.kit.numbers import GAP, Figures
from ringwright.kit.words import Words
from ringwright.routecards.card import RouteCard


class Storyteller:
    """Says what entries of one part say, to one reader."""

    def __init__(self, card: RouteCard, words: Words, show: Figures) -> None:
        self.card = card
        self.words = words
        self.show = show

    def said(self, row: Any) -> str:
        """What an entry says: "read at step 30 Wall check, wall 1.51 mm, gauge UT-3"."""
        (line,) = entry_lines([row], self.words, str)
        told = line.told
        if row.kind == "measure":
            told = self._reading(_data(row))
        elif row.kind == "correct":
            told = self.why(row)
        head = line.word
        if line.step:
            step = self.card.by_number.get(line.step)
            named = f"{line.step} {step.name}" if step else str(line.step)
            head = self.words._("%(what)s at step %(step)s", what=line.word, step=named)
        lot = _data(row).get("lot")
        extra = self.words._("lot %(lot)s", lot=lot) if lot else ""
        return ", ".join(text for text in (head, told, extra) if text)

    def why(self, correction: Any) -> str:
        """What a correction changed, and its reason."""
        data = _data(correction)
        names = sorted(data.get("fields") or {})
        changed = ", ".join(self.words._(FIELD_WORDS.get(name, name)) for name in names)
        parts = (changed or self.words._("void"), data.get("reason") or "")
        return ": ".join(text for text in parts if text)

    def _reading(self, data: dict[str, Any]) -> str:
        step = self.card.by_number.get(data["step"])
        known = step.characteristic(data["characteristic"]) if step else None
        value = self.show.reading(data["value"], known.decimals if known else 3)
        unit = self.show.unit(data["unit"])
        gap = "" if unit == "°" else GAP
        told = f"{data['characteristic'].replace('_', ' ')} {value}{gap}{unit}"
        gauge = data.get("gauge")
        if not gauge:
            return told
        return f"{told}, {self.words._('gauge %(gauge)s', gauge=gauge)}"


def _data(row: Any) -> dict[str, Any]:
    found: dict[str, Any] = json.loads(row.payload)
    return found
