"""Where a request comes from, as whoever counts requests should see it."""

from __future__ import annotations

import ipaddress

from starlette.requests import HTTPConnection

UNKNOWN = "unknown"


def client_address(connection: HTTPConnection) -> str:
    """The address that a limit counts by.

    It is the one of the socket; the server has put the one a trusted proxy names in its place
    (`RINGWRIGHT_PROXIES`). No header is read here. Of an IPv6 address the network (/64) counts:
    a single machine may use any address of it.
    """
    if connection.client is None:
        return UNKNOWN
    try:
        found = ipaddress.ip_address(connection.client.host.partition("%")[0])
    except ValueError:
        return connection.client.host[:64] or UNKNOWN
    if isinstance(found, ipaddress.IPv4Address):
        return str(found)
    if found.ipv4_mapped is not None:
        return str(found.ipv4_mapped)
    return str(ipaddress.ip_network((found, 64), strict=False))
