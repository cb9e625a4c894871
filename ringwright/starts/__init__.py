"""Starts: how many parts to start for so many sets by a day, and by when."""
