"""Ringwright: the true record of a production cell, and the numbers that follow from it."""

__version__ = "0.1.0"
