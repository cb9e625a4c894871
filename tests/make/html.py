"""Reads HTML for tests: elements with their attributes, and the text a person sees."""

from __future__ import annotations

from dataclasses import dataclass, field
from html.parser import HTMLParser

UNSEEN = {"script", "style"}
SPOKEN = ("aria-label", "placeholder", "title", "alt")


@dataclass
class Read(HTMLParser):
    """What a page holds."""

    elements: list[tuple[str, dict[str, str]]] = field(default_factory=list)
    texts: list[str] = field(default_factory=list)
    open: list[str] = field(default_factory=list)

    def __post_init__(self) -> None:
        super().__init__(convert_charrefs=True)

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        found = {name: value or "" for name, value in attrs}
        self.elements.append((tag, found))
        self.texts += [found[name] for name in SPOKEN if found.get(name)]
        self.open.append(tag)

    def handle_endtag(self, tag: str) -> None:
        while self.open and self.open.pop() != tag:
            pass

    def handle_data(self, data: str) -> None:
        if data.strip() and not UNSEEN & set(self.open[-1:]):
            self.texts.append(data.strip())

    def tags(self, name: str) -> list[dict[str, str]]:
        """The attributes of every element of that name."""
        return [attributes for tag, attributes in self.elements if tag == name]

    def ids(self) -> list[str]:
        """Every id, in order."""
        return [attributes["id"] for _, attributes in self.elements if "id" in attributes]


def read(html: str) -> Read:
    """The page as read."""
    parser = Read()
    parser.feed(html)
    return parser
