"""What scanners type is the serial it means, plain or from a customer's GS1 label.

Sources: ISO/IEC 15424 (symbology identifiers), GS1 General Specifications (element strings,
FNC1 as the separator 0x1D); the numbers use the prefix that GS1 keeps for examples, 950.
"""

from __future__ import annotations

import pytest

from ringwright.kit.scanned import scanned_text


@pytest.mark.parametrize(
    ("typed", "meant"),
    [
        ("HB-4128", "HB-4128"),
        (" HB-4128\r\n", "HB-4128"),
        ("HB-4128\t", "HB-4128"),
        ("]d1HB-4128", "HB-4128"),
        ("]C0HB-4128", "HB-4128"),
        ("]d2010950600013435221HB-4128", "HB-4128"),
        ("]d2010950600013435210LOT7\x1d21HB-4128", "HB-4128"),
        ("]d2010950600013435221HB-4128\x1d10LOT7", "HB-4128"),
        ("(01)09506000134352(21)HB-4128", "HB-4128"),
        # A plain serial may begin like one; without an identifier it is taken as it stands.
        ("0109506000134352", "0109506000134352"),
        ("21-0007", "21-0007"),
        # No serial in it, or damaged: told as scanned, so that the page can say what it was.
        ("]d20109506000134352", "]d20109506000134352"),
        ("]d2019999", "]d2019999"),
        ("RW:PASS", "RW:PASS"),
        ("PRACTICE:HB-4128", "PRACTICE:HB-4128"),
        ("", ""),
    ],
)
def test_what_is_scanned_is_what_it_means(typed: str, meant: str) -> None:
    assert scanned_text(typed) == meant


def test_no_scan_is_longer_than_any_serial_may_be() -> None:
    assert len(scanned_text("X" * 5000)) == 200
