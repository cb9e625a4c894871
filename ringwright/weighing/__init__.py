"""Readings with repeats, and what a scale writes into a file."""
