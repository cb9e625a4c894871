"""Swarf containers as the pages show them."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

from ringwright.core.calendar import HOUR_US
from ringwright.core.errors import Missing
from ringwright.core.facts import Entry
from ringwright.kit.cutoff import Snapshot
from ringwright.ledger.drawn import snapshot_of
from ringwright.ledger.service import Read
from ringwright.massing.account import agree
from ringwright.massing.mass import Mass, net
from ringwright.massing.swarf import dry
from ringwright.material.card import Lot
from ringwright.material.queries import (
    containers_here,
    containers_since,
    read_alloys,
    read_containers,
    read_entries,
    read_lots,
)
from ringwright.material.rules import OPEN, Container
from ringwright.material.scales import read_scales
from ringwright.swarf.model import batch_of
from ringwright.swarf.queries import Went, where_lots_went

GONE_US: Final = 8 * 7 * 24 * HOUR_US
"""How long a container that left stays on the page."""


@dataclass(frozen=True, kw_only=True)
class Held:
    """A container with what it comes to."""

    container: Container
    booked: Mass
    """What was put in, as weighed."""
    dry: Mass
    inside: Mass | None
    """Full less empty; None before it was weighed full."""

    @property
    def agrees(self) -> bool | None:
        """True where the weighing says what was booked, within k = 2; None before it."""
        return None if self.inside is None else agree(self.inside, self.booked)


def held_of(container: Container) -> Held:
    """What a container comes to."""
    batches = [batch_of(container, line) for line in container.lines]
    weighed, tare = container.weighed, Mass(kg=container.tare_kg, u_kg=container.tare_u_kg)
    booked_u = sum(line.u_kg**2 for line in container.lines) ** 0.5
    return Held(
        container=container,
        booked=Mass(kg=container.booked_kg, u_kg=booked_u),
        dry=dry(one.swarf for one in batches),
        inside=None if weighed is None else net(Mass(kg=weighed.kg, u_kg=weighed.u_kg), tare),
    )


@dataclass(frozen=True, kw_only=True)
class ContainersSheet:
    """The containers here, and those that left lately."""

    drawn: Snapshot
    here: tuple[Held, ...]
    gone: tuple[Held, ...]
    alloys: tuple[str, ...]
    scales: dict[str, float]

    @property
    def open(self) -> tuple[Held, ...]:
        """Those that take swarf."""
        return tuple(
            one for one in self.here if one.container.state == OPEN and not one.container.held
        )

    @property
    def held(self) -> tuple[Held, ...]:
        """Found mixed and still here."""
        return tuple(one for one in self.here if one.container.held)


def read_containers_sheet(read: Read) -> ContainersSheet:
    """Everything the Swarf containers page shows."""
    connection, site_id, known = read.connection, read.site.id, read.known_before_us
    codes: set[str] | None = None
    if read.as_of_us is None:
        # What stood where at a past moment is not in the rows of now: then all are looked at.
        since_us = read.now_us - GONE_US
        codes = set(containers_here(connection, site_id))
        codes |= set(containers_since(connection, site_id, since_us))
    found = [held_of(one) for one in read_containers(connection, site_id, codes, known)]
    alloys = read_alloys(connection, site_id, known).values()
    left = [one for one in found if _left(one.container)]
    return ContainersSheet(
        drawn=snapshot_of(read, to_the_minute=True),
        here=tuple(
            sorted(
                (one for one in found if not _left(one.container)),
                key=lambda one: (not one.container.held, one.container.state != OPEN,
                                 one.container.code),
            )
        ),
        gone=tuple(
            one
            for one in sorted(left, key=lambda one: -one.container.sent_us)
            if one.container.last_us >= read.now_us - GONE_US
        ),
        alloys=tuple(one.code for one in alloys if not one.withdrawn),
        scales=read_scales(connection, site_id),
    )  # fmt: skip


def _left(container: Container) -> bool:
    return container.state not in ("open", "sealed")


@dataclass(frozen=True, kw_only=True)
class ContainerSheet:
    """One container: its contents, its entries, the lot it became, where that went."""

    drawn: Snapshot
    held: Held
    entries: tuple[Entry, ...]
    lot: Lot | None
    went: tuple[Went, ...]
    scales: dict[str, float]


def read_container_sheet(read: Read, code: str) -> ContainerSheet:
    """One container; raises Missing."""
    connection, site_id, known = read.connection, read.site.id, read.known_before_us
    found = read_containers(connection, site_id, [code], known)
    if not found:
        raise Missing(f"there is no swarf container {code[:60]}")
    lots = read_lots(connection, site_id, [found[0].lot], known) if found[0].lot else {}
    return ContainerSheet(
        drawn=snapshot_of(read, to_the_minute=True),
        held=held_of(found[0]),
        entries=tuple(read_entries(connection, site_id, [code], known)[code]),
        lot=lots.get(found[0].lot),
        went=tuple(where_lots_went(read, [found[0].lot])) if found[0].lot else (),
        scales=read_scales(connection, site_id),
    )
