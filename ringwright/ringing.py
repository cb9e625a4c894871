"""`ringwright ring`: build sets from a file, or mend a ring. Loads neither web nor SQL."""

from __future__ import annotations

import argparse
import json
import math
import time
from pathlib import Path
from typing import Any, Final

from ringwright.balance.answer import Answer, as_json, build, ring_set, set_json
from ringwright.balance.bound import Bound
from ringwright.balance.limits import Limits, vector
from ringwright.balance.pool import Blade, Pool
from ringwright.balance.pool_file import LARGEST, MOST_DIGITS, read_pool, read_ring
from ringwright.balance.repair import MOST_EXCHANGES, Damage, Exchange, Move, repair
from ringwright.balance.uncertainty import Floor
from ringwright.balance.work import LEAST_EFFORT, MOST_EFFORT, Work
from ringwright.core.errors import BadRows, Missing, Refused

MOST_BYTES: Final = 20_000_000
CAUTION: Final = (
    "Computed, not measured: the grade belongs to the assembled rotor. The balancing machine "
    "and an authorised person decide."
)


def ring(arguments: argparse.Namespace) -> str:
    """Answer the question of the command line, as text; raises Refused or Missing.

    Whatever is wrong is told in one line, all bad rows of a file included.
    """
    try:
        return _answered(arguments)
    except BadRows as bad:
        told = "; ".join(f"line {line}: {why}" for line, why in bad.problems)
        raise Refused(told) from None


def _answered(arguments: argparse.Namespace) -> str:
    pool = read_pool(_text(arguments.pool))
    limits = _limits(arguments)
    _check_known(pool, limits)
    work = Work(
        effort=_effort(arguments.effort),
        seed=_whole("--seed", arguments.seed),
        seconds=_positive("--seconds", arguments.seconds),
        clock=time.monotonic,
    )
    floor = Floor(moment_u_g_mm=_at_least_0("--moment-u", arguments.moment_u))
    if arguments.ring or arguments.lost:
        found = _mended(arguments, pool, limits, work, floor)
    else:
        sets = _sets(arguments.sets)
        answer = build(pool, limits, work, sets=sets, floor=floor, prove=arguments.prove)
        found = as_json(answer, pool)
    return json.dumps(found) if arguments.json else _told(found)


def _text(name: str) -> str:
    path = Path(name)
    try:
        if path.stat().st_size > MOST_BYTES:
            raise Refused(f"{name} holds over {MOST_BYTES // 1_000_000} MB; a pool is smaller")
        return path.read_text(encoding="utf-8-sig")
    except OSError as trouble:
        raise Missing(f"{name}: {trouble.strerror or 'cannot be read'}") from None
    except UnicodeDecodeError:
        raise Refused(f"{name} is no UTF-8 text; save it as CSV UTF-8") from None


def _limits(arguments: argparse.Namespace) -> Limits:
    return Limits(
        slots=arguments.slots,
        frequency_spread_hz=_at_least_0("--frequency-spread", arguments.frequency_spread),
        moment_spread_g_mm=_at_least_0("--moment-spread", arguments.moment_spread),
        neighbour_g_mm=_at_least_0("--neighbour", arguments.neighbour),
        opposite_g_mm=_at_least_0("--opposite", arguments.opposite),
        alternate=arguments.alternate,
        disc_g_mm=_disc(arguments.disc),
        locks=_locks(arguments.lock),
        excluded=frozenset(arguments.exclude),
    )


def _at_least_0(option: str, value: float | None) -> float | None:
    if value is not None and not (math.isfinite(value) and value >= 0):
        raise Refused(f"{option} must be a number of 0 or more")
    return value


def _positive(option: str, value: float | None) -> float | None:
    if value is not None and not (math.isfinite(value) and value > 0):
        raise Refused(f"{option} must be a number above 0")
    return value


def _whole(option: str, value: int) -> int:
    if value < 0:
        raise Refused(f"{option} is a whole number of 0 or more, not {value}")
    return value


def _effort(value: int) -> int:
    if not LEAST_EFFORT <= value <= MOST_EFFORT:
        raise Refused(f"--effort is {LEAST_EFFORT} to {MOST_EFFORT}, not {value}")
    return value


def _sets(text: str) -> int | None:
    if text == "max":
        return None
    if not (text.isascii() and text.isdigit() and len(text) < 10 and int(text) >= 1):
        raise Refused(f"--sets is a whole number of 1 or more, or max, not {text[:40]}")
    return int(text)


def _disc(text: str | None) -> complex:
    if text is None:
        return 0j
    size, at, angle = text.partition("@")
    try:
        found = vector(float(size), float(angle))
    except ValueError:
        found = complex(math.nan)
    if not at or not abs(found) <= LARGEST:
        raise Refused(f"--disc is G_MM@DEG, such as 250@90, not {text[:40]}")
    return found


def _locks(given: list[str]) -> dict[int, str]:
    locks: dict[int, str] = {}
    for text in given:
        slot, equals, serial = text.partition("=")
        number = slot.isascii() and slot.isdigit() and len(slot) <= MOST_DIGITS
        if not (equals and serial and number):
            raise Refused(f"--lock is SLOT=SERIAL, such as 4=B-17, not {text[:40]}")
        if int(slot) in locks:
            raise Refused(f"slot {slot} is locked twice")
        locks[int(slot)] = serial
    return locks


def _check_known(pool: Pool, limits: Limits) -> None:
    for option, serials in (
        ("--lock", limits.locks.values()),
        ("--exclude", sorted(limits.excluded)),
    ):
        unknown = [serial for serial in serials if serial not in pool.places]
        if unknown:
            raise Refused(f"{option} names {', '.join(unknown)[:200]}, not in the pool")


def _mended(
    arguments: argparse.Namespace, pool: Pool, limits: Limits, work: Work, floor: Floor
) -> dict[str, Any]:
    if not (arguments.ring and arguments.lost):
        raise Refused("a repair needs both --ring FILE and --lost SERIAL")
    serials = read_ring(_text(arguments.ring)).serials
    if len(serials) != limits.slots:
        raise Refused(f"the ring has {len(serials)} slots, --slots says {limits.slots}")
    pool, places = _with_lost(pool, serials, set(arguments.lost))
    damage = Damage(ring=places, lost=tuple(pool.places[s] for s in arguments.lost))
    rows = _rows_within(arguments.moves, pool, damage, limits, work)
    best = min(rows, key=lambda row: row.measured.residual_g_mm)
    used = set(best.order)
    lost = set(damage.lost)
    answer = Answer(
        sets=(ring_set(pool, best.order, limits, floor),),
        unused=tuple(n for n in range(len(pool)) if n not in used and n not in lost),
        bound=Bound(max_sets=1, proved=False),
        left_out=(),
        effort=work.effort,
        seed=work.seed,
        stopped_early=work.stopped_early,
        seconds=work.gone_s,
    )
    table = [_row(row, pool, limits, floor) for row in rows]
    return {**as_json(answer, pool), "moves": table}


def _rows_within(
    moves: int, pool: Pool, damage: Damage, limits: Limits, work: Work
) -> list[Move]:
    """The table's rows of so many moves at most beside the replacement."""
    most = min(_whole("--moves", moves), MOST_EXCHANGES)
    rows = repair(pool, damage, limits, work, exchanges=most, opposite_too=most > 0)
    lost = len(set(damage.lost))
    within = [row for row in rows if row.beside(lost) <= most]
    if not within:
        raise Refused(f"within {most} moves no spare mends this ring and keeps the limits")
    return within


def _with_lost(
    pool: Pool, serials: tuple[str, ...], lost: set[str]
) -> tuple[Pool, tuple[int, ...]]:
    """The pool with lost blades that it no longer holds, and the ring's places in it."""
    absent = [serial for serial in serials if serial not in pool.places]
    unknown = [serial for serial in absent if serial not in lost]
    if unknown:
        raise Refused(f"the ring's {', '.join(unknown)[:200]} has no readings in the pool")
    strange = sorted(lost - set(serials))
    if strange:
        raise Refused(
            f"--lost names {', '.join(strange)[:200]}, which no slot of the ring holds"
        )
    # What a lost blade weighed does not matter any more.
    added = tuple(Blade(serial=serial, moment_g_mm=0.0) for serial in absent)
    whole = Pool(blades=(*pool.blades, *added))
    return whole, tuple(whole.places[serial] for serial in serials)


def _row(row: Move, pool: Pool, limits: Limits, floor: Floor) -> dict[str, Any]:
    one = set_json(ring_set(pool, row.order, limits, floor), pool)
    return {
        "opposite_too": row.opposite,
        "exchanges": [_exchange(one, pool) for one in row.exchanges],
        "replaced": [
            {"slot": slot, "out": pool.blades[out].serial, "in": pool.blades[into].serial}
            for slot, out, into in row.replaced
        ],
        **one,
    }


def _exchange(one: Exchange, pool: Pool) -> dict[str, Any]:
    if one.spare is None:
        return {"slots": [one.slot, one.other_slot]}
    return {"slot": one.slot, "in": pool.blades[one.spare].serial}


def _told(found: dict[str, Any]) -> str:
    """The answer for a person at a terminal."""
    lines = []
    for number, one in enumerate(found["sets"], 1):
        lines.append(f"Set {number} of {len(found['sets'])}")
        lines += _figures(one)
        lines += [f"  {slot:>4}  {serial}" for slot, serial in enumerate(one["slots"], 1)]
    if "moves" in found:
        lines += ["What mends the ring, and the residual it leaves:"]
        lines += [_move_told(row) for row in found["moves"]]
    else:
        bound = found["bound"]
        proved = " (proved)" if bound["proved"] else ""
        lines.append(f"Sets possible: {bound['max_sets']} at most{proved}")
    lines.append(f"Blades unused: {len(found['unused'])}")
    if found["stopped_early"]:
        lines.append("Stopped early: more work could find better")
    return "\n".join([*lines, CAUTION])


def _move_told(row: dict[str, Any]) -> str:
    done = [f"{r['in']} for {r['out']} in slot {r['slot']}" for r in row["replaced"]]
    done += [_exchange_told(one) for one in row["exchanges"]]
    return f"  {_residual_told(row):>16}  {', '.join(done)}"


def _exchange_told(one: dict[str, Any]) -> str:
    if "slots" in one:
        return f"slots {one['slots'][0]} and {one['slots'][1]} exchanged"
    return f"{one['in']} taken into slot {one['slot']}"


def _residual_told(one: dict[str, Any]) -> str:
    """The residual with no digit below its 95 % uncertainty's second (JCGM 100:2008, 7.2.6)."""
    value, doubt = one["residual_g_mm"], one["uncertainty_95_g_mm"]
    if not doubt:
        return f"{value:.6g} g·mm"
    digits = 1 - math.floor(math.log10(doubt))
    step, places = 10.0**-digits, max(0, digits)
    if value < step:
        return f"under {step:.{places}f} g·mm"
    return f"{round(value, digits):.{places}f} g·mm"


def _two_digits(value: float) -> str:
    return f"{float(f'{value:.2g}'):.10g}"


def _figures(one: dict[str, Any]) -> list[str]:
    lines = [f"  residual {_residual_told(one)} at {one['residual_deg']:.0f}°"]
    if one["uncertainty_g_mm"] is not None:
        lines.append(
            f"  its uncertainty {_two_digits(one['uncertainty_g_mm'])} g·mm standard, "
            f"{_two_digits(one['uncertainty_95_g_mm'])} g·mm at 95 %: the scale's part alone"
        )
    named = (
        ("couple", "couple_g_mm2", "g·mm²"),
        ("frequency spread", "frequency_spread_hz", "Hz"),
        ("moment spread", "moment_spread_g_mm", "g·mm"),
        ("neighbours differ by", "neighbour_max_g_mm", "g·mm at most"),
        ("opposites differ by", "opposite_max_g_mm", "g·mm at most"),
    )
    return lines + [
        f"  {name} {one[field]:.6g} {unit}"
        for name, field, unit in named
        if one[field] is not None
    ]
