"""Words of the case shop's material, to be translated."""

from __future__ import annotations

from typing import Final

from ringwright.core.glossary import N_
from ringwright.kit.numbers import Figures, places_of
from ringwright.kit.words import Words
from ringwright.massing.account import Closing
from ringwright.massing.swarf import COUPONS, OFFCUTS, TURNINGS
from ringwright.material.card import GROUND, ROTATING, STATIC
from ringwright.material.rules import OPEN, RETURNED, SEALED, SENT, Container

KINDS: Final = {TURNINGS: N_("turnings"), OFFCUTS: N_("offcuts"), COUPONS: N_("coupons")}
STATES: Final = {
    OPEN: N_("open"), SEALED: N_("sealed"), SENT: N_("sent"), RETURNED: N_("a lot again"),
}  # fmt: skip
USES: Final = {
    ROTATING: N_("rotating parts"), STATIC: N_("static parts"), GROUND: N_("not for flight"),
}  # fmt: skip
ENTRIES: Final = {
    "container-opened": N_("opened"),
    "swarf-added": N_("swarf added"),
    "container-weighed": N_("weighed full"),
    "container-sealed": N_("sealed"),
    "container-found-mixed": N_("found mixed"),
    "container-sent": N_("sent"),
    "container-returned-as-lot": N_("returned as a lot"),
    "container-corrected": N_("corrected"),
}


CAUTION: Final = N_(
    "Titanium turnings and fines burn. No water on a metal fire: it makes it worse; keep "
    "sparks away and the right extinguisher at hand. Full containers are heavy: lift them "
    "with rated gear, and stand clear. The site's rules, local codes and licensed practice "
    "rule; this record does not."
)


class MassWords:
    """Figures of an account as sentences."""

    def __init__(self, words: Words, show: Figures) -> None:
        self.words, self.show = words, show

    def places(self, closing: Closing) -> int:
        """Decimals that its uncertainty allows; to a tenth where it has none."""
        wide = closing.unaccounted.expanded_kg
        return min(3, places_of(wide)) if wide > 0 else 1

    def kg(self, value: float | None, places: int = 1) -> str:
        """A mass without its unit, which the heading has."""
        return self.show.decimal(value, places)

    def closing(self, closing: Closing) -> str:
        """What went in, what was found, and whether that closes."""
        _, places = self.words._, self.places(closing)
        told = {
            "mass_in": self.kg(closing.bought.kg, places),
            "found": self.kg(closing.found.kg, places),
            "u": self.kg(closing.unaccounted.expanded_kg, places),
        }
        if closing.closes:
            return _(
                "%(mass_in)s kg in, %(found)s ± %(u)s kg found: the account closes", **told
            )
        beyond = self.kg(closing.beyond_kg, places)
        return _(
            "%(mass_in)s kg in, %(found)s ± %(u)s kg found: %(beyond)s kg short of closing",
            beyond=beyond, **told,
        )  # fmt: skip

    def rest(self, closing: Closing) -> str:
        """The rest with its expanded uncertainty."""
        places = self.places(closing)
        wide = self.kg(closing.unaccounted.expanded_kg, places)
        return f"{self.kg(closing.unaccounted.kg, places)} ± {wide}"

    def closes(self, closing: Closing) -> str:
        """Whether it closes, in a few words."""
        _ = self.words._
        if closing.closes:
            return _("closes")
        beyond = self.kg(closing.beyond_kg, self.places(closing))
        return _("does not close, by %(kg)s kg", kg=beyond)

    def cleanness(self, container: Container) -> str:
        """Clean or mixed."""
        _ = self.words._
        if not container.alloy:
            return _("mixed from the first")
        return _("found mixed") if container.mixed else _("clean")
