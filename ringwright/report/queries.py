"""The visits under a week's numbers, none left out."""

from __future__ import annotations

from sqlalchemy import select

from ringwright.flow.queries import Sql, Window, believed
from ringwright.ledger.service import Read
from ringwright.parts.tables import Visit
from ringwright.report.model import VisitLine

_COLUMNS = tuple(getattr(Visit, name) for name in VisitLine.__dataclass_fields__)


def visits_ended(read: Read, window: Window) -> Sql:
    """Visits ended in the window, as the step counts take them: in order of their end."""
    return (
        select(*_COLUMNS)
        .where(
            believed(read, Visit),
            Visit.product.in_(window.products),
            Visit.step.is_not(None),
            Visit.end_us >= window.start_us,
            Visit.end_us < window.end_us,
            Visit.end_known_us < read.known_before_us,
        )
        .order_by(Visit.end_us, Visit.serial, Visit.number)
    )
