"""Publish a week: put its numbers on record as they stand, with the entry they were made from.

Published again, a week has another edition; none is ever taken back.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any, ClassVar, Final

from ringwright.core.errors import Clash, Refused
from ringwright.core.facts import Entry
from ringwright.flow.facts import WeekPublished
from ringwright.flow.model import WeekNumbers
from ringwright.flow.service import read_week_numbers, week_json
from ringwright.ledger.canonical import digest
from ringwright.ledger.service import Handling, read_within
from ringwright.ledger.transaction import Draft, Tx, check_code
from ringwright.people.allowing import allows

LONGEST_REASON: Final = 2_000


@dataclass(frozen=True, slots=True, kw_only=True)
class PublishWeek:
    """Publish one product's week; `seen` is the digest of its numbers as they were shown."""

    operation: ClassVar[str] = "publish"
    product: str
    week: str
    seen: str
    key: str | None
    reason: str = ""

    def body(self) -> Any:
        """What is published, as it was seen, and why again."""
        return {
            "product": self.product,
            "week": self.week,
            "seen": self.seen,
            "reason": self.reason,
        }

    def subject(self) -> str:
        """The product and its week."""
        return f"{self.product} {self.week}"


def numbers_digest(numbers: WeekNumbers) -> str:
    """What stands for the numbers on a form: another figure, another digest."""
    return digest("week", week_json(numbers))


def publish_week(tx: Tx, command: PublishWeek) -> dict[str, Any]:
    """Record the numbers; refused where they are not the ones that were seen."""
    reason = check_code("reason", command.reason.strip())
    if len(reason) > LONGEST_REASON:
        raise Refused(f"the reason is longer than {LONGEST_REASON} letters; say it shorter")
    numbers = read_week_numbers(read_within(tx), command.product, command.week)
    if tx.now_us < numbers.start_us:
        raise Refused(f"week {command.week} has not begun; there is nothing to publish yet")
    if numbers_digest(numbers) != command.seen:
        raise Clash(
            f"the numbers of {command.week} have moved since they were shown: "
            f"output is {numbers.output} now. Nothing was published; look again",
            code="acted-first",
        )
    earlier = tx.history("week", command.subject())
    _check_reason(earlier, reason)
    entry = tx.append(
        Draft(
            fact=WeekPublished(
                numbers=week_json(numbers),
                head_seq=tx.head_seq,
                head_hash=tx.head_hash.hex(),
                reason=reason or None,
            ),
            subject=command.subject(),
            at_us=tx.now_us,
            key=command.key,
        ),
        earlier,
    )
    return _answer(command, entry, len(earlier) + 1)


def _check_reason(earlier: list[Entry], reason: str) -> None:
    if earlier and not reason:
        raise Refused("this week is published already; say why it is published again")


def _answer(command: PublishWeek, entry: Entry, edition: int) -> dict[str, Any]:
    return {
        "entry": entry.seq,
        "edition": edition,
        "product": command.product,
        "week": command.week,
        "output": entry.data["numbers"]["output"],
        "head_seq": entry.data["head_seq"],
        "head_hash": entry.data["head_hash"],
    }


HANDLINGS: Final[dict[type, Handling]] = {
    PublishWeek: Handling(publish_week, allows("publish"))
}
