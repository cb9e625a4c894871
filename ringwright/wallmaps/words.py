"""What the Walls pages say, in one language."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

from ringwright.core.conformity import COVERAGE, GUARD, INSIDE, OUTSIDE
from ringwright.core.glossary import N_
from ringwright.kit.numbers import Figures
from ringwright.kit.words import Words
from ringwright.wallmaps.board import THIN_AHEAD, CaseBoard, CaseLine, WallsBoard
from ringwright.walls.mapping import Judged
from ringwright.walls.plan import COORDINATE, INSIDE_FACE, OUTSIDE_FACE, ULTRASONIC
from ringwright.walls.trend import Expected

STATES: Final = {
    OUTSIDE: N_("outside its limits"),
    THIN_AHEAD: N_("thin before the last cut"),
    GUARD: N_("in the guard band"),
    INSIDE: N_("inside"),
    "": N_("nothing judged"),
}
METHOD_WORDS: Final = {
    ULTRASONIC: N_("ultrasonic"),
    COORDINATE: N_("coordinate measured"),
}
PLACES: Final = 2
"""Decimals of a wall in mm on a page; files have it in full."""
FACE_WORDS: Final = {INSIDE_FACE: N_("the inside"), OUTSIDE_FACE: N_("the outside")}


@dataclass(frozen=True, slots=True)
class WallWords:
    """Sentences of the Walls pages."""

    words: Words
    show: Figures
    zone: str

    def mm(self, value: float | None) -> str:
        """A wall or a limit."""
        return self.show.decimal(value, PLACES)

    def state(self, line: CaseLine) -> str:
        """The state of a case in words."""
        return self.words._(STATES[line.state])

    def where(self, one: Judged) -> str:
        """Where a reading lies: station and angle."""
        return self.place(one.reading.station_mm, one.reading.angle_deg)

    def place(self, station_mm: float, angle_deg: float) -> str:
        """Station and angle."""
        station, angle = self.show.decimal(station_mm, 0), self.show.decimal(angle_deg, 0)
        return self.words._("%(station)s mm, %(angle)s°", station=station, angle=angle)

    def spread(self, u_mm: float) -> str:
        """Twice a standard uncertainty, as it stands behind ±."""
        return self.show.decimal(float(COVERAGE) * u_mm, PLACES)

    def thinnest(self, one: Judged) -> str:
        """`1.94 mm at 220 mm, 137°, zone front barrel; limit 2.20`."""
        return self.words._(
            "%(wall)s mm at %(where)s, zone %(zone)s; lower limit %(limit)s",
            wall=self.mm(one.reading.wall_mm),
            where=self.where(one),
            zone=one.zone.name,
            limit=self.mm(one.limits.lower),
        )

    def ahead(self, one: Expected) -> str:
        """`2.31 ± 0.06 mm expected at 220 mm, 137°`."""
        return self.words._(
            "%(wall)s ± %(spread)s mm expected at %(where)s",
            wall=self.mm(one.wall_mm),
            spread=self.spread(one.u_mm),
            where=self.where(one.point),
        )

    def chance(self, one: Expected) -> str:
        """How likely a place is to come out thin: `4 in 100`."""
        _, hundred = self.words._, round(one.chance_under * 100)
        if hundred < 1:
            return _("under 1 in 100")
        if hundred > 99:
            return _("over 99 in 100")
        return _("%(n)s in 100", n=self.show.count(hundred))

    def board_answer(self, board: WallsBoard) -> str:
        """The answer of the list of cases."""
        _ = self.words._
        if not board.products:
            return _("No case has a wall plan yet")
        if not board.lines:
            return _("No wall has been read yet")
        outside, ahead = board.of_state(OUTSIDE), board.of_state(THIN_AHEAD)
        if not outside and not ahead:
            n = len(board.lines)
            return self.words.ngettext(
                "The wall of %(n)s case read is within its limits, and is expected to stay so",
                "The walls of %(n)s cases read are within limits, and expected to stay so",
                n,
                n=self.show.count(n),
            )
        told = []
        if outside:
            told.append(
                self.words.ngettext(
                    "%(n)s wall outside its limits", "%(n)s walls outside their limits",
                    outside, n=self.show.count(outside),
                )
            )  # fmt: skip
        if ahead and not outside:
            return self._ahead_first(board.lines[0], ahead - 1)
        if ahead:
            told.append(
                self.words.ngettext(
                    "%(n)s may come out thin after the last cut",
                    "%(n)s may come out thin after the last cut",
                    ahead, n=self.show.count(ahead),
                )
            )  # fmt: skip
        return "; ".join(told)

    def _ahead_first(self, line: CaseLine, others: int) -> str:
        """The case likeliest to come out thin, and how many more there are."""
        _ = self.words._
        assert line.first is not None
        told = {"serial": line.serial, "ahead": self.ahead(line.first)}
        if others:
            n = self.show.count(others)
            return _("%(serial)s thin before the last cut: %(ahead)s; %(n)s more", **told, n=n)
        return _("%(serial)s thin before the last cut: %(ahead)s", **told)

    def case_answer(self, board: CaseBoard) -> str:
        """The answer of one case."""
        _, line = self.words._, board.line
        if line is None:
            if board.plan is None:
                return _("%(product)s has no wall plan yet", product=board.part.product)
            return _("The wall of %(serial)s has not been read yet", serial=board.part.serial)
        if line.map.thinnest is None or line.first is None:
            return _("No reading lies where the plan has a zone")
        if line.state == OUTSIDE:
            return _("Outside: %(thinnest)s", thinnest=self.short(self.worst(line)))
        if line.state == THIN_AHEAD:
            return _("Thin before the last cut: %(ahead)s", ahead=self.ahead(line.first))
        if line.cuts_left:
            return _("Wide enough for what is still to go: %(ahead)s least",
                     ahead=self.ahead(line.first))  # fmt: skip
        return _("Thinnest: %(thinnest)s", thinnest=self.short(line.map.thinnest))

    def worst(self, line: CaseLine) -> Judged:
        """The reading farthest beyond a limit."""
        return min(line.map.points, key=_margin)

    def short(self, one: Judged) -> str:
        """A reading with the limit that it is nearest to, in few letters."""
        low, high, wall = one.limits.lower, one.limits.upper, one.reading.wall_mm
        assert low is not None
        assert high is not None
        over = wall - low > high - wall
        _ = self.words._
        told = {
            "wall": self.mm(wall),
            "where": self.where(one),
            "limit": self.mm(high if over else low),
        }
        if over:
            return _("%(wall)s mm at %(where)s; upper limit %(limit)s", **told)
        return _("%(wall)s mm at %(where)s; lower limit %(limit)s", **told)

    def stop_text(self, board: CaseBoard) -> str:
        """What a stop at the Bench may say; empty where nothing is outside."""
        line = board.line
        if line is None or line.state != OUTSIDE:
            return ""
        one = self.worst(line)
        return self.words._(
            "wall %(found)s, zone %(zone)s (entry %(entry)s)",
            found=self.short(one), zone=one.zone.name, entry=line.read.number,
        )  # fmt: skip

    def shift(self, board: CaseBoard) -> str:
        """The proposal for the set-up of the next cut; empty where there is none worth it."""
        line, shift = board.line, board.shift
        if line is None or shift is None or board.plan is None:
            return ""
        gain = shift.least_after_mm - shift.least_before_mm
        if gain < 10.0**-PLACES:
            return ""
        _, face = self.words._, board.plan.faces.get(line.cuts_left[0], "")
        return _(
            "A shift of the cut at step %(step)s by %(size)s mm towards %(towards)s° (x %(x)s, "
            "y %(y)s mm; %(face)s is cut) would raise the least margin from %(before)s to "
            "%(after)s mm. Least squares would shift x %(sx)s, y %(sy)s mm.",
            step=line.cuts_left[0],
            size=self.mm(shift.size_mm),
            towards=self.show.decimal(shift.towards_deg, 0),
            x=self.show.signed(shift.x_mm, PLACES),
            y=self.show.signed(shift.y_mm, PLACES),
            face=_(FACE_WORDS.get(face, FACE_WORDS[OUTSIDE_FACE])),
            before=self.mm(shift.least_before_mm),
            after=self.mm(shift.least_after_mm),
            sx=self.show.signed(shift.squares_x_mm, PLACES),
            sy=self.show.signed(shift.squares_y_mm, PLACES),
        )


def _margin(one: Judged) -> float:
    low, high = one.limits.lower, one.limits.upper
    assert low is not None
    assert high is not None
    return min(one.reading.wall_mm - low, high - one.reading.wall_mm)
