"""A furnace as a form says it."""

from __future__ import annotations

from ringwright.core.errors import Refused
from ringwright.furnaces.card import Channel, Furnace, Proof
from ringwright.kit.forms import Given
from ringwright.kit.typed import parse_figure, parse_whole


def furnace_from(sent: Given, code: str) -> Furnace:
    """The furnace of a form; raises Refused, naming the line that cannot be read."""
    text = sent.text("furnace_class")
    return Furnace(
        code=code,
        furnace_class=parse_whole(text, "class") if text else None,
        positions=tuple(sent.text("positions").replace(",", " ").split()),
        channels=tuple(_channel(line) for line in _lines(sent.text("channels"))),
        pressure_gauge=sent.text("pressure_gauge"),
        gas_gauge=sent.text("gas_gauge"),
        proofs=dict(_proof(line) for line in _lines(sent.text("proofs"))),
        withdrawn=bool(sent.text("withdrawn")),
    )


def _lines(text: str) -> list[str]:
    return [line.strip() for line in text.splitlines() if line.strip()]


def _channel(line: str) -> Channel:
    """`tc1_c TC-104 40`: the trace's column, the gauge, the most uses if there is a limit."""
    code, *rest = line.split()
    if len(rest) > 2:
        raise Refused(f"thermocouple {line[:60]!r}: column, gauge, most uses, no more")
    return Channel(
        code=code,
        gauge=rest[0] if rest and rest[0] != "-" else "",
        most_uses=parse_whole(rest[1], "most uses") if len(rest) == 2 else None,
    )


def _proof(line: str) -> tuple[str, Proof]:
    """`leak 7 5`: what, every how many days, and its limit if there is one."""
    what, *rest = line.split()
    if not 1 <= len(rest) <= 2:
        raise Refused(f"{line[:60]!r}: write what, every how many days, and its limit if any")
    limit = parse_figure(rest[1], "limit") if len(rest) == 2 else None
    return what, Proof(days=parse_whole(rest[0], "days"), limit=limit)


def channels_text(furnace: Furnace) -> str:
    """The thermocouples as the form has them."""
    lines = []
    for one in furnace.channels:
        uses = "" if one.most_uses is None else f" {one.most_uses}"
        lines.append(f"{one.code} {one.gauge or '-'}{uses}")
    return "\n".join(lines)


def proofs_text(furnace: Furnace) -> str:
    """The proofs as the form has them."""
    return "\n".join(
        f"{what} {proof.days}" + ("" if proof.limit is None else f" {proof.limit:g}")
        for what, proof in furnace.proofs.items()
    )
