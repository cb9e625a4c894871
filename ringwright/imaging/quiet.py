"""Readers of foreign files, made to say nothing: what they warn of may quote the file."""

from __future__ import annotations

import logging
import warnings
from collections.abc import Iterator
from contextlib import contextmanager
from typing import Final

from ringwright.core.errors import Refused

SILENT: Final = logging.CRITICAL + 1


@contextmanager
def quiet(name: str, what: str) -> Iterator[None]:
    """Whatever goes wrong inside is told in one sentence of ours, without the file's words."""
    for reader in ("pydicom", "tifffile", "PIL"):
        logging.getLogger(reader).setLevel(SILENT)
    try:
        with warnings.catch_warnings():
            warnings.simplefilter("ignore")
            yield
    except Refused:
        raise
    except Exception:  # a damaged one fails in as many ways as there are decoders
        raise Refused(
            f"{name} begins like {what} but cannot be decoded; export it again"
        ) from None
