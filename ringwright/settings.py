"""Settings, read once from the environment and passed on; nothing else reads it."""

from __future__ import annotations

import os
from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import Path

from ringwright.core.errors import Refused

ROOT = Path(__file__).resolve().parent.parent


@dataclass(frozen=True, slots=True, kw_only=True)
class Settings:
    """What may differ between two installations."""

    database_url: str
    """RINGWRIGHT_DATABASE_URL: SQLAlchemy URL of the store."""
    port: int = 8321
    """RINGWRIGHT_PORT: where the pages are served, on this machine only."""
    zone: str = "UTC"
    """RINGWRIGHT_ZONE: IANA zone of the first site of an empty store."""
    now: str | None = None
    """RINGWRIGHT_NOW: ISO time the clock stands at, for tests."""
    locale: str = "en"
    """RINGWRIGHT_LOCALE: language of the pages."""


def read_settings(environment: Mapping[str, str] = os.environ) -> Settings:
    """The settings of an environment; raises Refused for a port that is none."""
    default = f"sqlite:///{ROOT / 'data' / 'ringwright.sqlite'}"
    port = environment.get("RINGWRIGHT_PORT", "8321")
    if not port.isdigit() or not 0 < int(port) < 65536:
        raise Refused(f"RINGWRIGHT_PORT {port!r} is not a port")
    return Settings(
        database_url=environment.get("RINGWRIGHT_DATABASE_URL", default),
        port=int(port),
        zone=environment.get("RINGWRIGHT_ZONE", "UTC"),
        now=environment.get("RINGWRIGHT_NOW") or None,
        locale=environment.get("RINGWRIGHT_LOCALE", "en"),
    )
