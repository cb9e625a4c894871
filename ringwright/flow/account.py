"""Every part accounted for: what came into the cell in a span against what became of it.

A release, scrap or use that the record still told at the opening, and that a sentence or a
correction took back before the closing, puts its part back into the cell: it is *reopened*, and
told apart from the parts that stood there at the opening all along.
"""

from __future__ import annotations

from typing import Any, Final

from sqlalchemy import ColumnElement, and_, exists, func, or_, select

from ringwright.flow.model import Account, WeekNumbers
from ringwright.flow.queries import MOMENTS, Sql, Window, believed, life_counts, there_at
from ringwright.flow.service import moment_of, read_wips
from ringwright.ledger.service import Read
from ringwright.parts.tables import Life, Visit

_ENDS: Final = (
    (Life.released_us, Life.released_known_us),
    (Life.scrapped_us, Life.scrapped_known_us),
    (Life.used_us, Life.used_known_us),
)


def read_accounts(
    read: Read, window: Window, numbers: dict[str, WeekNumbers]
) -> dict[str, Account]:
    """The account of each product whose numbers are given, over the same window."""
    closing_us = min(window.end_us, moment_of(read))
    opening_us = min(window.start_us, closing_us)
    stood = read_wips(read, window.products, opening_us)
    rows = read.connection.execute(reopened(read, window.products, opening_us, closing_us))
    back = {row.product: row.parts for row in rows}
    return {
        product: _account(found, sum(stood.get(product, {}).values()), back.get(product, 0))
        for product, found in numbers.items()
    }


def read_account(read: Read, product: str, start_us: int, end_us: int) -> Account:
    """The account of one product over any span [us), to now where it reaches past it."""
    window = Window(products=(product,), start_us=start_us, end_us=end_us)
    closing_us = min(end_us, moment_of(read))
    opening_us = min(start_us, closing_us)
    run = read.connection.execute
    lives = {row.moment: row.parts for row in run(life_counts(read, window))}
    stood, stands = (
        sum(read_wips(read, window.products, at_us).get(product, {}).values())
        for at_us in (opening_us, closing_us)
    )
    rows = run(reopened(read, window.products, opening_us, closing_us))
    back = sum(row.parts for row in rows)
    moments = {moment: lives.get(moment, 0) for moment in MOMENTS}
    return Account(opening=stood - back, reopened=back, closing=stands, **moments)


def account_json(account: Account) -> dict[str, int]:
    """The account as the API gives it."""
    return {
        "opening": account.opening,
        "created": account.created,
        "reopened": account.reopened,
        "released": account.released,
        "scrapped": account.scrapped,
        "used": account.used,
        "closing": account.closing,
    }


def _account(numbers: WeekNumbers, stood: int, back: int) -> Account:
    """As believed now, `stood` were there when the week began; `back` of them came back."""
    return Account(
        opening=stood - back,
        created=numbers.created,
        reopened=back,
        released=numbers.output,
        scrapped=numbers.scrapped,
        used=numbers.used,
        closing=sum(numbers.wip.values()),
    )


def reopened(read: Read, products: tuple[str, ...], opening_us: int, closing_us: int) -> Sql:
    """Parts in the cell at the opening as believed now, which the record of the opening said
    had left before it, and the record of the closing no more: taken back in between."""
    # Not the bare column, as in `queries`: few stand there, many are long gone.
    product = Visit.product.concat("")
    return (
        select(product.label("product"), func.count(Visit.serial.distinct()).label("parts"))
        .where(
            believed(read, Visit),
            there_at(read, opening_us),
            product.in_(products),
            _gone(read, opening_us, opening_us),
            ~_gone(read, opening_us, closing_us),
        )
        .group_by(product)
    )


def _gone(read: Read, before_us: int, known_us: int) -> ColumnElement[bool]:
    """True for a visit's part that had left before an instant, as the record of another knew:
    rows with `known_from_us < T <= known_to_us`, moments known before T."""
    left: list[Any] = [and_(instant < before_us, known < known_us) for instant, known in _ENDS]
    return exists().where(
        Life.site_id == read.site.id,
        Life.serial == Visit.serial,
        Life.known_from_us < known_us,
        Life.known_to_us >= known_us,
        or_(*left),
    )
