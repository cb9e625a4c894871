"""Settings, read once from the environment and passed on; nothing else reads it."""

from __future__ import annotations

import ipaddress
import os
import re
from collections.abc import Mapping
from dataclasses import dataclass, fields
from pathlib import Path
from typing import Any
from urllib.parse import urlsplit

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
    mail_host: str = ""
    """RINGWRIGHT_MAIL_HOST: the shop's SMTP server; none: no report is sent."""
    mail_port: int = 587
    """RINGWRIGHT_MAIL_PORT: its port."""
    mail_security: str = "starttls"
    """RINGWRIGHT_MAIL_SECURITY: `starttls`, `tls`, or `none` on this machine only."""
    mail_user: str = ""
    """RINGWRIGHT_MAIL_USER: who we are to it; none: it asks nobody."""
    mail_password_file: Path | None = None
    """RINGWRIGHT_MAIL_PASSWORD_FILE: a file with our password there."""
    mail_from: str = ""
    """RINGWRIGHT_MAIL_FROM: the address that reports come from."""
    mail_to: tuple[str, ...] = ()
    """RINGWRIGHT_MAIL_TO: the addresses that they go to, with commas."""

    @property
    def names(self) -> tuple[str, ...]:
        """The names that the server answers to: those given, and that of its address."""
        own = urlsplit(self.address).netloc if self.address else ""
        return (*self.hosts, own) if own else self.hosts


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
        address=_address(environment),
        **_sign_on(environment),
        **_mail(environment),
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


def _mail(environment: Mapping[str, str]) -> dict[str, Any]:
    """What is set about mail; raises Refused where it does not fit. Empty without a host."""
    host, security = _text(environment, "mail_host"), _text(environment, "mail_security")
    if not host:
        return {}
    security = security or "starttls"
    if security not in ("starttls", "tls", "none"):
        raise Refused("RINGWRIGHT_MAIL_SECURITY is starttls, tls or none")
    if security == "none" and not is_loopback(host):
        raise Refused("RINGWRIGHT_MAIL_SECURITY none is for a server on this machine only")
    port = _text(environment, "mail_port") or ("465" if security == "tls" else "587")
    if not (port.isascii() and port.isdigit()) or not 0 < int(port[:6]) < 65536:
        raise Refused(f"RINGWRIGHT_MAIL_PORT {port[:20]!r} is not a port")
    user, kept = _text(environment, "mail_user"), _text(environment, "mail_password_file")
    if bool(user) != bool(kept):
        raise Refused("RINGWRIGHT_MAIL_USER and RINGWRIGHT_MAIL_PASSWORD_FILE go together")
    sender = _mail_address("mail_from", _text(environment, "mail_from"))
    listed = _listed(environment.get("RINGWRIGHT_MAIL_TO", ""))
    if not listed:
        raise Refused("RINGWRIGHT_MAIL_TO names nobody; set it")
    return {
        "mail_host": host, "mail_port": int(port), "mail_security": security,
        "mail_user": user, "mail_password_file": Path(kept) if kept else None,
        "mail_from": sender, "mail_to": tuple(_mail_address("mail_to", to) for to in listed),
    }  # fmt: skip


def _mail_address(name: str, text: str) -> str:
    if not re.fullmatch(r"[^\s@<>,;:\"\\]+@[^\s@<>,;:\"\\]+", text, re.ASCII):
        raise Refused(f"RINGWRIGHT_{name.upper()} {text[:60]!r} is no address like a@b.example")
    return text


def _text(environment: Mapping[str, str], name: str) -> str:
    return environment.get(f"RINGWRIGHT_{name.upper()}", "").strip()
