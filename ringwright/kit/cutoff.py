"""What a file was drawn from, in one line: the moment, the site, the head of the record."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Protocol

from ringwright.kit.numbers import Figures
from ringwright.kit.words import Words


class Drawn(Protocol):
    """What every page's figures know of the snapshot they were read from."""

    @property
    def site(self) -> str: ...  # noqa: D102
    @property
    def site_name(self) -> str: ...  # noqa: D102
    @property
    def zone(self) -> str: ...  # noqa: D102
    @property
    def now_us(self) -> int: ...  # noqa: D102
    @property
    def as_of(self) -> bool: ...  # noqa: D102
    @property
    def head_seq(self) -> int: ...  # noqa: D102
    @property
    def head_hash(self) -> str: ...  # noqa: D102


@dataclass(frozen=True, slots=True, kw_only=True)
class Snapshot:
    """The same for figures that carry none of it themselves."""

    site: str
    site_name: str
    zone: str
    now_us: int
    head_seq: int
    head_hash: str
    as_of: bool = False


def cut_off(drawn: Drawn, words: Words, show: Figures) -> str:
    """As of when, in which zone, from which entry: with the whole hash, to compare."""
    _ = words._
    moment = show.full(drawn.now_us, drawn.zone)
    pieces = [
        _("as of %(moment)s, then known", moment=moment) if drawn.as_of else moment,
        _("%(site)s time (%(zone)s)", site=drawn.site_name or drawn.site, zone=drawn.zone),
        _(
            "from entry %(entry)s, head %(head)s",
            entry=show.count(drawn.head_seq), head=drawn.head_hash,
        ),
    ]  # fmt: skip
    return ", ".join(pieces)
