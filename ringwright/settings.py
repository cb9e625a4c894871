"""Settings, read once from the environment and passed on; nothing else reads it."""

from __future__ import annotations

import ipaddress
import os
from collections.abc import Mapping
from dataclasses import dataclass, fields
from pathlib import Path
from typing import Any
from urllib.parse import urlsplit

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
    address: str | None = None
    """RINGWRIGHT_ADDRESS: where browsers find the pages, as `https://ringwright.shop`."""
    sign_on_issuer: str | None = None
    """RINGWRIGHT_SIGN_ON_ISSUER: the shop's OpenID Connect server; none: no sign-on by it."""
    sign_on_client: str = ""
    """RINGWRIGHT_SIGN_ON_CLIENT: who we are to that server."""
    sign_on_secret_file: Path | None = None
    """RINGWRIGHT_SIGN_ON_SECRET_FILE: a file with our secret there; none: we have none."""
    sign_on_claim: str = "sub"
    """RINGWRIGHT_SIGN_ON_CLAIM: what of its answer is a person's name at that server."""
    sign_on_name: str = ""
    """RINGWRIGHT_SIGN_ON_NAME: what the shop calls that server."""


def read_settings(environment: Mapping[str, str] = os.environ) -> Settings:
    """The settings of an environment; raises Refused for one that cannot be meant."""
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
        address=_address(environment),
        **_sign_on(environment),
    )


def place_of(address: str) -> tuple[str, str, int] | None:
    """(scheme, host, port) of a plain web address without a user; None for anything else.

    Plain http is a web address on this machine only: elsewhere anybody may listen.
    """
    if not address.isascii() or any(c <= " " or c in "\"'<>\\\x7f" for c in address):
        return None
    try:
        parts = urlsplit(address)
        host, port = parts.hostname, parts.port
    except ValueError:
        return None
    if not host or "@" in parts.netloc or parts.fragment:
        return None
    if parts.scheme == "https":
        return "https", host, port or 443
    return ("http", host, port or 80) if parts.scheme == "http" and is_loopback(host) else None


def is_loopback(host: str) -> bool:
    """True for a name or number of this machine itself."""
    try:
        return host == "localhost" or ipaddress.ip_address(host).is_loopback
    except ValueError:
        return False


def _address(environment: Mapping[str, str]) -> str | None:
    given = _text(environment, "address").removesuffix("/")
    if given and (place_of(given) is None or urlsplit(given).path or urlsplit(given).query):
        raise Refused(
            f"RINGWRIGHT_ADDRESS {given!r} is no address like https://ringwright.shop"
        )
    return given or None


def _sign_on(environment: Mapping[str, str]) -> dict[str, Any]:
    """What is set about the shop's sign-on server; raises Refused where it does not fit."""
    names = [one.name for one in fields(Settings) if one.name.startswith("sign_on_")]
    given = {name: text for name in names if (text := _text(environment, name))}
    if not given:
        return {}
    for name in ("sign_on_issuer", "sign_on_client", "address"):
        if not _text(environment, name):
            raise Refused(f"sign-on needs RINGWRIGHT_{name.upper()} too; set it")
    issuer = given["sign_on_issuer"]
    if place_of(issuer) is None or urlsplit(issuer).query:
        raise Refused(f"RINGWRIGHT_SIGN_ON_ISSUER {issuer!r} is no https address")
    if "sign_on_secret_file" in given:
        return {**given, "sign_on_secret_file": Path(given["sign_on_secret_file"])}
    return dict(given)


def _text(environment: Mapping[str, str], name: str) -> str:
    return environment.get(f"RINGWRIGHT_{name.upper()}", "").strip()
