"""A recorder's file: looked at first, kept when somebody says so.

The first look stores nothing. What was handed in travels in the form, packed, so that nothing
is lost by a refusal and the server keeps nothing half done.
"""

from __future__ import annotations

import base64
import binascii
import hashlib
import zlib
from dataclasses import dataclass, replace
from typing import Final

import numpy as np

from ringwright.core.errors import Refused
from ringwright.core.instants import known_zone
from ringwright.furnaces.card import Columns
from ringwright.furnaces.queries import read_columns, read_furnace, read_recipe
from ringwright.furnaces.rules import Run
from ringwright.heat.channels import working
from ringwright.heat.reading import merged
from ringwright.heat.recipe import Recipe
from ringwright.heat.trace import Trace
from ringwright.heat.units import CELSIUS
from ringwright.heatruns.breaks import Gap, gaps_of
from ringwright.heatruns.readings import AFTERWARDS_US, KeepReadings, trace_of
from ringwright.heatruns.recorder import (
    PRESSURE,
    Clock,
    RecorderTable,
    Taken,
    read_table,
    take,
)
from ringwright.heatruns.recorder_columns import (
    AT,
    Choice,
    guessed,
    remembered,
    slips,
    typed,
)
from ringwright.heatruns.run_board import known_run
from ringwright.kit.forms import Given, Upload, plain_name
from ringwright.ledger.service import Read

MB: Final = 1024 * 1024
MOST_BYTES: Final = 5 * MB
"""A day of twelve thermocouples every two seconds; a larger file comes in pieces."""
MOST_PACKED: Final = 5 * MB
FILE, PACKED, NAME = "file", "packed", "name"


@dataclass(frozen=True, slots=True, kw_only=True)
class ChannelLine:
    """One channel of a file: what its figures become, and where it is silent."""

    channel: str
    title: str
    samples: int
    blanks: int
    first: tuple[float, float] | None
    """The first reading as the file has it, and as it would be kept."""
    highest: tuple[float, float] | None
    lowest: tuple[float, float] | None


@dataclass(frozen=True, slots=True, kw_only=True)
class Looked:
    """What a look at the file says; nothing is stored."""

    run: Run
    recipe: Recipe
    channels: tuple[str, ...]
    """Every channel of the furnace, the pressure last."""
    upload: Upload
    packed: str
    table: RecorderTable
    choice: Choice
    columns: Columns | None
    taken: Taken | None = None
    slips: tuple[str, ...] = ()
    gaps: tuple[Gap, ...] = ()
    clashes: int = 0
    """Times at which it says another thing than itself or what was kept before."""
    known: int = 0
    """Samples of times that were kept before."""

    @property
    def lines(self) -> tuple[ChannelLine, ...]:
        """Each channel that is chosen."""
        if self.taken is None or self.columns is None:
            return ()
        return tuple(
            _line(name, title, self.taken) for name, title in self.columns.channels.items()
        )

    @property
    def first_us(self) -> int:
        """Its first reading; 0 where none could be read."""
        return 0 if self.taken is None else round(float(self.taken.trace.at_s[0]) * 1e6)

    @property
    def last_us(self) -> int:
        """Its last reading; 0 where none could be read."""
        return 0 if self.taken is None else round(float(self.taken.trace.at_s[-1]) * 1e6)

    @property
    def outside(self) -> bool:
        """True where no reading lies within the cycle, nor in the day after its end."""
        begun_us = self.run.started_us
        if self.taken is None or begun_us is None:
            return False
        ended_us = self.run.ended_us
        after = ended_us is not None and self.first_us > ended_us + AFTERWARDS_US
        return self.last_us < begun_us or after

    @property
    def lacking(self) -> tuple[str, ...]:
        """Thermocouples of the furnace that no column was chosen for."""
        return tuple(one for one in self.channels[:-1] if one not in self.choice.places)

    @property
    def converts(self) -> bool:
        """True where the file's units are not those that are kept."""
        told = self.columns
        if told is None:
            return False
        pressed = PRESSURE in told.channels and told.pressure_unit != "kPa"
        return told.temperature_unit != CELSIUS or pressed


def uploaded(given: Given) -> tuple[Upload, str]:
    """The file that was chosen, or the one that travels in the form, and it packed.

    Raises Refused where there is none, where it is too large, or where it was tampered with.
    """
    chosen = given.files.get(FILE)
    if chosen is not None and chosen.content:
        if len(chosen.content) > MOST_BYTES:
            raise Refused(
                f"{chosen.name} is larger than {MOST_BYTES // MB} MB; cut it into pieces and "
                "hand them in one after the other: they are put together"
            )
        return chosen, base64.b64encode(zlib.compress(chosen.content, 6)).decode("ascii")
    packed = given.text(PACKED)
    if not packed:
        raise Refused("choose the recorder's file")
    return Upload(name=plain_name(given.text(NAME)), content=_unpacked(packed)), packed


def _unpacked(packed: str) -> bytes:
    opened = zlib.decompressobj()
    try:
        content = opened.decompress(base64.b64decode(packed, validate=True), MOST_BYTES + 1)
    except (zlib.error, binascii.Error, ValueError):
        raise Refused("the file was lost on the way; choose it again") from None
    if not opened.eof or len(content) > MOST_BYTES:
        raise Refused("the file was lost on the way; choose it again")
    return content


def look_at(read: Read, code: str, given: Given) -> Looked:
    """What the file holds, by the columns chosen, remembered or guessed; nothing is stored.

    Raises Missing for no such run, Refused for what is no table of a recorder.
    """
    upload, packed = uploaded(given)
    table = read_table(upload.text(MOST_BYTES, ("csv", "txt", "tsv")))
    run = known_run(read, code)
    past = read_furnace(read.connection, read.site.id, run.furnace)
    recipe = read_recipe(read.connection, read.site.id, run.recipe, run.revision)
    if past is None or recipe is None:
        raise Refused(f"furnace or recipe of {run.code} are not on record")
    channels = tuple(one.code for one in past.furnace.channels)
    choice = _choice(read, run, table, (channels, given))
    looked = Looked(
        run=run,
        recipe=recipe,
        channels=(*channels, PRESSURE),
        upload=upload,
        packed=packed,
        table=table,
        choice=choice,
        columns=choice.columns(table),
    )
    return looked if looked.columns is None else _taken(read, looked, looked.columns)


def _choice(
    read: Read, run: Run, table: RecorderTable, asked: tuple[tuple[str, ...], Given]
) -> Choice:
    channels, given = asked
    places = given.under("column.")
    if places:
        known = {AT, PRESSURE, *channels}
        kept = {name: text for name, text in places.items() if name in known}
        zone = given.text("zone")
        if zone:
            known_zone(zone)
        own = "" if zone == read.site.zone else zone
        return typed(table, kept, given.under("unit."), own)
    before = read_columns(read.connection, read.site.id, run.furnace)
    return remembered(table, before) or guessed(table, channels)


def _taken(read: Read, looked: Looked, columns: Columns) -> Looked:
    run = looked.run
    clock = Clock(
        zone=columns.zone or read.site.zone, started_s=(run.started_us or read.now_us) / 1e6
    )
    taken = take(looked.table, columns, clock)
    kept = trace_of(read.connection, read.site.id, run)
    both = taken.trace if kept is None else merged([kept, taken.trace])
    return replace(
        looked,
        taken=taken,
        slips=tuple(slips(taken, columns, looked.recipe)),
        gaps=gaps_of(working(taken.trace)),
        clashes=len(both.clashes) - (0 if kept is None else len(kept.clashes)),
        known=_known(kept, taken.trace),
    )


def _known(kept: Trace | None, new: Trace) -> int:
    return 0 if kept is None else int(np.isin(new.at_s, kept.at_s).sum())


def _line(channel: str, title: str, taken: Taken) -> ChannelLine:
    raw, kept = taken.raw[channel], taken.kept[channel]
    read = np.flatnonzero(np.isfinite(raw))

    def pair(place: int) -> tuple[float, float]:
        return float(raw[place]), float(kept[place])

    return ChannelLine(
        channel=channel,
        title=title,
        samples=int(read.size),
        blanks=int(raw.size - read.size),
        first=pair(int(read[0])) if read.size else None,
        highest=pair(int(np.nanargmax(raw))) if read.size else None,
        lowest=pair(int(np.nanargmin(raw))) if read.size else None,
    )


def keeping(looked: Looked, given: Given, key: str) -> KeepReadings:
    """The command that keeps what was looked at.

    Raises Refused while a column or unit must be chosen, a slip of units or rows that cannot
    be read are not answered yet.
    """
    if looked.columns is None or looked.taken is None:
        raise Refused("choose the column of the time, the thermocouples and their units first")
    if looked.slips and not given.text("sure"):
        raise Refused(
            f"{'; '.join(looked.slips)}. Choose the unit, or say that the figures are right",
            code="slip",
        )
    bad = looked.taken.bad
    if bad and not given.text("rest"):
        raise Refused(
            f"{len(bad)} cells or rows cannot be read (the first on line {bad[0].line}: "
            f"{bad[0].why}); put them right, or say that the rest is kept without them"
        )
    if looked.clashes and not given.text("clash"):
        raise Refused(
            f"at {looked.clashes} times it says another thing than was read before; such a run "
            "is not met. Choose the right file, or say that both are kept"
        )
    return KeepReadings(
        run=looked.run.code,
        key=key,
        trace=looked.taken.trace,
        source=looked.upload.name,
        file_digest=hashlib.sha256(looked.upload.content).hexdigest(),
        columns=looked.columns,
    )
