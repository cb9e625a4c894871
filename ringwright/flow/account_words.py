"""The account of the parts in words: one line of sums, the same on pages and in files. Pure."""

from __future__ import annotations

from ringwright.flow.model import Account
from ringwright.kit.numbers import Figures
from ringwright.kit.words import Words


def account_line(name: str, account: Account, words: Words, show: Figures) -> str:
    """What came into the cell against what became of it, and whether it balances."""
    verdict = words._("It balances.")
    if account.off_by:
        off = show.signed(account.off_by)
        verdict = words._("It does not balance: off by %(parts)s.", parts=off)
    return f"{name}: {account_sums(account, words, show)}. {verdict}"


def span_line(
    of: tuple[str, str], span: tuple[int, int], account: Account, manner: tuple[Words, Figures]
) -> str:
    """The same of a product over a span: (product, zone) and both its ends [us)."""
    (product, zone), (start_us, end_us), (words, show) = of, span, manner
    name = words._(
        "All %(product)s, %(first)s to %(last)s",
        product=product,
        first=show.date(start_us, zone),
        last=show.date(end_us - 1, zone),
    )
    return account_line(name, account, words, show)


def account_sums(a: Account, words: Words, show: Figures) -> str:
    """The account as one line of sums: the page and every file say the same."""
    return words._(
        "%(opening)s opening + %(created)s created + %(reopened)s reopened = "
        "%(released)s released + %(scrapped)s scrapped + %(used)s used in test or making + "
        "%(closing)s closing",
        opening=show.count(a.opening), created=show.count(a.created),
        reopened=show.count(a.reopened), released=show.count(a.released),
        scrapped=show.count(a.scrapped), used=show.count(a.used),
        closing=show.count(a.closing),
    )  # fmt: skip
