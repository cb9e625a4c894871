"""Shift handover: what changed, waits and is held, and what the crews tell each other."""
