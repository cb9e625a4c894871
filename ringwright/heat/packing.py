"""A furnace trace kept small: as many figures as the recorder had, and no more.

Readings are decimal figures of a recorder, so each column is kept as whole numbers of its
resolution (0.01 degC, 0.01 kPa, 1 ms where that is enough), as differences from one sample to
the next, compressed. What comes back is the trace bit for bit, as long as no reading has more
than six decimals; finer ones come back rounded to the sixth. Blanks stay blanks. Clashes are
kept, since they speak against the run; the times as the file spelled them are not.

    magic "RWHT", version, length of what follows unpacked, its CRC-32, then zlib of:
    samples, columns, clashes; of each column kind, decimals, width, blanks, first, name;
    the clashes; of each column its blanks as bits, its differences by byte place
"""

from __future__ import annotations

import struct
import zlib
from collections.abc import Iterator
from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.typing import NDArray

from ringwright.core.errors import Refused
from ringwright.heat.trace import Floats, Trace

MAGIC: Final = b"RWHT"
VERSION: Final = 1
MOST_READINGS: Final = 10_000_000
"""Of all columns: more than a week of twelve thermocouples each second. More is refused."""
MOST_BYTES: Final = 64 * 2**20
"""Of a trace decompressed, whatever it claims to be."""
MOST_COLUMNS, MOST_CLASHES, LONGEST_NAME = 256, 10_000, 1_000
LEAST_DECIMALS: Final = {"time": 3, "temperature": 2, "pressure": 2}
"""The resolution asked for: 1 ms, 0.01 degC, 0.01 kPa."""
MOST_DECIMALS: Final = 6
_TIME, _TEMPERATURE, _PRESSURE = KINDS = ("time", "temperature", "pressure")
_MOST_WHOLE: Final = 2**53
"""Whole numbers up to here are exact as readings."""

_START: Final = struct.Struct("<4sBII")
_COUNTS: Final = struct.Struct("<IHI")
_COLUMN: Final = struct.Struct("<BBBBqH")
_NAME: Final = struct.Struct("<H")
_WIDTHS: Final = (0, 1, 2, 4, 8)

Wholes = NDArray[np.int64]


@dataclass(frozen=True, slots=True, kw_only=True)
class _Column:
    """One column as it is kept."""

    kind: str
    name: str
    decimals: int
    first: int
    width: int
    """Bytes of one difference; 0 where all are nought."""
    blanks: bool

    def size(self, samples: int) -> int:
        """Bytes that its blanks and its differences take."""
        return (-(-samples // 8) if self.blanks else 0) + self.width * samples


def pack(trace: Trace) -> bytes:
    """The trace in few bytes; `unpack` gives it back.

    Refused: an infinite reading, one too large for its decimals, times that are blank or do not
    rise once rounded to a microsecond, more than `MOST_READINGS`.
    """
    _check_size(trace)
    columns, blocks = [], []
    for kind, name, values in _columns(trace):
        column, block = _packed(kind, name, values)
        columns.append(column)
        blocks.append(block)
    clashes = [one.encode() for one in trace.clashes]
    head = [_COUNTS.pack(trace.size, len(columns), len(clashes))]
    for one in columns:
        name_bytes = one.name.encode()
        kept = (KINDS.index(one.kind), one.decimals, one.width, one.blanks, one.first)
        head += [_COLUMN.pack(*kept, len(name_bytes)), name_bytes]
    head += [_NAME.pack(len(one)) + one for one in clashes]
    body = b"".join([*head, *blocks])
    if len(body) > MOST_BYTES:
        raise _too_large()
    start = _START.pack(MAGIC, VERSION, len(body), zlib.crc32(body))
    return start + zlib.compress(body, level=6)


def unpack(packed: bytes) -> Trace:
    """The trace that was packed, without the spelling of its times.

    Refused: bytes that are no trace, of another version, damaged, or larger unpacked than
    they say or than `MOST_BYTES`. Never more than that is unpacked, whatever the bytes are.
    """
    reader = _Reader(_body(packed))
    try:
        return _read(reader)
    except (struct.error, IndexError, UnicodeDecodeError, OverflowError) as problem:
        raise _damaged() from problem


def resolutions(packed: bytes) -> dict[str, float]:
    """What the figures of each column were kept to: s, degC or kPa by its name.

    The time's name is `at_s`. Refused: as of `unpack`.
    """
    reader = _Reader(_body(packed))
    try:
        _, columns, _ = _head(reader)
    except (struct.error, IndexError, UnicodeDecodeError) as problem:
        raise _damaged() from problem
    return {one.name: 10.0**-one.decimals for one in columns}


def _check_size(trace: Trace) -> None:
    columns = len(trace.temperatures_c) + 2
    texts = (*trace.temperatures_c, *trace.clashes)
    if trace.size * columns > MOST_READINGS or columns > MOST_COLUMNS:
        raise _too_large()
    if len(trace.clashes) > MOST_CLASHES or any(len(one) > LONGEST_NAME for one in texts):
        raise _too_large()


def _too_large() -> Refused:
    return Refused("the trace is too large to keep; split the run or log less often")


def _columns(trace: Trace) -> Iterator[tuple[str, str, Floats]]:
    """Kind, name and readings of each column, the time first."""
    if not np.all(np.diff(trace.at_s) > 0) or not np.isfinite(trace.at_s).all():
        raise Refused("a trace is kept with its times rising; sort it first")
    yield _TIME, "at_s", trace.at_s
    for name, values in trace.temperatures_c.items():
        yield _TEMPERATURE, name, values
    if trace.pressure_kpa is not None:
        yield _PRESSURE, "pressure_kpa", trace.pressure_kpa


def _packed(kind: str, name: str, values: Floats) -> tuple[_Column, bytes]:
    blank = np.isnan(values)
    if np.isinf(values).any():
        raise Refused(f"{name} holds an infinite reading; a blank is NaN")
    decimals, wholes = _whole(kind, name, np.where(blank, 0.0, values))
    if kind == _TIME and not np.all(np.diff(wholes) > 0):
        raise Refused("two times of the trace lie within a microsecond of each other")
    wholes = _carried(wholes, blank)
    first = int(wholes[0]) if wholes.size else 0
    steps = _zigzag(_differences(wholes, kind))
    width = _width(steps)
    column = _Column(
        kind=kind,
        name=name,
        decimals=decimals,
        first=first,
        width=width,
        blanks=bool(blank.any()),
    )
    bits = np.packbits(blank).tobytes() if column.blanks else b""
    return column, bits + _planes(steps, width)


def _whole(kind: str, name: str, values: Floats) -> tuple[int, Wholes]:
    """The fewest decimals that give every reading back, and the readings in such units."""
    for decimals in range(LEAST_DECIMALS[kind], MOST_DECIMALS + 1):
        scaled = np.rint(values * 10.0**decimals)
        if not np.all(np.abs(scaled) < _MOST_WHOLE):
            raise Refused(f"{name} holds a reading too large to keep to {decimals} decimals")
        if np.array_equal(scaled / 10.0**decimals, values):
            break
    return decimals, scaled.astype(np.int64)


def _carried(wholes: Wholes, blank: NDArray[np.bool_]) -> Wholes:
    """Blanks filled with the reading before, so that they cost nothing."""
    last = np.maximum.accumulate(np.where(blank, 0, np.arange(blank.size)))
    return wholes[last]


def _differences(wholes: Wholes, kind: str) -> Wholes:
    """From one sample to the next; of the time, from one interval to the next."""
    steps = np.diff(wholes, prepend=wholes[:1])
    return np.diff(steps, prepend=steps[:1]) if kind == _TIME else steps


def _summed(steps: Wholes, column: _Column) -> Wholes:
    if column.kind == _TIME:
        steps = np.cumsum(steps)
    return np.cumsum(steps) + column.first


def _zigzag(steps: Wholes) -> NDArray[np.uint64]:
    """Small differences of either sign as small numbers."""
    return ((steps << 1) ^ (steps >> 63)).view(np.uint64)


def _width(steps: NDArray[np.uint64]) -> int:
    most = int(steps.max()) if steps.size else 0
    return next(one for one in _WIDTHS if most < 256**one)


def _planes(steps: NDArray[np.uint64], width: int) -> bytes:
    """All lowest bytes, then all second ones: like stands beside like, which zlib likes."""
    as_bytes = steps.astype("<u8").view(np.uint8).reshape(-1, 8)[:, :width]
    return as_bytes.T.tobytes()


def _damaged() -> Refused:
    return Refused("these bytes are no trace, or are damaged; take them from the backup")


def _body(packed: bytes) -> bytes:
    """What was compressed, once its length and its sum are right."""
    if len(packed) < _START.size or packed[:4] != MAGIC:
        raise _damaged()
    _, version, size, check = _START.unpack(packed[: _START.size])
    if version != VERSION:
        raise Refused(f"this trace is kept in form {version}, which this program cannot read")
    if size > MOST_BYTES:
        raise Refused("the trace is larger than any that is kept here")
    opened = zlib.decompressobj()
    try:
        body = opened.decompress(packed[_START.size :], size + 1)
    except zlib.error as problem:
        raise _damaged() from problem
    whole = opened.eof and not opened.unused_data and len(body) == size
    if not whole or zlib.crc32(body) != check:
        raise _damaged()
    return body


class _Reader:
    """Takes bytes one after the other, never beyond the end."""

    def __init__(self, body: bytes) -> None:
        self._body = memoryview(body)
        self._at = 0

    def take(self, count: int) -> memoryview:
        end = self._at + count
        if end > len(self._body):
            raise IndexError(end)
        taken = self._body[self._at : end]
        self._at = end
        return taken

    def numbers(self, form: struct.Struct) -> tuple[int, ...]:
        return form.unpack(self.take(form.size))

    def text(self, count: int) -> str:
        return bytes(self.take(count)).decode()

    @property
    def done(self) -> bool:
        return self._at == len(self._body)


def _head(reader: _Reader) -> tuple[int, list[_Column], tuple[str, ...]]:
    samples, columns, clashes = reader.numbers(_COUNTS)
    # Asked before anything of that length is made: few bytes may claim many samples.
    if columns > MOST_COLUMNS or clashes > MOST_CLASHES or samples * columns > MOST_READINGS:
        raise _damaged()
    found = [_column(reader) for _ in range(columns)]
    spelled = tuple(reader.text(reader.numbers(_NAME)[0]) for _ in range(clashes))
    kinds = [one.kind for one in found]
    once = len({(one.kind, one.name) for one in found}) == len(found)
    if kinds[:1] != [_TIME] or kinds.count(_TIME) > 1 or kinds.count(_PRESSURE) > 1 or not once:
        raise _damaged()
    return samples, found, spelled


def _column(reader: _Reader) -> _Column:
    kind, decimals, width, blanks, first, length = reader.numbers(_COLUMN)
    if decimals > MOST_DECIMALS or width not in _WIDTHS or blanks > 1:
        raise _damaged()
    return _Column(
        kind=KINDS[kind],
        name=reader.text(length),
        decimals=decimals,
        first=first,
        width=width,
        blanks=blanks == 1,
    )


def _read(reader: _Reader) -> Trace:
    samples, columns, clashes = _head(reader)
    values = [_values(reader, one, samples) for one in columns]
    times = values[0]
    if not reader.done or not np.all(np.diff(times) > 0) or np.isnan(times).any():
        raise _damaged()
    by_kind = list(zip(columns, values, strict=True))
    pressure = [read for one, read in by_kind if one.kind == _PRESSURE]
    return Trace(
        at_s=times,
        temperatures_c={one.name: read for one, read in by_kind if one.kind == _TEMPERATURE},
        pressure_kpa=pressure[0] if pressure else None,
        clashes=clashes,
    )


def _values(reader: _Reader, column: _Column, samples: int) -> Floats:
    kept = reader.take(column.size(samples))
    bits = kept[: len(kept) - column.width * samples]
    planes = np.frombuffer(kept[len(bits) :], dtype=np.uint8).reshape(column.width, samples)
    wide = np.zeros((samples, 8), dtype=np.uint8)
    wide[:, : column.width] = planes.T
    steps = wide.view("<u8")[:, 0].astype(np.uint64)
    differences = (steps >> np.uint64(1)).astype(np.int64) ^ -(steps & 1).astype(np.int64)
    values = _summed(differences, column) / 10.0**column.decimals
    if column.blanks:
        blank = np.unpackbits(np.frombuffer(bits, dtype=np.uint8), count=samples)
        values[blank.astype(bool)] = np.nan
    return values
