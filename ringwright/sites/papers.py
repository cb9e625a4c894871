"""An authorisation as it may be granted: days in order; level and eyesight test for NDT."""

from __future__ import annotations

from dataclasses import replace
from datetime import date

from ringwright.core.authorisation import LEVELS, asked_of
from ringwright.core.errors import Refused
from ringwright.core.fields import problem_of_code, problem_of_text
from ringwright.sites.site import Authorisation


def checked_paper(given: Authorisation) -> Authorisation:
    """The authorisation with its method as the shop writes it; raises Refused.

    `RT-2` as the method is RT at level 2. Testing methods need their level and the day the
    eyesight test ends: ISO 9712 and EN 4179 ask near vision once a year (from memory).
    """
    for name, text in (("person", given.person), ("method", given.method)):
        problem = problem_of_code(text)
        if problem is not None:
            raise Refused(f"{name} {problem}" if text else f"{name} is missing")
    for name, text in (("certificate", given.certificate), ("scope", given.scope)):
        check = problem_of_code if name == "certificate" and text else problem_of_text
        problem = check(text)
        if problem is not None:
            raise Refused(f"{name} {problem}")
    if "/" in given.method:
        raise Refused("method must not hold a slash; it stands between person and method")
    if given.method == "self-inspection":
        raise Refused("self-inspection is no method; add it to the person's authorisations")
    paper = replace(given, method=asked_of(given.method).method, level=_level(given))
    _check_days(paper)
    return paper


def _level(given: Authorisation) -> int:
    asked = asked_of(given.method)
    if not asked.is_ndt:
        if given.level:
            raise Refused(f"{given.method} is no testing method and has no level; leave it out")
        return 0
    written = asked.level if "-" in given.method else 0
    if written and given.level and written != given.level:
        raise Refused(f"{given.method} and level {given.level} differ; give one of them")
    level = written or given.level
    if level not in LEVELS:
        raise Refused(f"{asked.method} needs its level: 1, 2 or 3")
    return level


def _check_days(paper: Authorisation) -> None:
    for name in ("valid_from", "valid_to"):
        if not getattr(paper, name):
            raise Refused(f"{name} is missing; write it as 2026-10-01")
    days = (paper.valid_from, paper.valid_to, paper.eyesight_to)
    for text in filter(None, days):
        try:
            if date.fromisoformat(text).isoformat() != text:
                raise ValueError
        except ValueError:
            raise Refused(f"{text[:40]!r} is not a date like 2026-10-01") from None
    if paper.valid_to < paper.valid_from:
        raise Refused("valid_to lies before valid_from")
    if asked_of(paper.method).is_ndt and not paper.eyesight_to:
        raise Refused(
            f"{paper.method} needs the last day of the eyesight test (eyesight_to); "
            "ISO 9712 and EN 4179 ask one a year"
        )
