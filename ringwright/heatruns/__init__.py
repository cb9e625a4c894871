"""Furnace runs: the load, the cycle, the trace that proves it, the review."""
