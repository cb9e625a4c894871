"""Shared benches and wall screens: browsers that are let in as a place, not as a person."""

from __future__ import annotations

from typing import Any, Final, cast

from sqlalchemy import Row, insert, select, update

from ringwright.core.errors import Missing, Refused
from ringwright.ledger.service import Ledger
from ringwright.ledger.tables import LedgerHead
from ringwright.people.accounts import Desk, make_code, use_code
from ringwright.people.auditing import Asker, Line, note
from ringwright.people.marks import begins_so, hash_of, new_secret
from ringwright.people.tables import Device
from ringwright.sites.queries import read_stations

BENCH: Final = "bench"
WALL: Final = "wall"
KINDS: Final = (BENCH, WALL)
SEEN_EVERY_US: Final = 3600 * 1_000_000


def invite(desk: Desk, kind: str, station: str, label: str) -> str:
    """A one-time code that lets one browser in. Raises Refused, Missing (no such station)."""
    if kind not in KINDS:
        raise Refused("a device is a shared bench or a wall screen")
    if not label.strip():
        raise Refused("say where the device stands, so that it is found again")
    with desk.ledger.store.read() as connection:
        stations = {one.code for one in read_stations(connection, desk.site_id)}
    if station and station not in stations:
        raise Missing(f"there is no station {station} at this site")
    code = make_code(desk, kind, station, label.strip()[:100])
    desk.note(label.strip()[:100], f"code for a {kind} made", "device")
    return code


def let_in(ledger: Ledger, typed: str, asker: Asker) -> str:
    """Turn a one-time code into a device's secret, told once. Raises Refused."""
    row = use_code(ledger, KINDS, typed)
    secret = new_secret()
    now_us = ledger.clock.now_us()
    with ledger.store.write(0) as connection:
        connection.execute(
            insert(Device).values(
                hash=hash_of(secret),
                site_id=row.site_id,
                kind=row.purpose,
                station=row.code,
                label=row.label,
                made_by=row.made_by,
                made_us=now_us,
                seen_us=now_us,
            )
        )
    line = Line(
        kind="device", actor=row.made_by, subject=row.label, why=f"let in as {row.purpose}"
    )
    note(ledger, row.site_id, asker, line)
    return secret


def read_device(ledger: Ledger, secret: str) -> Row[Any] | None:
    """A device with its site's code, or None when it is none or was ended."""
    with ledger.store.read() as connection:
        found: Any = connection.execute(
            select(Device, LedgerHead.code.label("site"))
            .join(LedgerHead, LedgerHead.site_id == Device.site_id)
            .where(Device.hash == hash_of(secret), Device.ended_us.is_(None))
        ).first()
        return cast("Row[Any] | None", found)


def seen(ledger: Ledger, device: Row[Any]) -> bool:
    """Note once an hour that the device is in use; True when that was noted now."""
    now_us = ledger.clock.now_us()
    if now_us - device.seen_us < SEEN_EVERY_US:
        return False
    with ledger.store.write(0) as connection:
        mine = update(Device).where(Device.hash == device.hash)
        connection.execute(mine.values(seen_us=now_us))
    return True


def devices(ledger: Ledger, site_id: int) -> list[Row[Any]]:
    """The devices let in now, by where they stand."""
    query = select(Device).where(Device.site_id == site_id, Device.ended_us.is_(None))
    with ledger.store.read() as connection:
        return list(connection.execute(query.order_by(Device.label, Device.made_us)))


def end_device(desk: Desk, short: str) -> None:
    """A device is let in no more. `short` are the first letters of its hash."""
    row = begins_so(devices(desk.ledger, desk.site_id), short)
    if row is None:
        raise Missing("there is no such device")
    with desk.ledger.store.write(0) as connection:
        mine = update(Device).where(Device.hash == row.hash)
        connection.execute(mine.values(ended_us=desk.ledger.clock.now_us()))
    desk.note(row.label, f"{row.kind} ended", "device")
