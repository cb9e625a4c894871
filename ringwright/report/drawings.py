"""The pictures of the paper: vectors, from the coordinates that the page is drawn from."""

from __future__ import annotations

from typing import Any, Final

from ringwright.kit.charts import IntervalBar
from ringwright.kit.promise import PromiseDrawing
from ringwright.report.letters import BOLD, PLAIN, drawable
from ringwright.report.model import Report

LEFT, ABOVE, BELOW = 34.0, 14.0, 4.0
TALL: Final = 150.0
SMALL: Final = 7
BAR_WIDTH, BAR_HEIGHT = 92.0, 9.0


class Pencil:
    """A drawing in which y runs down from the top, as on the page."""

    def __init__(self, width: float, height: float) -> None:
        from reportlab.graphics.shapes import Drawing

        self.drawing = Drawing(width, height)
        self.height = height

    def line(self, start: tuple[float, float], end: tuple[float, float], **manner: Any) -> None:
        """A straight line."""
        from reportlab.graphics.shapes import Line

        (x1, y1), (x2, y2) = start, end
        self.drawing.add(Line(x1, self.height - y1, x2, self.height - y2, **_ink(manner)))

    def path(self, points: list[tuple[float, float]], **manner: Any) -> None:
        """A line through points."""
        from reportlab.graphics.shapes import PolyLine

        flat = [part for x, y in points for part in (x, self.height - y)]
        self.drawing.add(PolyLine(flat, **_ink(manner)))

    def dot(self, x: float, y: float, radius: float) -> None:
        """A filled dot."""
        from reportlab.graphics.shapes import Circle
        from reportlab.lib.colors import black

        self.drawing.add(Circle(x, self.height - y, radius, fillColor=black, strokeWidth=0))

    def text(self, spot: tuple[float, float], text: str, anchor: str, font: str) -> None:
        """A short text."""
        from reportlab.graphics.shapes import String

        x, y = spot
        manner = {"textAnchor": anchor, "fontName": font, "fontSize": SMALL}
        self.drawing.add(String(x, self.height - y, drawable(text), **manner))


def _ink(manner: dict[str, Any]) -> dict[str, Any]:
    from reportlab.lib.colors import Color

    grey = manner.pop("grey", 0.0)
    return {"strokeColor": Color(grey, grey, grey), "strokeWidth": 0.5, **manner}


def promise_drawing(report: Report, width: float) -> Any:
    """Output less pace over working time, with days and scale; the pace is the zero line."""
    found: PromiseDrawing = report.strip.drawing
    pencil = Pencil(width, TALL + ABOVE + BELOW)
    inner, down = width - LEFT, TALL / found.height

    def across(percent: float) -> float:
        return LEFT + inner * percent / 100

    for tick in found.ticks:
        y = ABOVE + down * tick.y
        pencil.line((LEFT, y), (width, y), grey=0.85)
        pencil.text((LEFT - 4, y + 2.5), _tick(report, tick.value), "end", PLAIN)
    bottom = ABOVE + TALL
    for x in found.midnights:
        pencil.line((across(x), ABOVE), (across(x), bottom), grey=0.7)
    for day in found.days:
        name = report.show.weekday(day.at_us, report.sheet.zone)
        font = BOLD if day.today else PLAIN
        pencil.text((across(day.x), ABOVE - 4), name, "middle", font)
    zero = ABOVE + down * found.zero_y
    pencil.line((LEFT, zero), (width, zero), strokeWidth=1, strokeDashArray=[4, 2])
    points = [tuple(map(float, pair.split(","))) for pair in found.ink.split(" ")]
    pencil.path(
        [(LEFT + inner * x / 1000, ABOVE + down * y) for x, y in points], strokeWidth=1.4
    )
    pencil.dot(across(found.now_x), ABOVE + down * found.now_y, 2.4)
    return pencil.drawing


def _tick(report: Report, value: int) -> str:
    promised = report.strip.strip.numbers.target is not None
    return report.show.signed(value) if promised else report.show.count(value)


def interval_drawing(bar: IntervalBar | None) -> Any:
    """Dot and posts of a proportion on its bar, which runs from the page's floor to 100 %."""
    pencil = Pencil(BAR_WIDTH, BAR_HEIGHT)
    middle = BAR_HEIGHT / 2
    inner = BAR_WIDTH - 6

    def across(percent: float) -> float:
        return 3 + inner * percent / 100

    pencil.line((across(0), middle), (across(100), middle), grey=0.8)
    if bar is not None:
        pencil.line((across(bar.low), middle), (across(bar.high), middle), strokeWidth=1)
        for post in (bar.low, bar.high):
            pencil.line((across(post), 1.5), (across(post), BAR_HEIGHT - 1.5), strokeWidth=1)
        pencil.dot(across(bar.dot), middle, 2.0)
    return pencil.drawing
