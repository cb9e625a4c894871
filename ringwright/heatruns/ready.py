"""Whether a furnace may be started: what is overdue, worn or out of calibration."""

from __future__ import annotations

from dataclasses import dataclass

from ringwright.furnaces.card import Channel
from ringwright.furnaces.queries import read_uses
from ringwright.furnaces.rules import FurnacePast, Health, health, worn
from ringwright.gauges.judging import GaugeDesk
from ringwright.gauges.register import GaugeLine
from ringwright.ledger.service import Read
from ringwright.ledger.transaction import Tx
from ringwright.sites.queries import when_at


@dataclass(frozen=True, slots=True, kw_only=True)
class Against:
    """One thing that keeps a furnace from being started: a proof, a thermocouple or a gauge."""

    why: str
    """The rest of a sentence about the furnace, as a refusal tells it."""
    proof: Health | None = None
    channel: Channel | None = None
    uses: int = 0
    """Runs that the worn thermocouple was used in."""
    gauge: str = ""
    line: GaugeLine | None = None
    """How that gauge stands; None where it is not on the register."""


def why_not_ready(at: Tx | Read, past: FurnacePast) -> list[str]:
    """What keeps the furnace from being started now, each as the rest of a sentence."""
    return [one.why for one in against(at, past)]


def against(at: Tx | Read, past: FurnacePast) -> list[Against]:
    """The same, each with what it is about, for those who say it in another language."""
    day = when_at(at.now_us, at.site.zone).day
    found = [Against(why=one.why, proof=one) for one in health(past, day) if one.why]
    limited = [one for one in past.furnace.channels if one.most_uses is not None]
    uses = read_uses(at.connection, at.site.id, past, limited)
    for channel in limited:
        used = uses[channel.code]
        why = worn(channel, used)
        if why:
            told = f"{channel.code} {why}"
            found.append(Against(why=told, channel=channel, uses=used))
    return found + _gauges(at, past)


def _gauges(at: Tx | Read, past: FurnacePast) -> list[Against]:
    desk, found = GaugeDesk(at), []
    for code in past.furnace.gauges:
        gauge = desk.past(code)
        if gauge is None:
            why = f"reads with {code}, which is not on the register of gauges"
            found.append(Against(why=why, gauge=code))
            continue
        now = desk.standing(gauge, at.now_us)
        if not now.decides:
            line = GaugeLine(past=gauge, now=now)
            why = f"reads with {code}, which {now.why}"
            found.append(Against(why=why, gauge=code, line=line))
    return found
