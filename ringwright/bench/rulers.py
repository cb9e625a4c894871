"""The rulers of the Bench as drawn: where a reading lies between its limits, and how sure."""

from __future__ import annotations

from dataclasses import dataclass

from ringwright.bench.desk import View
from ringwright.bench.forms import plain_reading
from ringwright.bench.gauging import chosen_uncertainty
from ringwright.bench.queries import Ruler
from ringwright.core.conformity import GUARD, INSIDE, OUTSIDE, guard_band
from ringwright.core.errors import Refused
from ringwright.kit.charts import RulerDrawing, RulerFigures, draw_ruler
from ringwright.kit.numbers import Figures
from ringwright.kit.typed import parse_reading
from ringwright.kit.words import Words

SUSPECT = "suspect"


@dataclass(frozen=True, kw_only=True)
class RulerView:
    """One characteristic on the screen."""

    code: str
    label: str
    unit: str
    limits: str
    drawing: RulerDrawing
    text: str
    """What stands in the field: as typed, else as booked."""
    was: str
    word: str
    verdict: str
    """`inside`, `outside`, `in the guard band`, `suspect`; empty while it is not read."""
    why: str
    described: str
    lower: str
    nominal: str
    upper: str
    last: tuple[str, ...]
    gauge: str
    """What it was read with; empty where nothing was said."""
    uncertainty: str
    """One standard uncertainty of the reading shown; empty where it is not known."""

    @property
    def refused(self) -> bool:
        """True when no part passes on it."""
        return self.verdict not in ("", INSIDE)


def draw(ruler: Ruler, view: View, words: Words, figures: Figures) -> RulerView:
    """A ruler of the step with what was typed and the gauge that is chosen."""
    booked = "" if ruler.value is None else plain_reading(ruler.value, ruler.decimals)
    typed = view.typed.get(ruler.code, "").strip()
    value, why = ruler.value, ""
    if typed and typed != booked:
        try:
            value = parse_reading(typed)
        except Refused as refusal:
            why = refusal.message
    limits = _limit_texts(ruler, figures)
    fresh = typed not in ("", booked)
    u = chosen_uncertainty(view.gauges, ruler) if fresh or value is None else ruler.uncertainty
    drawing = _drawing(ruler, None if why else value, u, limits)
    found = _verdict(ruler, value, u, fresh=fresh)
    return RulerView(
        code=ruler.code,
        label=ruler.code.replace("_", " "),
        unit=figures.unit(ruler.unit),
        limits=_limits(limits, figures.unit(ruler.unit), words),
        drawing=drawing,
        text=typed or booked,
        was=booked,
        word=_word(found, ruler, words, fresh=fresh),
        verdict="" if why else found,
        why=why,
        described=_described(ruler, value, limits, words, figures),
        lower=limits[0],
        nominal="" if ruler.nominal is None else figures.reading(ruler.nominal, ruler.decimals),
        upper=limits[1],
        last=tuple(figures.reading(past, ruler.decimals) for past in ruler.last),
        gauge=ruler.gauge or "",
        uncertainty="" if u is None else figures.standard(u),
    )


def _drawing(
    ruler: Ruler, value: float | None, uncertainty: float | None, limits: tuple[str, str]
) -> RulerDrawing:
    guarded = ruler.of.guarded and uncertainty is not None
    return draw_ruler(
        RulerFigures(
            lower=ruler.lower,
            upper=ruler.upper,
            nominal=ruler.nominal,
            guard=float(guard_band(uncertainty)) if guarded and uncertainty else 0.0,
            value=value,
            past=ruler.last,
            lower_text=limits[0],
            upper_text=limits[1],
        )
    )


def _verdict(
    ruler: Ruler, value: float | None, uncertainty: float | None, *, fresh: bool
) -> str:
    if value is None:
        return ""
    if ruler.suspect and not fresh:
        return SUSPECT
    return ruler.of.verdict(value, uncertainty)


def _limit_texts(ruler: Ruler, figures: Figures) -> tuple[str, str]:
    found = (ruler.lower, ruler.upper)
    low, high = ("" if v is None else figures.reading(v, ruler.decimals) for v in found)
    return low, high


def _limits(limits: tuple[str, str], unit: str, words: Words) -> str:
    low, high = limits
    if low and high:
        return words._("%(low)s to %(high)s %(unit)s", low=low, high=high, unit=unit)
    if low:
        return words._("at least %(low)s %(unit)s", low=low, unit=unit)
    if high:
        return words._("at most %(high)s %(unit)s", high=high, unit=unit)
    return words._("no limits, %(unit)s", unit=unit)


def _word(found: str, ruler: Ruler, words: Words, *, fresh: bool) -> str:
    _ = words._
    if found == SUSPECT:
        return _("suspect: %(why)s. Read it again", why=ruler.suspect)
    told = {
        "": _("not read yet"),
        INSIDE: _("inside, not booked") if fresh else _("inside"),
        OUTSIDE: _("outside, not booked") if fresh else _("outside"),
        GUARD: _("in the guard band, not booked") if fresh else _("in the guard band"),
    }
    return told[found]


def _described(
    ruler: Ruler, value: float | None, limits: tuple[str, str], words: Words, figures: Figures
) -> str:
    read = (
        words._("not read yet")
        if value is None
        else words._("this part %(value)s", value=figures.reading(value, ruler.decimals))
    )
    return words._(
        "Limits %(limits)s; %(read)s; %(n)s readings of other parts.",
        limits=_limits(limits, figures.unit(ruler.unit), words),
        read=read,
        n=figures.count(len(ruler.last)),
    )
