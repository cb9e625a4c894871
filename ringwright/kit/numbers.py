"""How figures and times are written, by language: rounded once, at the last moment.

The rules are those of the look: a true minus, a thin gap before units, 24 hours, site time,
the date only when it is not today.
"""

from __future__ import annotations

from datetime import UTC, datetime, timedelta
from decimal import Decimal
from typing import Final

from babel import Locale
from babel.dates import format_datetime
from babel.numbers import get_decimal_symbol, get_group_symbol

from ringwright.core.instants import known_zone, site_time
from ringwright.kit.words import PSEUDO

GAP: Final = "\u202f"
"""The thin gap before a unit; it never breaks."""
MINUS: Final = "\u2212"
NOTHING: Final = "\u2013"
"""What stands where there is no figure (n = 0)."""
SMALL_N: Final = 20

UNITS: Final = {
    "g_mm": "g·mm",
    "g_mm2": "g·mm²",
    "deg": "°",
    "degC": "°C",
    "um": "μm",
    "kPa": "kPa",
}
"""How a unit's code is written for people; any other word is written as it is."""

# Where the usual order of a language differs, babel's own medium form is taken.
_DAYS: Final = {"en": "EEE d MMM", "de": "EEE d. MMM"}


def places_of(uncertainty: float) -> int:
    """Decimals down to the second digit of an uncertainty above zero: 0.0034 gives 4."""
    # Rounded to two digits first: 0.0996 is 0.10, which ends one place sooner.
    exponent = int(f"{uncertainty:.1e}".partition("e")[2])
    return max(0, 1 - exponent)


class Figures:
    """Figures in the manner of one language."""

    def __init__(self, tag: str) -> None:
        self.locale = Locale.parse("en" if tag == PSEUDO else tag, sep="-")
        marks = {
            ",": get_group_symbol(self.locale),
            ".": get_decimal_symbol(self.locale),
            "-": MINUS,
        }
        self._marks = str.maketrans(marks)

    def decimal(self, value: float | None, places: int = 1) -> str:
        """A figure with so many decimals; a dash where there is none."""
        if value is None:
            return NOTHING
        # Rounded here, so that what rounds to nothing never carries a minus. A page writes a
        # thousand figures: only the marks are the language's, babel's own writing is slow.
        return f"{round(value, places) + 0.0:,.{places}f}".translate(self._marks)

    def reading(self, value: float | None, decimals: int) -> str:
        """A reading with its characteristic's decimals; more where it was read finer."""
        if value is None:
            return NOTHING
        exponent = Decimal(repr(value)).normalize().as_tuple().exponent
        finer = -exponent if isinstance(exponent, int) else 0
        return self.decimal(value, max(decimals, finer))

    def standard(self, value: float | None) -> str:
        """A standard uncertainty with two significant digits (GUM, JCGM 100:2008, 7.2.6)."""
        if value is None or value <= 0:
            return NOTHING
        return self.decimal(value, places_of(value))

    def unit(self, code: str) -> str:
        """A unit as people write it."""
        return UNITS.get(code, code)

    def count(self, value: float | None) -> str:
        """A whole number, thousands apart; a fraction only where a plan has one."""
        if value is not None and value != int(value):
            return self.decimal(value, 1)
        return self.decimal(value, 0)

    def signed(self, value: float, places: int = 0) -> str:
        """A figure whose sign is the message."""
        text = self.decimal(value, places)
        return f"+{text}" if round(value, places) > 0 else text

    def percent(self, value: float | None, places: int = 1) -> str:
        """A proportion in per cent with its sign behind a thin gap."""
        if value is None:
            return NOTHING
        return f"{self.decimal(100 * value, places)}{GAP}%"

    def bare_percent(self, value: float | None, places: int = 1) -> str:
        """A proportion in per cent where the heading names the unit."""
        return NOTHING if value is None else self.decimal(100 * value, places)

    def hours(self, value: float | None, places: int = 1) -> str:
        """Hours with their unit."""
        return NOTHING if value is None else f"{self.decimal(value, places)}{GAP}h"

    def plan_hours(self, value: float) -> str:
        """Hours that a plan asks: whole ones, with a fraction only where it has one."""
        return f"{self.count(value)}{GAP}h"

    def clock(self, us: int, zone: str) -> str:
        """Hour and minute of the site's clock; a repeated hour shows its offset."""
        return self._pattern(us, zone, "HH:mm") + _offset_if_repeated(us, zone)

    def moment(self, us: int, zone: str, now_us: int) -> str:
        """The hour, with day and date when it is not today at the site."""
        if site_time(us, zone).date() == site_time(now_us, zone).date():
            return self.clock(us, zone)
        return f"{self.day(us, zone)} {self.clock(us, zone)}"

    def full(self, us: int, zone: str) -> str:
        """Day, date, year, hour, minute and second at the site."""
        pattern = f"{self._day_pattern()} y HH:mm:ss"
        return self._pattern(us, zone, pattern) + _offset_if_repeated(us, zone)

    def day(self, us: int, zone: str) -> str:
        """Day name, day and month at the site."""
        return self._pattern(us, zone, self._day_pattern())

    def date(self, us: int, zone: str) -> str:
        """Day name, day, month and year at the site."""
        return self._pattern(us, zone, f"{self._day_pattern()} y")

    def weekday(self, us: int, zone: str) -> str:
        """Short name of the site's day."""
        return self._pattern(us, zone, "EEE")

    def _day_pattern(self) -> str:
        return _DAYS.get(self.locale.language, "EEE d MMM")

    def _pattern(self, us: int, zone: str, pattern: str) -> str:
        # Already site time, and bare: babel must not move it to another zone.
        wall = site_time(us, zone).replace(tzinfo=None)
        return str(format_datetime(wall, pattern, locale=self.locale))


def _offset_if_repeated(us: int, zone: str) -> str:
    here = site_time(us, zone)
    place = known_zone(zone)
    bare = here.replace(tzinfo=None)
    offsets = {bare.replace(tzinfo=place, fold=fold).utcoffset() for fold in (0, 1)}
    if len(offsets) == 1:
        return ""
    utc = datetime.fromtimestamp(0, UTC) + timedelta(microseconds=us)
    minutes = int((bare - utc.replace(tzinfo=None)).total_seconds() // 60)
    sign = "+" if minutes >= 0 else MINUS
    return f"{GAP}{sign}{abs(minutes) // 60:02}:{abs(minutes) % 60:02}"
