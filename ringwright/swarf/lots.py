"""Lots of material, what they may be used for, and what they were used for."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property

from ringwright.kit.cutoff import Snapshot
from ringwright.ledger.drawn import snapshot_of
from ringwright.ledger.service import Read
from ringwright.material.card import Alloy, Lot
from ringwright.material.queries import read_alloys, read_lots
from ringwright.material.rules import permits, turns
from ringwright.routecards.queries import read_revisions
from ringwright.swarf.queries import Went, where_lots_went


@dataclass(frozen=True, kw_only=True)
class LotsSheet:
    """Everything the Lots page shows."""

    drawn: Snapshot
    lots: tuple[Lot, ...]
    alloys: tuple[Alloy, ...]
    went: tuple[Went, ...]
    families: dict[str, str]
    """Product to its family."""
    find: str = ""

    @property
    def listed(self) -> tuple[Lot, ...]:
        """The registered lots that are asked for."""
        wanted = self.find.casefold()
        return tuple(one for one in self.lots if wanted in one.code.casefold())

    @cached_property
    def by_code(self) -> dict[str, Lot]:
        """The registered lots."""
        return {one.code: one for one in self.lots}

    @property
    def breaches(self) -> tuple[Went, ...]:
        """Registered lots on products they are not permitted for."""
        return tuple(
            one
            for one in self.went
            if one.lot in self.by_code
            and not permits(self.by_code[one.lot], self.families.get(one.product, "other"))
        )

    @property
    def unrecorded(self) -> tuple[Went, ...]:
        """Lots on parts that nobody registered, those on what turns first."""
        found = [one for one in self.went if one.lot not in self.by_code]
        return tuple(sorted(found, key=lambda one: not self.turns(one.product)))

    def turns(self, product: str) -> bool:
        """True for a product that turns."""
        return turns(self.families.get(product, "other"))

    def of(self, lot: str) -> tuple[Went, ...]:
        """Where a lot went."""
        return tuple(one for one in self.went if one.lot == lot)


def read_lots_sheet(read: Read, find: str = "") -> LotsSheet:
    """Everything the Lots page shows; `find` keeps the registered lots whose code has it."""
    connection, site_id, known = read.connection, read.site.id, read.known_before_us
    cards = {one.product: one.card for one in read_revisions(connection, site_id)}
    return LotsSheet(
        drawn=snapshot_of(read, to_the_minute=True),
        lots=tuple(read_lots(connection, site_id, None, known).values()),
        alloys=tuple(read_alloys(connection, site_id, known).values()),
        went=tuple(where_lots_went(read)),
        find=find,
        families={product: card.family for product, card in cards.items()},
    )
