"""Moments and zones for tests: places whose clocks differ in every way that matters."""

from __future__ import annotations

from hypothesis import strategies as st

ZONES = (
    "Europe/Oslo",
    "Europe/London",
    "America/New_York",
    "Asia/Kolkata",  # half an hour off, no clock change
    "Australia/Lord_Howe",  # clocks change by half an hour
    "Pacific/Apia",  # skipped a whole date in 2011
    "UTC",
)


def instants() -> st.SearchStrategy[int]:
    """Any microsecond from 1950 to 2149."""
    return st.integers(-631_152_000_000_000, 5_680_281_599_999_999)
