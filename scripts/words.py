"""Gather the texts of pages into messages.pot, bring the catalogues up to it, compile them."""

from __future__ import annotations

import subprocess
import sys
from pathlib import Path

ROOT = Path(__file__).resolve().parent.parent
LOCALE = ROOT / "ringwright" / "locale"
POT = LOCALE / "messages.pot"


def pybabel(*arguments: str) -> None:
    """Run babel's own tool; its exit code is ours."""
    subprocess.run([sys.executable, "-m", "babel.messages.frontend", *arguments], check=True)


def main() -> None:
    """Extract, update, compile."""
    pybabel(
        "-q", "extract", "-F", str(LOCALE / "babel.cfg"), "--no-location", "--sort-output",
        "--omit-header", "-k", "N_", "-o", str(POT), "ringwright",
    )  # fmt: skip
    if list(LOCALE.glob("*/LC_MESSAGES/messages.po")):
        pybabel("-q", "update", "-i", str(POT), "-d", str(LOCALE), "--no-fuzzy-matching")
        pybabel("-q", "compile", "-d", str(LOCALE))


if __name__ == "__main__":
    main()
