"""What an address of the Weld yield page asks."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import Annotated, Any

from fastapi import Depends, Query

from ringwright.weldyield.model import DIMENSIONS, Question

Text = Annotated[str | None, Query(max_length=200)]
Product = Annotated[str | None, Query(max_length=200, examples=["FC1-CASE"])]
# What the rules refuse in their own words stands here for the API's document alone.
Week = Annotated[
    str | None,
    Query(
        max_length=200,
        examples=["2026-W40"],
        json_schema_extra={"pattern": "^([0-9]{4}-W[0-9]{2})?$"},
    ),
]
By = Annotated[
    str | None, Query(max_length=200, json_schema_extra={"enum": [*DIMENSIONS, "", None]})
]


@dataclass(frozen=True, slots=True, kw_only=True)
class Asked:
    """The question, and as of when."""

    question: Question
    as_of: str | None

    def query(self, **other: Any) -> dict[str, Any]:
        """The address's query again, some of it changed; None leaves out."""
        q = self.question
        own = {"product": q.product, "first": q.first, "last": q.last, "by": q.by}
        return {**own, "as_of": self.as_of, **other}

    def by(self, dimension: str) -> Asked:
        """The same question, told apart otherwise."""
        return replace(self, question=replace(self.question, by=dimension))


def asked_of(
    product: Product = None,
    first: Week = None,
    last: Week = None,
    by: By = None,
    as_of: Text = None,
) -> Asked:
    """The question that an address asks."""
    question = Question(
        product=product or None, first=first or None, last=last or None, by=by or "joint"
    )
    return Asked(question=question, as_of=as_of or None)


AskedWelds = Annotated[Asked, Depends(asked_of)]
