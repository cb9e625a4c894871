"""An independent referee: does a store hold what its callers were told?

It imports nothing of the product. It reads the callers' log (JSON lines `{key, body, answer}`,
one line an answer received; retried keys stand several times) and the database itself with the
plain drivers, and prints every disagreement. Exit 0: none. The chain is computed anew from its
description: SHA-256 over the previous hash and the columns joined by U+001F, an absent one
being U+0000; the first previous hash is 32 zero bytes.
"""

from __future__ import annotations

import hashlib
import json
import sqlite3
import sys
from collections import Counter
from pathlib import Path
from typing import Any
from urllib.parse import parse_qs, urlsplit

COLUMNS = (
    "site_seq, key, subject_kind, subject, kind, v, at_us, recorded_at_us, known_at_us, zone, "
    "actor, approver, station, corrects, payload, prev_hash, hash"
)
NAMES = COLUMNS.split(", ")


def ask(url: str, query: str) -> list[tuple[Any, ...]]:
    """The rows of a query, over a connection of its own."""
    if url.startswith("sqlite:///"):
        connection = sqlite3.connect(url.removeprefix("sqlite:///"))
        try:
            return connection.execute(query).fetchall()
        finally:
            connection.close()
    import psycopg

    with psycopg.connect(plain(url)) as postgres:
        return postgres.execute(query.encode()).fetchall()


def plain(url: str) -> str:
    """A SQLAlchemy URL of PostgreSQL as the driver takes it."""
    parts = urlsplit(url)
    given = {name: values[0] for name, values in parse_qs(parts.query).items()}
    host = given.get("host", parts.hostname)
    port = given.get("port", parts.port or 5432)
    return f"host={host} port={port} user={parts.username} dbname={parts.path[1:]}"


def check_file(url: str) -> list[str]:
    """SQLite's own opinion of its file."""
    if not url.startswith("sqlite"):
        return []
    said = [row[0] for row in ask(url, "PRAGMA integrity_check")]
    return [] if said == ["ok"] else [f"integrity_check: {said}"]


def check_chain(url: str) -> list[str]:
    """Numbers without gaps, every hash right, the head at the end."""
    troubles, previous, count = [], bytes(32), 0
    for row in ask(url, f"SELECT {COLUMNS} FROM event WHERE site_id = 1 ORDER BY site_seq"):
        count += 1
        *columns, claimed, own = row
        text = "\x1f".join("\x00" if column is None else str(column) for column in columns)
        expected = hashlib.sha256(previous + text.encode()).digest()
        if columns[0] != count:
            troubles.append(f"entry {count} is missing, {columns[0]} stands there")
        if bytes(claimed) != previous or bytes(own) != expected:
            troubles.append(f"entry {columns[0]}: the chain is broken")
        previous = bytes(own)
    heads = [(seq, bytes(own)) for seq, own in ask(url, "SELECT seq, hash FROM ledger_head")]
    if heads != [(count, previous)]:
        troubles.append(f"the head says {heads}, the entries end at {count}")
    return troubles


def check_calls(url: str, log: list[dict[str, Any]]) -> list[str]:
    """Everything acknowledged is there once, as acknowledged; nothing else is there."""
    rows = [dict(zip(NAMES, row, strict=True)) for row in _bookings(url)]
    stored = Counter(row["key"] for row in rows)
    by_key = {row["key"]: row for row in rows}
    troubles = [f"key {key} is booked {n} times" for key, n in stored.items() if n > 1]
    first: dict[str, Any] = {}
    for line in log:
        key, answer = line["key"], line["answer"]
        if first.setdefault(key, answer) != answer:
            troubles.append(f"key {key} was answered in two ways")
        if key not in by_key:
            troubles.append(f"key {key} was acknowledged and is lost")
        else:
            troubles += _disagreement(line["body"], answer["event"], by_key[key])
    troubles += [f"key {key} is booked, nobody sent it" for key in set(by_key) - set(first)]
    acts = Counter((row["subject"], row["kind"], row["payload"]) for row in rows)
    return troubles + [f"{act} is there {n} times" for act, n in acts.items() if n > 1]


def _bookings(url: str) -> list[tuple[Any, ...]]:
    return ask(url, f"SELECT {COLUMNS} FROM event WHERE subject_kind = 'part'")


def _disagreement(body: dict[str, Any], told: dict[str, Any], row: dict[str, Any]) -> list[str]:
    payload = json.loads(row["payload"])
    pairs = {
        "site_seq": (told["site_seq"], row["site_seq"]),
        "serial": (told["serial"], row["subject"]),
        "act": (told["act"], row["kind"]),
        "step": (told["step"], payload.get("step")),
        "sent serial": (body["serial"], row["subject"]),
        "sent act": (body["act"], row["kind"]),
        "sent step": (body.get("step"), payload.get("step")),
        "sent outcome": (body.get("outcome"), payload.get("outcome")),
    }
    return [
        f"entry {row['site_seq']}: {name} {one!r} was told, {other!r} is stored"
        for name, (one, other) in pairs.items()
        if one != other
    ]


def check_parts(url: str, log: list[dict[str, Any]]) -> list[str]:
    """Each part stands where the answer with its highest number left it."""
    last: dict[str, Any] = {}
    for line in log:
        told = line["answer"]
        serial = told["event"]["serial"]
        before = last.get(serial)
        if before is None or before["event"]["site_seq"] < told["event"]["site_seq"]:
            last[serial] = told
    rows = ask(url, "SELECT serial, place, step, last_seq FROM part_now")
    there = {serial: (place, step, seq) for serial, place, step, seq in rows}
    told = {
        serial: (answer["part"]["place"], answer["part"]["step"], answer["event"]["site_seq"])
        for serial, answer in last.items()
    }
    return [
        f"part {serial}: told {told.get(serial)}, stored {there.get(serial)}"
        for serial in sorted(set(told) | set(there))
        if told.get(serial) != there.get(serial)
    ]


def check(url: str, log: list[dict[str, Any]]) -> list[str]:
    """Every disagreement between a store and its callers' log."""
    found = check_file(url) + check_chain(url)
    return found + check_calls(url, log) + check_parts(url, log)


def main(url: str, path: str) -> int:
    """Print the disagreements and how much was compared."""
    log = [json.loads(line) for line in Path(path).read_text().splitlines()]
    troubles = check(url, log)
    compared = {"answers": len(log), "keys": len({line["key"] for line in log})}
    sys.stdout.write("\n".join([*troubles[:50], json.dumps(compared)]) + "\n")
    return 1 if troubles else 0


if __name__ == "__main__":
    sys.exit(main(sys.argv[1], sys.argv[2]))
