"""What is written beside the record: faults, for whoever runs the server.

One line an event, in UTC, with nothing in it that could be taken for a second line; no form, no
token and no value of a statement ever gets here (`hide_parameters` in `db.py`).
"""

from __future__ import annotations

import logging
import re
import sys
import time
from typing import IO, Final

SHAPE: Final = "%(asctime)sZ %(levelname)s %(name)s: %(message)s"
_CONTROL: Final = re.compile("[\x00-\x1f\x7f-\x9f\u2028\u2029]")


class OneLine(logging.Formatter):
    """Each event on one line; what a fault adds stands behind bars (ASVS 16.4.1)."""

    converter = staticmethod(time.gmtime)

    def __init__(self) -> None:
        super().__init__(SHAPE, "%Y-%m-%dT%H:%M:%S")

    def format(self, record: logging.LogRecord) -> str:
        """The event; what another handler made of its fault is not taken over."""
        record.exc_text = None
        try:
            return super().format(record)
        finally:
            record.exc_text = None

    def formatMessage(self, record: logging.LogRecord) -> str:  # noqa: N802 - the library's name
        """The line, control characters spelled out."""
        return plain(super().formatMessage(record))

    def formatException(self, ei: object) -> str:  # noqa: N802 - the library's name
        """Where a fault happened, each line behind a bar: none of them looks like an event."""
        told = super().formatException(ei)  # type: ignore[arg-type]
        return "\n".join(f"  | {plain(line)}" for line in told.split("\n"))


def plain(text: str) -> str:
    """A text without anything that moves the cursor or begins a line."""
    return _CONTROL.sub(lambda found: f"\\x{ord(found[0]):02x}", text)


def keep_logs(stream: IO[str] | None = None) -> logging.Handler:
    """Send warnings and faults to the error output, which the operator's service keeps."""
    handler = logging.StreamHandler(stream or sys.stderr)
    handler.setFormatter(OneLine())
    logging.getLogger().addHandler(handler)
    return handler
