"""Readings of a wall as the record keeps them: a plain table in mm and degrees, by place."""

from __future__ import annotations

import csv
import io
from collections.abc import Sequence

from ringwright.walls.reading import COLUMNS, WallReading


def pack(readings: Sequence[WallReading]) -> bytes:
    """The readings as CSV text; the same readings in any order give the same bytes."""
    out = io.StringIO(newline="")
    writer = csv.writer(out, lineterminator="\n")
    writer.writerow(COLUMNS)
    for one in sorted(readings, key=lambda one: (one.station_mm, one.angle_deg)):
        sure = "" if one.u_mm is None else repr(one.u_mm)
        place = (repr(one.station_mm), repr(one.angle_deg))
        writer.writerow([*place, repr(one.wall_mm), sure, one.point])
    return out.getvalue().encode()


def unpack(data: bytes) -> tuple[WallReading, ...]:
    """The readings that `pack` wrote."""
    rows = csv.reader(io.StringIO(data.decode(), newline=""))
    next(rows)
    return tuple(
        WallReading(
            station_mm=float(station),
            angle_deg=float(angle),
            wall_mm=float(wall),
            u_mm=float(sure) if sure else None,
            point=point,
        )
        for station, angle, wall, sure, point in rows
    )
