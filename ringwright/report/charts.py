"""Charts of a workbook, drawn from its own cells, so that they follow the figures there."""

from __future__ import annotations

from typing import Any, Final

from ringwright.kit.sheets import Sheet
from ringwright.report.model import Report

INK, GREY = "#1A1A1A", "#8A8A8A"
SIZE: Final = {"width": 760, "height": 340}
Spot = tuple[Any, Sheet]


def add_charts(workbook: Any, tabs: dict[str, Any], report: Report) -> None:
    """The promise line, first-pass yields with their intervals, scrap by defect."""
    sheets = {sheet.code: sheet for sheet in report.book.sheets}
    makers = {"promise": _promise, "steps": _yields, "scrap": _scrap}
    for name, make in makers.items():
        code = f"{report.product} {name}"
        if sheets[code].rows:
            chart = make(workbook, (tabs[code], sheets[code]), report)
            chart.set_size(SIZE)
            tabs[code].insert_chart(len(sheets[code].rows) + 2, 0, chart)


def _range(spot: Spot, place: int) -> list[Any]:
    tab, sheet = spot
    return [tab.get_name(), 1, place, len(sheet.rows), place]


def _head(spot: Spot, place: int) -> list[Any]:
    return [spot[0].get_name(), 0, place]


def _promise(workbook: Any, spot: Spot, report: Report) -> Any:
    """Output against pace; told apart by line and marker, not by colour."""
    chart = workbook.add_chart({"type": "scatter", "subtype": "straight_with_markers"})
    manners = (
        (1, {"color": INK, "width": 2}, "diamond"),
        (2, {"color": GREY, "width": 1.5, "dash_type": "dash"}, "none"),
    )
    for place, line, marker in manners:
        if spot[1].rows[0][place].value is not None:
            chart.add_series(
                {
                    "name": _head(spot, place),
                    "categories": _range(spot, 0),
                    "values": _range(spot, place),
                    "line": line,
                    "marker": {"type": marker, "fill": {"color": INK}, "border": {"none": 1}},
                }
            )
    chart.set_title({"name": report.words._("Output against pace"), "overlay": False})
    chart.set_x_axis({"num_format": "ddd d mmm", "name": report.words._("site time")})
    chart.set_y_axis({"name": report.words._("parts"), "min": 0})
    chart.set_legend({"position": "bottom"})
    return chart


def _yields(workbook: Any, spot: Spot, report: Report) -> Any:
    """First-pass yield by step, each with its Wilson interval."""
    names = [column.name for column in spot[1].columns]
    place = names.index(report.words._("first-pass yield"))
    below, above = [], []
    for row in spot[1].rows:
        value, low, high = (cell.value for cell in row[place : place + 3])
        known = all(isinstance(found, int | float) for found in (value, low, high))
        below.append(float(value) - float(low) if known else 0.0)  # type: ignore[arg-type]
        above.append(float(high) - float(value) if known else 0.0)  # type: ignore[arg-type]
    chart = workbook.add_chart({"type": "column"})
    chart.add_series(
        {
            "name": _head(spot, place),
            "categories": _range(spot, 0),
            "values": _range(spot, place),
            "fill": {"color": GREY},
            "y_error_bars": {
                "type": "custom", "plus_values": above, "minus_values": below,
                "line": {"color": INK},
            },
        }
    )  # fmt: skip
    title = report.words._("First-pass yield by step, with its 95 %% interval")
    chart.set_title({"name": title, "overlay": False})
    chart.set_y_axis({"num_format": "0%", "min": 0, "max": 1})
    chart.set_legend({"none": True})
    return chart


def _scrap(workbook: Any, spot: Spot, report: Report) -> Any:
    """Scrapped parts by defect, the most first."""
    chart = workbook.add_chart({"type": "bar"})
    chart.add_series(
        {
            "name": _head(spot, 3),
            "categories": _range(spot, 0),
            "values": _range(spot, 3),
            "fill": {"color": GREY},
        }
    )
    chart.set_title({"name": report.words._("Scrap by defect"), "overlay": False})
    chart.set_y_axis({"reverse": True})
    chart.set_x_axis({"name": report.words._("parts"), "min": 0})
    chart.set_legend({"none": True})
    return chart
