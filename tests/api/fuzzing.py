"""Drives schemathesis through the whole OpenAPI document, as one caller sees it.

Outside: schemathesis 4 (examples, coverage, fuzzing and stateful phases) with its checks of
server errors, statuses, content types, headers and bodies against the document.
"""

from __future__ import annotations

import json
from collections import Counter
from collections.abc import Iterator
from dataclasses import dataclass, field
from typing import Any, Final
from zlib import crc32

import schemathesis
from fastapi import FastAPI
from schemathesis import engine
from schemathesis.config import SchemathesisConfig
from schemathesis.engine import Status, events
from schemathesis.engine.recorder import ScenarioRecorder
from schemathesis.hooks import HookContext
from starlette.types import ASGIApp, Message, Receive, Scope, Send

from ringwright.bench.rules import NEEDED
from ringwright.parts.facts import HISTORY_ACTS
from ringwright.web.caps import NO_NUL, TOO_DEEP
from tests.make.spoken import NAMES

DOCUMENT: Final = "/api/openapi.json"
CHECKS: Final = (
    "not_a_server_error",
    "status_code_conformance",
    "content_type_conformance",
    "response_schema_conformance",
    "response_headers_conformance",
)
ODD: Final[list[str | int | float]] = [
    "", " ", "\x00", "a\x00b", "\x1d", "\x7f", "=cmd", "@", "\u202e", "\ufeff", "\U0001f6e0",
    "NaN", "Infinity", "1e999", "-0", "9" * 40, "null", "..", "../..", "%00", "%", "'", '"',
    "2026-10-01", "2026-10-01T12:00:00", "2026-10-01T24:00:00Z", "2026-10-01T12:00:60Z",
    "0001-01-01T00:00:00+14:00", "9999-12-31T23:59:59-14:00", "0001-W01", "9999-W52",
    "2026-W54", "\u0662\u0660\u0662\u0666-W40", "x" * 201, "x" * 2_000,
]  # fmt: skip
"""Texts that have broken programs: what a record cannot hold, and edges of the calendar."""
BEFORE: Final = frozenset({"foreign-origin", "headers", "too-large", "too-long", "twice"})
BEFORE_BY_DETAIL: Final = frozenset({NO_NUL.detail, TOO_DEEP.detail})
"""What `web/security.py` and `web/intake.py` answer, whoever asks."""
SEED: Final = 20_261_001
LONGEST_REFUSAL: Final = 20_000
"""Bytes of a refusal under /api, by the contract."""


@dataclass
class Told:
    """What one caller was answered, and what was wrong with it."""

    requests: int = 0
    phases: Counter[str] = field(default_factory=Counter)
    statuses: dict[str, Counter[int]] = field(default_factory=dict)
    """Of each operation by its own method: "GET /api/week" to status to how often."""
    faults: list[str] = field(default_factory=list)

    def note(self, recorder: ScenarioRecorder, phase: str) -> None:
        """Add what one scenario was answered, and what its checks found."""
        for code, interaction in recorder.interactions.items():
            case, answer = recorder.cases[code].value, interaction.response
            self.requests += 1
            self.phases[phase] += 1
            name = f"{case.method.upper()} {case.path}"
            if answer is None:
                self.faults.append(f"{name}: no answer")
                continue
            if name == case.operation.label and not turned_away(answer.content):
                self.statuses.setdefault(name, Counter())[answer.status_code] += 1
            why = wrong_with(case.path, answer.status_code, answer.content)
            self.faults += [f"{name}: {why}"] if why else []
        for checks in recorder.checks.values():
            self.faults += [
                f"{recorder.label}: {check.name}: {_why(check)}"
                for check in checks
                if check.status is not Status.SUCCESS
            ]


def _why(check: Any) -> str:
    found = check.failure_info
    return f"{found.failure}\n{found.code_sample}" if found else "the check itself broke"


def turned_away(body: bytes) -> bool:
    """True for an answer that no operation gave: the request was refused before any was found.

    The tool takes names of headers from texts of ours that it finds in memory, `sec-fetch-site`
    among them: then a request says that another site's page sent it.
    """
    try:
        said = json.loads(body)
    except ValueError:
        return False
    return isinstance(said, dict) and (
        said.get("error") in BEFORE or said.get("detail") in BEFORE_BY_DETAIL
    )


def wrong_with(path: str, status: int, body: bytes) -> str:
    """What breaks the contract in an answer, documented or not; "" where nothing does."""
    if status >= 500 and path.startswith("/api"):
        return f"a server error, {status}"
    if 400 <= status < 500 and path.startswith("/api"):
        if len(body) > LONGEST_REFUSAL:
            return f"a refusal of {len(body)} bytes"
        try:
            said = json.loads(body)
        except ValueError:
            return f"{status} is not JSON"
        if not (set(said) == {"error", "detail"} and said["error"] and said["detail"]):
            return f"{status} is not {{error, detail}}"
    return ""


class Served:
    """The application as a server runs it: a fault is answered, and stops nothing."""

    def __init__(self, app: ASGIApp) -> None:
        self.app = app

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        answered = False

        async def tell(message: Message) -> None:
            nonlocal answered
            answered = answered or message["type"] == "http.response.start"
            await send(message)

        try:
            await self.app(scope, receive, tell)
        except Exception:
            if not answered:
                raise


def fuzz(app: FastAPI, token: str | None, examples: int) -> Told:
    """Ask every operation of the document in all phases; the same each time."""
    told = Told()
    config = SchemathesisConfig.from_dict(settings_of(token, examples))
    schema = schemathesis.openapi.from_asgi(DOCUMENT, Served(app), config=config)
    schema.hook("map_body")(as_its_act_wants)
    for event in engine.from_schema(schema).execute():
        if isinstance(event, events.ScenarioFinished):
            told.note(event.recorder, event.phase.name)
        elif isinstance(event, events.NonFatalError):
            told.faults.append(f"{event.label}: {event.value!r}")
        elif isinstance(event, events.FatalError):
            raise event.exception
    return told


def as_its_act_wants(_context: HookContext, body: Any) -> Any:
    """Every other booking with the fields of its act alone, so that it reaches the rules."""
    act = body.get("act") if isinstance(body, dict) else None
    if act not in HISTORY_ACTS or crc32(str(body.get("key")).encode("utf-8", "replace")) % 2:
        return body
    kept = ("key", "act", "serial", "at", *NEEDED.get(act, ()))
    asked = {name: value for name, value in body.items() if name in kept}
    return asked | ({"step": 10} if "step" in kept else {})


def settings_of(token: str | None, examples: int) -> dict[str, Any]:
    """The tool's configuration: nothing by chance, nothing kept, every fault told."""
    return {
        "seed": SEED,
        "workers": 1,
        "continue-on-failure": True,
        "cache": {"enabled": False},
        "headers": {"Authorization": f"Bearer {token}"} if token else {},
        "output": {"sanitization": {"enabled": True}},
        "dictionaries": {
            "odd": {"values": ODD},
            **{name: {"values": values} for name, values in NAMES.items()},
        },
        "parameters": dict(_bindings()),
        "generation": {
            "max-examples": examples,
            "deterministic": True,
            "database": "none",
            "no-shrink": True,
            "dictionaries": {"string": {"dictionary": "odd", "probability": 0.1}},
        },
        "checks": {"enabled": False, **{name: {"enabled": True} for name in CHECKS}},
    }


def _bindings() -> Iterator[tuple[str, dict[str, Any]]]:
    for name in NAMES:
        for place in ("path", "query", "body"):
            yield f"{place}.{name}", {"dictionary": name, "probability": 0.5}
    yield "body.slots[*]", {"dictionary": "serial", "probability": 0.5}
