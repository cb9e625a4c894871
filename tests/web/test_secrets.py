"""No secret lies in the repository (OWASP ASVS 5.0.0, 13.3.1); patterns are from memory."""

from __future__ import annotations

import re

import pytest

from tests.web.test_docs import tracked

PATTERNS = {
    "private key": r"-----BEGIN (?:[A-Z]+ )?PRIVATE KEY",
    "password": (
        r"(?i)\b(?:password|passwd|secret|api_?key|token)\b\s*[=:]\s*"
        r"[\"'][^\"'\s{$<]{8,}[\"']"
    ),
    "address with a password": r"\w+://[\w.-]+:[^@\s/{$\"']{3,}@[\w.-]+",
    "token of ours": r"\brw_[A-Za-z0-9_-]{30,}",
    "token of a host": r"\b(?:ghp|gho|glpat|xox[bp]|AKIA)[-_A-Za-z0-9]{12,}",
    "bearer": r"(?i)bearer [a-z0-9_\-.]{24,}",
}
PLANTED = {
    "private key": "-----BEGIN RSA PRIV" + "ATE KEY-----",
    "password": "pass" + 'word = "correct-horse"',
    "address with a password": "postgresql://ring:hunt" + "er2@db/ring",
    "token of ours": "rw_" + "a1B2" * 10,
    "token of a host": "ghp_" + "a1B2" * 9,
    "bearer": "Authorization: Bear" + "er " + "a1B2" * 9,
}
GENERATED = {"requirements.txt", "requirements-dev.txt", "SHA256SUMS"}


@pytest.mark.parametrize("kind", list(PATTERNS))
def test_the_scan_finds_what_is_planted(kind: str) -> None:
    assert re.search(PATTERNS[kind], PLANTED[kind])


def test_no_file_of_the_repository_holds_a_secret() -> None:
    found = []
    for path in tracked():
        if path.name in GENERATED or not path.is_file():
            continue
        text = path.read_bytes().decode("utf-8", "ignore")
        found += [
            (path.name, kind, hit[0][:30])
            for kind, pattern in PATTERNS.items()
            for hit in re.finditer(pattern, text)
        ]
    assert found == []


def test_keys_and_stores_cannot_be_added_by_mistake() -> None:
    names = [path.name for path in tracked()]

    assert [n for n in names if n.endswith((".pem", ".key", ".sqlite", ".backup"))] == []
    assert ".env" not in names
