"""What an address of Blade sets asks: which blades, under which rules, which answer shown.

The whole question stands in the address, so that Back works, a link can be handed on, and no
script is needed. A rule that is not named is the rotor's usual one; one left empty is none.
"""

from __future__ import annotations

import math
import re
from collections.abc import Iterable
from dataclasses import dataclass
from typing import Final
from urllib.parse import urlencode

from fastapi import Request

from ringwright.balance.limits import LEAST_SLOTS, MOST_SLOTS, Limits, vector
from ringwright.balance.work import LEAST_EFFORT, MOST_EFFORT, USUAL_EFFORT
from ringwright.core.errors import Refused
from ringwright.kit.render import path_for
from ringwright.sets.rotor import Rotor

RULES: Final = ("frequency_spread", "moment_spread", "neighbour", "opposite")
"""Rules that are a size; their usual values are the rotor's."""
FILTERS: Final = ("lot", "find", "moment_from", "moment_to", "frequency_from", "frequency_to")
"""What narrows the stock."""
ONE: Final = (
    "product", "pool", "run", "slots", "sets", *RULES, "alternate", "disc", "effort", "seed",
    *FILTERS, "answer", "set", "as_of",
)  # fmt: skip
MANY: Final = ("lock", "exclude", "exchange")
MAX: Final = "max"
SHOWN: Final = ("answer", "set", "exchange")
"""What is shown of an answer; the answer itself is the same without."""
_LONGEST, _MOST = 200, 400
_NUMBER: Final = re.compile(r"[+-]?(\d+\.?\d*|\.\d+)([eE][+-]?\d{1,2})?", re.ASCII)
_WORDS: Final = {
    "frequency_spread": "frequency spread",
    "moment_spread": "moment spread",
    "neighbour": "neighbour difference",
    "opposite": "opposite difference",
    "moment_from": "moment from",
    "moment_to": "moment to",
    "frequency_from": "frequency from",
    "frequency_to": "frequency to",
}


@dataclass(frozen=True, slots=True)
class Asked:
    """The fields of an address, those that may stand several times included."""

    fields: tuple[tuple[str, str], ...] = ()

    def given(self, name: str) -> bool:
        """True where the address names it, were it empty."""
        return any(key == name for key, _ in self.fields)

    def text(self, name: str) -> str:
        """Its text; empty where it is not named."""
        return next((value for key, value in reversed(self.fields) if key == name), "")

    def texts(self, name: str) -> tuple[str, ...]:
        """All its texts."""
        return tuple(value for key, value in self.fields if key == name)

    def less(self, names: Iterable[str]) -> Asked:
        """The same without these fields."""
        left_out = frozenset(names)
        return Asked(tuple(pair for pair in self.fields if pair[0] not in left_out))

    def plus(self, name: str, value: str) -> Asked:
        """The same with a field (once more) at the end."""
        return Asked((*self.fields, (name, value)))

    def put(self, name: str, value: str) -> Asked:
        """The same with this field in place of any of its name."""
        return self.less((name,)).plus(name, value)

    def number(self, name: str) -> float | None:
        """A number, None where it is empty; raises Refused."""
        return number_of(_WORDS.get(name, name), self.text(name))

    def whole(self, name: str, least: int, most: int, usual: int) -> int:
        """A whole number within its bounds; raises Refused."""
        text = self.text(name)
        if not text:
            return usual
        if not (text.isascii() and text.isdigit() and least <= int(text[:12]) <= most):
            raise Refused(f"{name} is a whole number from {least} to {most}, not {text[:40]!r}")
        return int(text)

    @property
    def effort(self) -> int:
        """How much work a search does, 1 to 5."""
        return self.whole("effort", LEAST_EFFORT, MOST_EFFORT, USUAL_EFFORT)

    @property
    def seed(self) -> int:
        """What chance begins from: the same seed, the same answer."""
        return self.whole("seed", 0, 2**31 - 1, 1)

    @property
    def sets(self) -> int | None:
        """How many sets; None: as many as the stock allows."""
        return None if self.text("sets") == MAX else self.whole("sets", 1, 1000, 1)


def number_of(words: str, text: str) -> float | None:
    """A number as somebody typed it, None where nothing was; raises Refused."""
    bare = text.replace("\u202f", "").replace("\u00a0", "").replace(" ", "")
    # Thousands by comma are what the page itself shows; 1,5 is no such figure.
    if re.fullmatch(r"[+-]?\d{1,3}(,\d{3})+(\.\d*)?", bare):
        bare = bare.replace(",", "")
    if not bare:
        return None
    if not _NUMBER.fullmatch(bare) or not math.isfinite(float(bare)):
        raise Refused(f"{words} {text[:40]!r} is not a number; write it like 1200 or 0.8")
    return float(bare)


def asked_of(request: Request) -> Asked:
    """What the address asks. Two slots named to be exchanged are put as one exchange."""
    asked = fields_of(request.query_params.multi_items())
    slot, other = (request.query_params.get(name, "").strip() for name in ("slot", "with"))
    if slot and other:
        asked = asked.plus("exchange", f"{slot[:20]}-{other[:_LONGEST]}")
    return asked


def fields_of(pairs: Iterable[tuple[str, str]]) -> Asked:
    """The fields that Blade sets knows; raises Refused where there are too many or too long."""
    known: list[tuple[str, str]] = []
    for name, value in pairs:
        text = value.strip()
        if name not in ONE and name not in MANY:
            continue
        if len(text) > _LONGEST or not text.isprintable():
            raise Refused(
                f"{name} {text[:40]!r} is no such thing; it is too long or unreadable"
            )
        if text or name in RULES:
            known = known if name in MANY else [pair for pair in known if pair[0] != name]
            known.append((name, text))
    for name in MANY:
        if sum(key == name for key, _ in known) > _MOST:
            raise Refused(f"more than {_MOST} times {name}")
    return Asked(tuple(dict.fromkeys(known)))


def slots_of(asked: Asked, set_size: int | None) -> int | None:
    """The slots of the ring asked for: the product's, or as given with a pool."""
    if asked.text("slots"):
        return asked.whole("slots", LEAST_SLOTS, MOST_SLOTS, 0)
    return set_size


def limits_of(asked: Asked, slots: int, rotor: Rotor) -> Limits:
    """The rules of one set; raises Refused for what is no rule."""
    sizes = {name: rule_of(asked, name, rotor) for name in RULES}
    return Limits(
        slots=slots,
        frequency_spread_hz=sizes["frequency_spread"],
        moment_spread_g_mm=sizes["moment_spread"],
        neighbour_g_mm=sizes["neighbour"],
        # An odd ring has no opposite slots; the usual limit says nothing of it.
        opposite_g_mm=sizes["opposite"] if slots % 2 == 0 or asked.text("opposite") else None,
        alternate=asked.text("alternate") == "1",
        disc_g_mm=disc_of(asked.text("disc")),
        locks=locks_of(asked),
        excluded=frozenset(asked.texts("exclude")),
    )


def rule_of(asked: Asked, name: str, rotor: Rotor) -> float | None:
    """One limit: as asked, or else the rotor's usual one."""
    usual = {
        "frequency_spread": rotor.frequency_spread_hz,
        "moment_spread": rotor.moment_spread_g_mm,
        "neighbour": rotor.neighbour_g_mm,
        "opposite": rotor.opposite_g_mm,
    }[name]
    return asked.number(name) if asked.given(name) else usual


def disc_of(text: str) -> complex:
    """The disc's own unbalance as SIZE@DEGREES; raises Refused."""
    if not text:
        return 0j
    size, mark, angle = text.partition("@")
    size_g_mm = number_of("the disc's unbalance", size)
    angle_deg = number_of("the disc's angle", angle) if mark else 0.0
    if size_g_mm is None or angle_deg is None or size_g_mm < 0:
        raise Refused(f"the disc's unbalance {text[:40]!r} is written g·mm@degrees: 350@120")
    return vector(size_g_mm, angle_deg)


def locks_of(asked: Asked) -> dict[int, str]:
    """Slot to the serial that must stand there; raises Refused."""
    found: dict[int, str] = {}
    for text in asked.texts("lock"):
        slot, mark, serial = (piece.strip() for piece in text.partition(":"))
        if not (mark and serial and slot.isascii() and slot.isdigit() and len(slot) < 5):
            raise Refused(f"a lock is written SLOT:SERIAL, like 4:HB-7, not {text[:40]!r}")
        if found.get(int(slot), serial) != serial:
            raise Refused(f"slot {slot} is locked for {found[int(slot)]} and for {serial}")
        found[int(slot)] = serial
    return found


@dataclass(frozen=True, slots=True)
class Links:
    """Addresses of Blade sets with something of the question changed."""

    request: Request
    asked: Asked

    def to(self, asked: Asked, route: str = "sets.builder", **places: str) -> str:
        """A page of Blade sets, asked this."""
        base = path_for(self.request, route, **places).partition("?")[0]
        site = self.request.query_params.get("site")
        query = [*asked.fields, *([("site", site)] if site else [])]
        return base + (f"?{urlencode(query)}" if query else "")

    def put(self, name: str, value: str) -> str:
        """The page with one field changed; what is shown of the old answer goes."""
        kept = self.asked if name in SHOWN else self.asked.less((*SHOWN, "run"))
        return self.to(kept.put(name, value))

    def without(self, name: str, value: str | None = None) -> str:
        """The page without a field, or without one of its values."""
        if value is None:
            return self.to(self.asked.less((name,)))
        left = tuple(pair for pair in self.asked.fields if pair != (name, value))
        return self.to(Asked(left))

    def here(self, route: str = "sets.builder") -> str:
        """Where a form of the page goes: bare, or (to be posted) with the whole question."""
        if route == "sets.builder":
            return self.bare(route)
        return self.to(self.asked, route)

    def product(self, product: str) -> str:
        """The page of another product's stock."""
        kept = tuple(pair for pair in self.asked.fields if pair[0] == "as_of")
        return self.to(Asked((("product", product), *kept)))

    def product_stock(self, product: str) -> str:
        """The stock of another product."""
        kept = tuple(pair for pair in self.asked.fields if pair[0] == "as_of")
        return self.to(Asked((("product", product), *kept)), "sets.stock")

    def bare(self, route: str) -> str:
        """A page's address without any question, for a form that asks."""
        return path_for(self.request, route).partition("?")[0]

    def unfiltered(self) -> tuple[tuple[str, str], ...]:
        """What a form of filters carries along."""
        return self.hidden(*FILTERS, *SHOWN, "run")

    def exchanges(self) -> list[tuple[str, str]]:
        """Each exchange by hand, and the page without it."""
        return [(text, self.without("exchange", text)) for text in self.asked.texts("exchange")]

    def chosen(self, answer: str) -> str:
        """The page with another answer chosen, as it was built."""
        return self.to(self.asked.less(SHOWN).plus("answer", answer))

    def rotor(self, product: str) -> str:
        """Where the product's rotor data are entered; empty where nobody serves that."""
        if not product or "sets.rotor" not in self.request.app.state.route_places:
            return ""
        return self.to(Asked(), "sets.rotor", product=product)

    def page(self, route: str) -> str:
        """Another page of the room for the same blades."""
        kept = [pair for pair in self.asked.fields if pair[0] in ("product", "pool", "as_of")]
        return self.to(Asked(tuple(kept)), route)

    def stock(self) -> str:
        """The list of the stock, filtered alike."""
        kept = self.asked.less((*SHOWN, "run"))
        return self.to(kept, "sets.stock")

    def file(self, form: str) -> str:
        """What is shown as a file."""
        return self.to(self.asked, "sets.file", form=form)

    def kept(self) -> tuple[tuple[str, str], ...]:
        """What the form of the rules carries along: where the blades come from."""
        kept = ("product", "pool", "as_of")
        site = self.request.query_params.get("site")
        own = tuple(pair for pair in self.asked.fields if pair[0] in kept)
        return (*own, *([("site", site)] if site else []))

    def hidden(self, *left_out: str) -> tuple[tuple[str, str], ...]:
        """What a form must carry along that changes these fields."""
        site = self.request.query_params.get("site")
        kept = self.asked.less(left_out).fields
        return (*kept, *([("site", site)] if site else []))
