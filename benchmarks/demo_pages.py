"""The demo in a store of its own, and what a browser fetches of its pages."""

from __future__ import annotations

import re
import tempfile
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from html.parser import HTMLParser
from pathlib import Path
from posixpath import dirname, join, normpath

from benchmarks.meter import Answer, Meter
from ringwright.assembly import bring_up, open_ledger
from ringwright.db import Store
from seed_demo.service import run_demo

ASCII = 0x41
"""A letter every page writes: a font whose range holds it is fetched."""


@contextmanager
def demo_meter(keep: str | None) -> Iterator[Meter]:
    """The demo as it is at this moment, on SQLite, in a folder to keep if there is one."""
    with tempfile.TemporaryDirectory() as name:
        url = f"sqlite:///{Path(keep or name) / 'demo.sqlite'}"
        bring_up(url)
        ledger = open_ledger(Store(url))
        run_demo(ledger, lambda text: print(f"  {text}", flush=True))
        with Meter(ledger, url) as meter:
            yield meter


@dataclass(frozen=True, slots=True)
class Weight:
    """Bytes over the wire, headers included, as the server gives them (gzip asked for)."""

    first: int
    """With an empty cache: the page, styles, scripts, icon and the fonts its letters need."""
    later: int
    """With what may be kept in the cache."""
    files: int


class _Head(HTMLParser):
    """Addresses of what a page's head and body make the browser fetch at once."""

    def __init__(self) -> None:
        super().__init__()
        self.styles: list[str] = []
        self.others: list[str] = []

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        """Collect style sheets, scripts, pictures and icons."""
        given = {name: value or "" for name, value in attrs}
        if tag == "link" and "stylesheet" in given.get("rel", ""):
            self.styles.append(given["href"])
        elif tag == "link" and given.get("rel") in ("icon", "preload", "modulepreload"):
            self.others.append(given["href"])
        elif tag in ("script", "img") and given.get("src"):
            self.others.append(given["src"])


def weigh(meter: Meter, path: str) -> Weight:
    """Fetch a page and all that it needs, each once."""
    page = meter.get(path)
    head = _Head()
    head.feed(_text(page))
    first, later = page.wire, page.wire
    fetched = {address: meter.get(address) for address in (*head.styles, *head.others)}
    for style in head.styles:
        for font in _fonts(_text(fetched[style]), style):
            fetched.setdefault(font, meter.get(font))
    for address, answer in fetched.items():
        if answer.status != 200:
            raise RuntimeError(f"{address} answers {answer.status}")
        first += answer.wire
        later += _again(meter, address, answer)
    return Weight(first=first, later=later, files=1 + len(fetched))


def _again(meter: Meter, address: str, answer: Answer) -> int:
    """Bytes of asking once more for what lies in the cache."""
    if "immutable" in answer.headers.get("cache-control", ""):
        return 0
    return meter.get(address, if_none_match=answer.headers.get("etag", "")).wire


def _text(answer: Answer) -> str:
    return answer.content.decode()


def _fonts(style: str, address: str) -> list[str]:
    """The fonts of a style sheet that a page in English needs."""
    needed = []
    for face in re.findall(r"@font-face\s*{([^}]*)}", style):
        ranges = re.search(r"unicode-range:([^;]*)", face)
        source = re.search(r"url\([\"']?([^\"')]+)", face)
        if source and (ranges is None or _holds(ranges[1])):
            needed.append(normpath(join(dirname(address.split("?")[0]), source[1])))
    return needed


def _holds(ranges: str) -> bool:
    for low, high in re.findall(r"U\+([0-9A-Fa-f]+)(?:-([0-9A-Fa-f]+))?", ranges):
        if int(low, 16) <= ASCII <= int(high or low, 16):
            return True
    return False
