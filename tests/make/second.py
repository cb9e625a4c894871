"""A second person beside who acts, for tests of acts that need one."""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import replace
from typing import Any

from ringwright.ledger.service import Command, Ledger
from ringwright.ledger.transaction import Actor, Second


def signed(who: Actor, code: str, role: str) -> Actor:
    """Who acts, with a second person who signs too."""
    return replace(who, second=Second(code=code, roles=frozenset({role})))


@contextmanager
def signing(ledger: Ledger, code: str, role: str) -> Iterator[None]:
    """Let a second person sign whatever this ledger is asked for meanwhile, pages included."""
    plain = ledger.execute

    def execute(site_code: str | None, command: Command, actor: Actor) -> dict[str, Any]:
        return plain(site_code, command, signed(actor, code, role))

    ledger.execute = execute  # type: ignore[method-assign]
    try:
        yield
    finally:
        ledger.execute = plain  # type: ignore[method-assign]
