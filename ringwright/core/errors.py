"""What can go wrong, as the person at the screen hears it.

RingwrightError
├── Refused     422  the rules of the shop say no
│   └── BadRows      several rows of a file are refused, each with its line
├── Clash       409  somebody else acted first, or a thing is not free
├── Missing     404  no such part, product, site
├── TooLarge    413  more was sent than anything here takes
└── Forbidden   403  this actor may not do that

SecondNeeded stands apart: it is no refusal but a question, which the page asks.
"""

from __future__ import annotations


class RingwrightError(Exception):
    """A refusal with a sentence for the person, and what to do next."""

    status = 400
    code = "error"

    def __init__(self, message: str, *, code: str | None = None) -> None:
        super().__init__(message)
        self.message = message
        if code is not None:
            self.code = code


class Refused(RingwrightError):
    """The rules of the shop say no; nothing was booked."""

    status = 422
    code = "refused"


class Clash(RingwrightError):
    """Somebody acted first, or the thing asked for is not free."""

    status = 409
    code = "clash"


class Missing(RingwrightError):
    """There is no such part, product, week or site."""

    status = 404
    code = "missing"


class TooLarge(RingwrightError):
    """More was sent than anything here takes; it was not read to its end."""

    status = 413
    code = "too-large"


class Forbidden(RingwrightError):
    """The person or token may not do this."""

    status = 403
    code = "forbidden"


class BadRows(Refused):
    """A file was refused whole; every bad line is named with its reason."""

    code = "bad-rows"

    def __init__(self, problems: list[tuple[int, str]]) -> None:
        self.problems = sorted(problems)
        super().__init__("\n".join(f"line {line}: {why}" for line, why in self.problems))


class SecondNeeded(Exception):
    """The act waits for a second person; nothing was booked yet.

    No RingwrightError, so that a page does not tell it as a refusal: what was sent is kept and
    the second person asked for their badge, PIN or password.
    """

    status = 409
    code = "second-person"

    def __init__(self, message: str, *, permission: str) -> None:
        super().__init__(message)
        self.message = message
        self.permission = permission
        """What the second person must be permitted (`second: repair`)."""
