"""What every template keeps to, read from its source; and the reading itself is tried."""

from __future__ import annotations

import re
from pathlib import Path

import pytest

from ringwright.kit.render import TEMPLATES
from tests.make.html import read

ALLOWED = re.compile(
    r"hx-(get|post|target|swap|trigger|push-url|sync|status:\S+|sse:connect|ptag|morph-skip"
    r"|confirm)"
)
OLD_SPELLINGS = ("hx-ext", "sse-connect", "hx-disabled-elt", "hx-vars", "hx-on")
JINJA = re.compile(r"\{#.*?#\}|\{%.*?%\}|\{\{.*?\}\}", re.S)
UNSAFE = re.compile(r"\|\s*safe\b|\bMarkup\b|autoescape\s+false")
ARITHMETIC = re.compile(r"\|\s*(sum|round|average)\b|[\w)]\s[+*/]\s[\w(]|\brange\(")
PLAIN = {"Ringwright"}
SOURCES = sorted(TEMPLATES.rglob("*.html"))


def bare(source: str) -> str:
    """The template as HTML: expressions become x, statements and comments vanish."""
    # What goes inside a tag of the page's frame is read as if it stood in one.
    framed = re.sub(
        r"\{% block live %\}(.*?)\{% endblock %\}", r"<body \1>", source, flags=re.S
    )
    framed = re.sub(r"\{% block html_class %\}(.*?)\{% endblock %\}", r"<html \1>", framed)
    return JINJA.sub(lambda found: "7" if found[0].startswith("{{") else "", framed)


def problems(source: str) -> list[str]:
    """Everything in a template that it should not hold."""
    page = read(bare(source))
    found = [f"{why.pattern} is used" for why in (UNSAFE,) if why.search(source)]
    found += [f"old spelling {old}" for old in OLD_SPELLINGS if old in source]
    found += [f"plain English: {text}" for text in page.texts if _is_english(text)]
    for tag, attributes in page.elements:
        found += _problems_of(tag, attributes)
    return found + [f"{sum_[0]} is worked out in a template" for sum_ in _sums(source)]


def _problems_of(tag: str, attributes: dict[str, str]) -> list[str]:
    names = set(attributes)
    asks = names & {"hx-get", "hx-post"}
    checks = {
        "style attribute": "style" in names,
        "inline handler": any(name.startswith("on") for name in names),
        "inline script": tag == "script" and not attributes.get("src"),
        "style element": tag == "style",
        "filter in hx-trigger": "[" in attributes.get("hx-trigger", ""),
        "no hx-target where it asks": bool(asks) and "hx-target" not in names,
        "hx-get without href": "hx-get" in names and not names & {"href", "data-live-panel"},
        "hx-post off a form": "hx-post" in names and tag != "form",
        "hx-post elsewhere than action": attributes.get("hx-post") != attributes.get("action")
        and "hx-post" in names,
        "form without action or method": tag == "form" and not {"action", "method"} <= names,
        "link without href": tag == "a" and "href" not in names,
    }
    found = [f"<{tag}>: {what}" for what, wrong in checks.items() if wrong]
    hx = [name for name in names if name.startswith("hx-") and not ALLOWED.fullmatch(name)]
    return found + [f"<{tag}>: {name} is not on the list" for name in hx]


def _is_english(text: str) -> bool:
    return bool(set(re.findall(r"[A-Za-z]{2,}", text)) - PLAIN)


def _sums(source: str) -> list[re.Match[str]]:
    """Arithmetic in expressions; places of text on a drawing (y + 5) are not figures."""
    inside = [re.sub(r"\"[^\"]*\"|'[^']*'", "s", piece) for piece in JINJA.findall(source)]
    drawn = re.compile(r"\.y \+ \d")
    found = [ARITHMETIC.search(drawn.sub("", piece)) for piece in inside]
    return [
        match
        for match, piece in zip(found, inside, strict=True)
        if match and not piece.startswith("{#")
    ]


@pytest.mark.parametrize("path", SOURCES, ids=lambda path: str(path.relative_to(TEMPLATES)))
def test_a_template_keeps_to_the_rules(path: Path) -> None:
    assert problems(path.read_text(encoding="utf-8")) == []


@pytest.mark.parametrize(
    ("source", "told"),
    [
        ('<p style="color:red">{{ x }}</p>', "style attribute"),
        ("<script>alert(1)</script>", "inline script"),
        ('<button onclick="go()"></button>', "inline handler"),
        ("{{ name | safe }}", "is used"),
        ('<div hx-ext="sse"></div>', "old spelling"),
        ('<div hx-vals="1"></div>', "not on the list"),
        ('<div hx-get="/a"></div>', "no hx-target"),
        ('<a hx-get="/a" hx-target="this"></a>', "hx-get without href"),
        ('<form method="post" action="/a" hx-post="/b" hx-target="this"></form>', "elsewhere"),
        ('<div hx-trigger="ledger[x]"></div>', "filter in hx-trigger"),
        ("<h2>Parts held</h2>", "plain English"),
        ('<input placeholder="Scan here">', "plain English"),
        ("<p>{{ a.released + a.scrapped }}</p>", "worked out"),
        ("<p>{{ rows | sum }}</p>", "worked out"),
        ("<p>{{ 100 * share }}</p>", "worked out"),
    ],
)
def test_the_reading_of_templates_finds(source: str, told: str) -> None:
    assert any(told in problem for problem in problems(source))


def test_there_are_templates_to_read() -> None:
    assert {path.name for path in SOURCES} >= {"base.html", "week.html", "_sheet.html"}
