"""Settings, read once from the environment and passed on; nothing else reads it."""

from __future__ import annotations

import ipaddress
import os
import re
from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import Path

from ringwright.core.errors import Refused

ROOT = Path(__file__).resolve().parent.parent
HOST = re.compile(r"(\[[0-9a-f:.]+\]|[a-z0-9_.-]{1,253})(?::(\d{1,5}))?", re.ASCII)
"""A name, or an address in its brackets, and a port if one is given."""


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
    hosts: tuple[str, ...] = ()
    """RINGWRIGHT_HOSTS: names that the server answers to, beside those of its own machine."""
    proxies: tuple[str, ...] = ("127.0.0.1",)
    """RINGWRIGHT_PROXIES: addresses whose word on who asks, and whether over TLS, is taken."""
    exports_a_minute: int = 30
    """RINGWRIGHT_EXPORTS_A_MINUTE: files that one asker may take in a minute."""


def read_settings(environment: Mapping[str, str] = os.environ) -> Settings:
    """The settings of an environment; raises Refused naming the one that is no good."""
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
        hosts=tuple(map(_host, _listed(environment.get("RINGWRIGHT_HOSTS", "")))),
        proxies=tuple(map(_proxy, _listed(environment.get("RINGWRIGHT_PROXIES", "127.0.0.1")))),
        exports_a_minute=_exports(environment.get("RINGWRIGHT_EXPORTS_A_MINUTE", "30")),
    )


def _listed(text: str) -> list[str]:
    return [name.strip() for name in text.split(",") if name.strip()]


def _host(name: str) -> str:
    if not HOST.fullmatch(name.lower()):
        raise Refused(f"RINGWRIGHT_HOSTS {name!r} is no name such as cell.example or cell:8443")
    return name.lower()


def _proxy(text: str) -> str:
    """An address or a network; `*` would let anybody say who asks."""
    try:
        return str(ipaddress.ip_network(text) if "/" in text else ipaddress.ip_address(text))
    except ValueError:
        raise Refused(f"RINGWRIGHT_PROXIES {text!r} is no address or network") from None


def _exports(text: str) -> int:
    if not text.isascii() or not text.isdigit() or not 0 < int(text[:6]) <= 10_000:
        raise Refused(f"RINGWRIGHT_EXPORTS_A_MINUTE {text[:20]!r} is not from 1 to 10000")
    return int(text)
