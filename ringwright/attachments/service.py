"""Keep bytes in the store, under what they are."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Final

from sqlalchemy import insert, select

from ringwright.attachments.content import digest_of
from ringwright.attachments.rules import KINDS, check_size, media_of
from ringwright.attachments.tables import Attachment
from ringwright.core.errors import Refused
from ringwright.ledger.transaction import Tx

AT_ONCE: Final = 500
"""Digests asked for in one statement."""


def keep(tx: Tx, data: bytes, media: str) -> str:
    """Keep bytes with the command that is open; their SHA-256 in hexadecimal.

    What is there already is not kept twice. `data` is what `content.judged` made of a file, so
    that nothing is decoded while the site's lock is held. Raises Refused where the bytes are
    not of that media type, or too large for it; what the command refuses keeps nothing.
    """
    (digest,) = keep_many(tx, [data], media)
    return digest


def keep_many(tx: Tx, contents: Sequence[bytes], media: str) -> list[str]:
    """As `keep`, for many of one media type at once: their digests in the order given."""
    for data in contents:
        if media not in KINDS or media_of(data) != media:
            raise Refused(f"the attachment is no {media}; choose the file again")
        check_size("the attachment", data, KINDS[media])
    digests = [digest_of(data) for data in contents]
    new = dict(zip(digests, contents, strict=True))
    for digest in _kept(tx, digests):
        del new[digest]
    if new:
        every = {"site_id": tx.site.id, "media": media, "kept_us": tx.now_us}
        rows = [{**every, "digest": digest, "content": data} for digest, data in new.items()]
        tx.connection.execute(insert(Attachment), rows)
    return digests


def _kept(tx: Tx, digests: Sequence[str]) -> set[str]:
    """Those that the site keeps already."""
    query = select(Attachment.digest).where(Attachment.site_id == tx.site.id)
    found: set[str] = set()
    for start in range(0, len(digests), AT_ONCE):
        some = digests[start : start + AT_ONCE]
        found.update(tx.connection.execute(query.where(Attachment.digest.in_(some))).scalars())
    return found
