"""Answers that need not be worked out again while the record and the minute stay the same.

Whatever a page shows follows from the record up to its head, the moment it speaks of, and the
question. Where all of these are the same, so is the answer: several screens that hear of one
booking, a page and the files made from it, and somebody who comes back share one reading.
"""

from __future__ import annotations

from collections import OrderedDict
from collections.abc import Callable, Hashable
from threading import Lock
from typing import Any, Final, Generic, TypeVar
from weakref import WeakSet

from ringwright.ledger.service import Read

Answer = TypeVar("Answer")
MOST: Final = 32
_EVERYBODY: Final[WeakSet[Remembered[Any]]] = WeakSet()


class Remembered(Generic[Answer]):
    """The newest answers of one reader; safe to ask from several threads."""

    def __init__(self, most: int = MOST) -> None:
        self._most = most
        self._lock = Lock()
        self._known: OrderedDict[Hashable, Answer] = OrderedDict()
        _EVERYBODY.add(self)

    def answer(self, read: Read, question: Hashable, work: Callable[[], Answer]) -> Answer:
        """The answer known for this head, moment and question, or else what `work` gives.

        The answer must be frozen data that follows from the record alone.
        """
        key = (read.site.code, read.head_seq, read.head_hash, read.now_us, read.as_of_us)
        return self.kept((*key, question), work)

    def kept(self, key: Hashable, work: Callable[[], Answer]) -> Answer:
        """The answer known under a key, or else what `work` gives.

        The key must name all that the answer follows from, such as the digests of what was
        read: then it stays true whatever is booked.
        """
        with self._lock:
            if key in self._known:
                self._known.move_to_end(key)
                return self._known[key]
        found = work()
        with self._lock:
            self._known[key] = found
            while len(self._known) > self._most:
                self._known.popitem(last=False)
        return found

    def forget(self) -> None:
        """Know nothing any more, as after a start."""
        with self._lock:
            self._known.clear()


def forget_everything() -> None:
    """Make the whole process forget, so that what answers cost can be seen."""
    for reader in list(_EVERYBODY):
        reader.forget()
