"""What the first bytes of a PNG say of its values; asked before anything is decoded."""

from __future__ import annotations


def is_deep(data: bytes) -> bool:
    """True for 16 bits in shades of grey: PNG (third edition) 11.2.1, depth and colour type."""
    return len(data) > 26 and data[12:16] == b"IHDR" and data[24:26] == b"\x10\x00"


def is_grey(data: bytes) -> bool:
    """True for 8 or 16 bits in shades of grey and nothing else."""
    return len(data) > 26 and data[24:26] in (b"\x10\x00", b"\x08\x00")
