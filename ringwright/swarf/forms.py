"""Masses as a form sends them."""

from __future__ import annotations

from ringwright.core.errors import Refused
from ringwright.kit.forms import Given
from ringwright.kit.scanned import scanned_text
from ringwright.kit.typed import parse_figure
from ringwright.material.scales import Typed


def typed_mass(sent: Given, name: str) -> Typed:
    """A mass [kg] with its scale, or with what it is worth where that was typed."""
    text = sent.text(name)
    if not text:
        raise Refused("type the mass in kg")
    worth = sent.text("u")
    return Typed(
        kg=parse_figure(text, name),
        gauge=scanned_text(sent.text("gauge")),
        u_kg=parse_figure(worth, "uncertainty") if worth else None,
    )


def share(sent: Given, name: str) -> float:
    """A share typed in per cent; 0 where nothing was typed."""
    text = sent.text(name)
    return parse_figure(text, name) / 100.0 if text else 0.0
