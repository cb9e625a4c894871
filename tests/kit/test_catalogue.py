"""The catalogue of texts that translators start from."""

from __future__ import annotations

from io import BytesIO

from babel.messages.extract import extract_from_dir
from babel.messages.frontend import parse_mapping_cfg
from babel.messages.pofile import read_po

from ringwright.kit.render import ROOT
from ringwright.kit.words import CATALOGUES


def marked_texts() -> set[str]:
    """Every text that pages, rules of pages and the glossary mark for translation."""
    with (CATALOGUES / "babel.cfg").open(encoding="utf-8") as config:
        methods, options = parse_mapping_cfg(config)  # type: ignore[no-untyped-call]
    keywords = {"_": None, "gettext": None, "ngettext": (1, 2), "N_": None}
    found = extract_from_dir(str(ROOT), methods, options, keywords)
    texts = [text if isinstance(text, tuple) else (text,) for _, _, text, _, _ in found]
    return {one for text in texts for one in text if one}


def test_the_catalogue_holds_every_marked_text_and_no_other() -> None:
    catalogue = read_po(BytesIO((CATALOGUES / "messages.pot").read_bytes()))
    held = {
        one
        for message in catalogue
        for one in (message.id if isinstance(message.id, tuple) else (message.id,))
        if one
    }

    assert marked_texts() == held, "run: python scripts/words.py"


def test_texts_of_templates_of_rules_and_of_the_glossary_are_marked() -> None:
    assert {
        "Will we make this week's number?",
        "%(figure)s owed",
        "Distinct serials released in the week.",
    } <= marked_texts()
