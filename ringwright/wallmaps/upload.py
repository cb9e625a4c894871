"""A file of wall readings: looked at first, kept when somebody says so.

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

from ringwright.core.errors import Refused
from ringwright.gauges.judging import GaugeDesk
from ringwright.kit.forms import Given, Upload, plain_name
from ringwright.ledger.service import Read
from ringwright.parts.queries import read_folded
from ringwright.wallmaps.board import CaseBoard
from ringwright.wallmaps.service import KeepWall, check_visit, uncertainty
from ringwright.walls.mapping import WallMap, map_wall
from ringwright.walls.plan import ULTRASONIC, WallPlan
from ringwright.walls.reading import (
    COLUMNS,
    LENGTHS,
    Chosen,
    WallFile,
    WallTable,
    check_chosen,
    expects,
    guessed,
    read_table,
    read_walls,
    refuse_bad,
)

MB: Final = 1024 * 1024
MOST_BYTES: Final = 3 * MB
FILE, PACKED, NAME = "file", "packed", "name"


@dataclass(frozen=True, slots=True, kw_only=True)
class Looked:
    """What a look at the file says; nothing is stored."""

    upload: Upload
    packed: str
    table: WallTable
    chosen: Chosen
    step: int
    method: str
    gauge: str
    found: WallFile | None = None
    map: WallMap | None = None
    trouble: str = ""
    """Why nothing can be kept as it is chosen."""


def uploaded(given: Given) -> tuple[Upload, str]:
    """The file that was chosen, or the one that travels in the form, and it packed.

    Raises Refused where there is none, where it is too large, or where it was tampered with.
    """
    chosen = given.files.get(FILE)
    if chosen is not None and chosen.content:
        if len(chosen.content) > MOST_BYTES:
            raise Refused(
                f"{chosen.name} is larger than {MOST_BYTES // MB} MB; read fewer places"
            )
        return chosen, base64.b64encode(zlib.compress(chosen.content, 6)).decode("ascii")
    packed = given.text(PACKED)
    if not packed:
        raise Refused("choose the file of readings")
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


def look_at(read: Read, board: CaseBoard, given: Given) -> Looked:
    """What the file holds, by the columns chosen or guessed; nothing is stored.

    Raises Refused for what is no table, or where the case takes no readings now.
    """
    upload, packed = uploaded(given)
    table = read_table(upload.text(MOST_BYTES, ("csv", "txt", "tsv")))
    part = read_folded(read, board.part.serial)
    if board.plan is None:
        raise Refused(f"{board.part.product} has no wall plan; quality sets it first")
    looked = Looked(
        upload=upload,
        packed=packed,
        table=table,
        chosen=_chosen(table, given),
        step=check_visit(part, board.plan),
        method=given.text("method") or ULTRASONIC,
        gauge=given.text("gauge"),
    )
    try:
        check_chosen(table, looked.chosen)
    except Refused as refusal:
        return replace(looked, trouble=refusal.message)
    return _found(read, looked, board.plan)


def _found(read: Read, looked: Looked, plan: WallPlan) -> Looked:
    file = read_walls(looked.table, looked.chosen, expects(plan, looked.step))
    trouble, u_mm = "", None
    try:
        how = (looked.method, looked.gauge)
        u_mm = uncertainty(GaugeDesk(read), plan, looked.step, how, read.now_us)
    except Refused as refusal:
        trouble = refusal.message
    found = map_wall(plan, looked.step, file.readings, u_mm)
    return replace(looked, found=file, map=found, trouble=trouble)


def _chosen(table: WallTable, given: Given) -> Chosen:
    """As the form has it; at first by the headings."""
    typed = given.under("column.")
    if not typed:
        return guessed(table)
    places = {
        name: int(text)
        for name, text in typed.items()
        if name in COLUMNS and text.isascii() and text.isdigit() and len(text) < 4
    }
    units = given.under("unit.")
    return Chosen(places=places, units={name: units.get(name) or "mm" for name in LENGTHS})


def keeping(looked: Looked, serial: str, key: str, station: str) -> KeepWall:
    """The command that keeps what was looked at; raises Refused while a row is bad."""
    if looked.trouble or looked.found is None:
        raise Refused(looked.trouble or "choose the columns first")
    refuse_bad(looked.found)
    return KeepWall(
        serial=serial,
        readings=looked.found.readings,
        method=looked.method,
        gauge=looked.gauge,
        source=looked.upload.name,
        file_digest=hashlib.sha256(looked.upload.content).hexdigest(),
        step=looked.step,
        station=station,
        key=key,
    )
