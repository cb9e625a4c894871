"""History rows as the invented factory writes them, with a running key."""

from __future__ import annotations

from ringwright.core.calendar import HOUR_US, SECOND_US, iso_text
from ringwright.demo.floor import Part

Row = dict[str, str]


class Pen:
    """Writes one row after the other; whoever runs the factory takes them away."""

    def __init__(self, zone: str) -> None:
        self.rows: list[Row] = []
        self._zone, self._count = zone, 0
        self._hours: dict[int, tuple[str, str]] = {}

    def write(self, at_us: int, part: Part, act: str, by: str, **more: str) -> None:
        """One row on a part; fields not given are empty, the step is the part's own."""
        self._count += 1
        row = {
            "at": self._text(at_us), "serial": part.serial, "product": part.card.product,
            "act": act, "step": "", "outcome": "", "defect": "", "characteristic": "",
            "value": "", "unit": "", "lot": "", "station": "", "by": by, "reason": "",
            "key": f"demo-{self._count}",
        }  # fmt: skip
        if act != "create":
            row["step"] = str(part.step.number)
        row.update(more)
        self.rows.append(row)

    def _text(self, us: int) -> str:
        # Oslo's offset is whole hours, so within an hour only minutes and seconds change.
        hour, rest = divmod(us, HOUR_US)
        if hour not in self._hours:
            text = iso_text(hour * HOUR_US, self._zone)
            self._hours[hour] = (text[:14], text[19:])
        head, offset = self._hours[hour]
        minutes, seconds = divmod(rest // SECOND_US, 60)
        return f"{head}{minutes:02}:{seconds:02}{offset}"
