"""The one way to write: a command goes in, is done once, and its answer comes back.

The transaction opens, runs and commits inside `execute`, in one thread, before anything is
answered: a commit that fails is never told as a success. The key is asked before the rules, so
a repeated booking gets the answer it got first even though the part has moved on.
"""

from __future__ import annotations

import json
import logging
from collections.abc import Callable, Iterator, Sequence
from contextlib import contextmanager
from dataclasses import dataclass
from functools import cached_property
from typing import Any, ClassVar, Protocol

from sqlalchemy import Connection, insert, select, update
from sqlalchemy.exc import SQLAlchemyError

from ringwright.core.clock import Clock, SystemClock
from ringwright.core.errors import Clash, Forbidden, Missing, Refused, RingwrightError
from ringwright.core.facts import Registry
from ringwright.core.practice import check_key
from ringwright.db import FOREVER_US, Store
from ringwright.kit.about import note
from ringwright.ledger.canonical import canonical_json, digest, genesis
from ringwright.ledger.projecting import Projecting, Projector
from ringwright.ledger.tables import (
    FORM,
    BookingKey,
    Event,
    LedgerHead,
    ProjectionState,
    Refusal,
)
from ringwright.ledger.transaction import Actor, Site, Tx, check_code

log = logging.getLogger("ringwright.ledger")

Answer = dict[str, Any]

BARE_SITE = "SITE"
"""Code of the site an empty store has until somebody loads one."""
BARE_EVENTS = 2
"""What a bare site's record holds: its zone and its administrator."""


class Command(Protocol):
    """What somebody asks to be done; `key` makes it happen once (None: it is its own)."""

    operation: ClassVar[str]

    @property
    def key(self) -> str | None:
        """What makes it happen once."""

    def body(self) -> Any:
        """The normalised command as JSON values, its key left out: what the digest is over."""

    def subject(self) -> str:
        """What it is about, for the audit of refusals."""


Handler = Callable[[Tx, Any], Answer]
Allows = Callable[[Any, Actor], bool]


@dataclass(frozen=True, slots=True)
class Handling:
    """How one class of command is done, and who may ask for it."""

    handler: Handler
    allows: Allows


@dataclass(frozen=True, slots=True, kw_only=True)
class Read:
    """One snapshot of one site; everything on a page comes from the same one."""

    connection: Connection
    site: Site
    now_us: int
    """The moment the answer speaks of: the clock's, or the as-of time."""
    as_of_us: int | None
    head_seq: int
    head_hash: str

    @property
    def known_before_us(self) -> int:
        """Only what was known before this instant counts."""
        return FOREVER_US if self.as_of_us is None else self.as_of_us


def read_within(tx: Tx) -> Read:
    """The record as an open command sees it, for questions that pages ask too."""
    return Read(
        connection=tx.connection,
        site=tx.site,
        now_us=tx.now_us,
        as_of_us=None,
        head_seq=tx.head_seq,
        head_hash=tx.head_hash.hex(),
    )


SiteReader = Callable[[Connection, int], tuple[str, str, str]]


@dataclass(frozen=True, slots=True, kw_only=True)
class Rooms:
    """What the rooms teach the ledger, which knows none of them."""

    registry: Registry
    projectors: Sequence[Projector]
    handlings: Callable[[], dict[type, Handling]]
    """Asked for when the first command comes; whoever only reads never loads them."""
    read_site: SiteReader
    late_answer: Callable[[Connection, int, int], Answer]
    """The answer to a key that came from a file: (connection, site, entry number)."""


class Ledger:
    """The record of all sites of one store."""

    def __init__(
        self,
        store: Store,
        rooms: Rooms,
        clock: Clock | None = None,
    ) -> None:
        self.store = store
        self.clock = clock or SystemClock()
        self.registry = rooms.registry
        self.projecting = Projecting(rooms.projectors)
        self._rooms_handlings = rooms.handlings
        self._taught: dict[type, Handling] = {}
        self._read_site = rooms.read_site
        self._late_answer = rooms.late_answer

    def teach(self, handlings: dict[type, Handling]) -> None:
        """Add commands that only some runs know, such as the demo's."""
        self._taught.update(handlings)

    @cached_property
    def _handlings(self) -> dict[type, Handling]:
        return self._rooms_handlings()

    def sites(self, *, practice: bool = True) -> list[tuple[str, str]]:
        """(code, name) of every site, in the order opened; without practice the real ones."""
        query = select(LedgerHead.site_id, LedgerHead.code).order_by(LedgerHead.site_id)
        if not practice:
            query = query.where(LedgerHead.practice_of.is_(None))
        with self.store.read() as connection:
            rows = connection.execute(query).all()
            return [(code, self._read_site(connection, site_id)[0]) for site_id, code in rows]

    def heads(self, *, practice: bool = True) -> dict[str, int]:
        """The last entry number of each site, of the real ones alone where asked."""
        query = select(LedgerHead.code, LedgerHead.seq)
        if not practice:
            query = query.where(LedgerHead.practice_of.is_(None))
        with self.store.read() as connection:
            rows = connection.execute(query)
            return {row.code: row.seq for row in rows}

    def head(self, site_code: str | None = None) -> tuple[int, str]:
        """(last entry number, its hash in hex) of a site."""
        with self.store.read() as connection:
            row = self._head(connection, site_code)
            return row.seq, row.hash.hex()

    def _head(self, connection: Connection, site_code: str | None) -> Any:
        query = select(LedgerHead).order_by(LedgerHead.site_id)
        # Where none is named, practice does not count: the only real site is meant.
        which = (
            LedgerHead.practice_of.is_(None)
            if site_code is None
            else LedgerHead.code == site_code
        )
        query = query.where(which)
        rows = connection.execute(query.limit(2)).all()
        if not rows:
            raise Missing(
                f"no site {site_code!r} in this store" if site_code else "no site yet"
            )
        if len(rows) > 1:
            raise Missing("the store holds several sites; say which one (site CODE)")
        note(rows[0].code, rows[0].practice_of)
        return rows[0]

    def _site(self, connection: Connection, head: Any) -> Site:
        name, zone, week_starts = self._read_site(connection, head.site_id)
        return Site(
            id=head.site_id,
            code=head.code,
            name=name,
            zone=zone,
            week_starts=week_starts,
            practice_of=head.practice_of,
        )

    @contextmanager
    def read(self, site_code: str | None = None, as_of_us: int | None = None) -> Iterator[Read]:
        """Open one snapshot of a site; None is the only real site. Raises Missing."""
        with self.store.read() as connection:
            head = self._head(connection, site_code)
            yield Read(
                connection=connection,
                site=self._site(connection, head),
                now_us=self.clock.now_us() if as_of_us is None else as_of_us,
                as_of_us=as_of_us,
                head_seq=head.seq,
                head_hash=head.hash.hex(),
            )

    def open_site(self, code: str, practice_of: str | None = None) -> None:
        """Give a new site its empty record; its name and zone follow as facts.

        A bare site, which nobody has loaded anything into, takes the code over instead.
        `practice_of` is the code of the real site beside which a practice site is opened; a
        site that is there stays what it is. Raises Refused, or Missing for no such real site.
        """
        check_code("site code", code)
        with self.store.write(0) as connection:
            heads = connection.execute(select(LedgerHead).order_by(LedgerHead.site_id)).all()
            if _is_open(heads, code, practice_of):
                return
            if practice_of is not None:
                _check_practice(heads, practice_of)
            elif len(heads) == 1 and _is_bare(heads[0]):
                connection.execute(update(LedgerHead).values(code=code))
                return
            last = heads[-1].site_id if heads else 0
            row = {"site_id": last + 1, "code": code, "seq": 0, "practice_of": practice_of}
            connection.execute(insert(LedgerHead).values(hash=genesis(practice_of), **row))
            connection.execute(insert(ProjectionState).values(site_id=last + 1, form=FORM))

    def execute(self, site_code: str | None, command: Command, actor: Actor) -> Answer:
        """Do a command once and answer it; the same key again answers the same.

        Raises Forbidden, Refused, Clash or Missing; then nothing was recorded.
        """
        kind = type(command)
        handling = self._taught.get(kind) or self._handlings[kind]
        with self.store.read() as connection:
            head = self._head(connection, site_code)
        try:
            if not handling.allows(command, actor):
                roles = ", ".join(sorted(actor.roles)) or "nobody"
                raise Forbidden(
                    f"{roles} may not do this ({command.operation}); "
                    "ask somebody whose role allows it"
                )
            with self.store.write(head.site_id) as connection:
                answer = self._run(connection, head.site_id, command, actor, handling.handler)
        except RingwrightError as refusal:
            self._note_refusal(head.site_id, command, actor, refusal)
            raise
        return answer

    def _run(
        self,
        connection: Connection,
        site_id: int,
        command: Command,
        actor: Actor,
        handler: Handler,
    ) -> Answer:
        tx = self._open(connection, site_id, actor)
        asked = ""
        if command.key is not None:
            check_code("key", command.key)
            check_key(command.key, practice=tx.site.practice_of is not None)
            asked = digest(command.operation, command.body())
            stored = self._seen(connection, site_id, command.key, asked)
            if stored is not None:
                return stored
        before = tx.head_seq
        answer = handler(tx, command)
        tx.project()
        if command.key is not None:
            told = canonical_json(answer)
            connection.execute(
                insert(BookingKey).values(
                    site_id=site_id,
                    key=command.key,
                    operation=command.operation,
                    digest=asked,
                    site_seq=before + 1,
                    answer=told,
                )
            )
            # The first answer is read back from what a repeat will be told: they are the same.
            answer = json.loads(told)
        return answer

    def _open(self, connection: Connection, site_id: int, actor: Actor) -> Tx:
        head = connection.execute(select(LedgerHead).where(LedgerHead.site_id == site_id)).one()
        return Tx(
            connection=connection,
            site=self._site(connection, head),
            actor=actor,
            now_us=self.clock.now_us(),
            registry=self.registry,
            projecting=self.projecting,
            head_seq=head.seq,
            head_hash=bytes(head.hash),
        )

    def _seen(
        self, connection: Connection, site_id: int, key: str, asked: str
    ) -> Answer | None:
        row = connection.execute(
            select(BookingKey).where(BookingKey.site_id == site_id, BookingKey.key == key)
        ).first()
        if row is None:
            return None
        if row.digest != asked:
            raise Clash(
                f"key {key!r} was used for another booking; nothing was booked, "
                "send this one with a key of its own",
                code="key-reused",
            )
        if row.answer is None:  # the key came from a file, which is answered as a whole
            return self._late_answer(connection, site_id, row.site_seq)
        answer: Answer = json.loads(row.answer)
        return answer

    def _note_refusal(
        self, site_id: int, command: Command, actor: Actor, refusal: RingwrightError
    ) -> None:
        """Keep the refused try in the audit; a refusal is told even if this cannot be kept."""
        if not isinstance(refusal, Refused | Clash | Forbidden | Missing):
            return
        try:
            with self.store.write(site_id) as connection:
                connection.execute(
                    insert(Refusal).values(
                        site_id=site_id,
                        at_us=self.clock.now_us(),
                        operation=command.operation,
                        actor=actor.code,
                        subject=_storable(command.subject()[:200]),
                        code=refusal.code,
                        why=_storable(refusal.message[:2000]),
                    )
                )
        except SQLAlchemyError:
            log.exception("a refusal could not be kept in the audit")


def _storable(text: str) -> str:
    """What was refused for its letters is kept without them: PostgreSQL takes no NUL."""
    plain = text.replace("\0", "\N{REPLACEMENT CHARACTER}")
    return plain.encode("utf-8", "replace").decode("utf-8")


def _is_bare(head: Any) -> bool:
    """True for the site of an empty store, into which nobody has loaded anything."""
    return bool(head.code == BARE_SITE and head.seq <= BARE_EVENTS)


def _is_open(heads: Sequence[Any], code: str, practice_of: str | None) -> bool:
    """True when the site is there already, as it is asked for; raises Refused otherwise."""
    head = next((head for head in heads if head.code == code), None)
    if head is None or head.practice_of == practice_of:
        return head is not None
    if practice_of is None:
        raise Refused(
            f"{code} is the practice site of {head.practice_of} and stays one; its ground "
            "rules are brought up to date by `ringwright practice`",
            code="practice",
        )
    kind = f"the practice site of {head.practice_of}" if head.practice_of else "a real site"
    raise Refused(
        f"{code} is {kind} and stays one; give the practice site another code",
        code="practice",
    )


def _check_practice(heads: Sequence[Any], real: str) -> None:
    """Raise Refused or Missing unless a practice site may be opened beside this one."""
    head = next((head for head in heads if head.code == real), None)
    if head is None:
        raise Missing(f"no site {real!r} in this store")
    if head.practice_of is not None:
        raise Refused(
            f"{real} is a practice site itself; name the real site, {head.practice_of}",
            code="practice",
        )
    if _is_bare(head):
        raise Refused(
            "this store's site is still empty; load it first, then practise beside it"
        )
    other = next((head.code for head in heads if head.practice_of == real), None)
    if other is not None:
        raise Refused(f"{real} has a practice site already, {other}", code="practice")


def last_entry_us(read: Read) -> int | None:
    """When the newest entry of the site was recorded."""
    found: int | None = read.connection.execute(
        select(Event.recorded_at_us).where(
            Event.site_id == read.site.id, Event.site_seq == read.head_seq
        )
    ).scalar()
    return found
