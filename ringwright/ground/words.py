"""Kinds of ground rules and of steps, in words to be translated."""

from __future__ import annotations

from typing import Final

from ringwright.core.glossary import N_

KIND_WORDS: Final[dict[str, str]] = {
    "person": N_("person"),
    "station": N_("station"),
    "calendar": N_("calendar"),
    "route": N_("route card"),
    "site": N_("site file"),
    "history": N_("history"),
    "practice": N_("practice site"),
}
STEP_KIND_WORDS: Final[dict[str, str]] = {
    "forming": N_("forming"),
    "joining": N_("joining"),
    "cleaning": N_("cleaning"),
    "heat-cycle": N_("heat cycle"),
    "casting": N_("casting"),
    "machining": N_("machining"),
    "inspection": N_("inspection"),
    "finishing": N_("finishing"),
    "receipt": N_("receipt"),
    "dispatch": N_("dispatch"),
}
