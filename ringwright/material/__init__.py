"""Alloys, lots of material and what they may be used for, and containers of swarf."""
