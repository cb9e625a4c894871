"""Weld maps of rings: what is recorded of welds and films, and the pages that show it."""
