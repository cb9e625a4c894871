"""What page and API of Queues share: answers known for this head of the record and minute."""

from __future__ import annotations

from typing import Final

from ringwright.ledger.remembered import Remembered
from ringwright.queues.extra import ExtraSheet
from ringwright.queues.model import QueuesSheet

SHEETS: Final = Remembered[QueuesSheet]()
HOURS: Final = Remembered[ExtraSheet]()
