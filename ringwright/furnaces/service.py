"""Set a furnace, prove something of it, renew a thermocouple, revise a recipe."""

from __future__ import annotations

import math
from dataclasses import dataclass
from datetime import date
from typing import Any, ClassVar

from ringwright.core.errors import Clash, Missing, Refused
from ringwright.core.fields import as_data, problem_of_code, problem_of_text
from ringwright.furnaces import facts
from ringwright.furnaces.card import SURVEY, Columns, Furnace, Proved
from ringwright.furnaces.papers import checked_furnace
from ringwright.furnaces.queries import read_furnace
from ringwright.furnaces.rules import FurnacePast, due_day, within
from ringwright.heat.classes import meets_class
from ringwright.heat.recipe import Recipe
from ringwright.heat.toml import recipe_data
from ringwright.ledger.service import Handling
from ringwright.ledger.transaction import Draft, Tx
from ringwright.people.allowing import allows
from ringwright.routecards.queries import read_revisions
from ringwright.sites.facts import StationSet
from ringwright.sites.queries import when_at

FURNACE = facts.FurnaceSet.subject_kind
RECIPE = facts.RecipeRevised.subject_kind


@dataclass(frozen=True, slots=True, kw_only=True)
class SetFurnace:
    """Say what a furnace is; runs of it follow these rules from then on."""

    operation: ClassVar[str] = "set furnace"
    furnace: Furnace
    key: str | None

    def body(self) -> Any:
        """The furnace as JSON values."""
        return as_data(self.furnace)

    def subject(self) -> str:
        """The furnace's code."""
        return self.furnace.code


def set_furnace(tx: Tx, command: SetFurnace) -> dict[str, Any]:
    """Record it; raises Refused for an unsound one or a station that is not there."""
    furnace = checked_furnace(command.furnace)
    if not tx.history(StationSet.subject_kind, furnace.code):
        raise Refused(f"there is no station {furnace.code}; add it on Ground rules first")
    history = tx.history(FURNACE, furnace.code)
    fact = facts.FurnaceSet(furnace=as_data(furnace))
    before = [entry for entry in history if entry.kind == fact.kind]
    changed = not before or before[-1].data != fact.payload()
    if changed:
        tx.append(Draft(fact=fact, subject=furnace.code, at_us=tx.now_us), history)
    return {"furnace": furnace.code, "changed": changed}


@dataclass(frozen=True, slots=True, kw_only=True)
class Prove:
    """Record what a survey, accuracy test, leak rate or gas purity found."""

    operation: ClassVar[str] = "prove furnace"
    furnace: str
    what: str
    on: str
    """Day it was taken, ISO date, site time."""
    value: float | None = None
    good: bool | None = None
    """None: the furnace's limit decides."""
    due: str = ""
    """Empty: as many days on as the furnace's rules say."""
    certificate: str = ""
    note: str = ""
    key: str | None

    def body(self) -> Any:
        """All fields but the key."""
        told = [self.furnace, self.what, self.on, self.value, self.good]
        return [*told, self.due, self.certificate, self.note]

    def subject(self) -> str:
        """The furnace's code."""
        return self.furnace


def prove(tx: Tx, command: Prove) -> dict[str, Any]:
    """Record it; the answer names the day of the last good one before, if this one failed.

    Raises Missing for an unknown furnace, Refused for unsound days, a proof that it does not
    ask, or a failed one without a note.
    """
    past = known_furnace(tx, command.furnace)
    _check_texts(command)
    today = when_at(tx.now_us, tx.site.zone).day
    if command.on > today:
        raise Refused("the day has not come yet")
    due = command.due or due_day(past.furnace, command.what, command.on)
    if due < command.on:
        raise Refused("due lies before the day it was taken")
    good = _verdict(past.furnace, command)
    if not good and not command.note.strip():
        raise Refused("say what was found wrong (note)")
    found = Proved(
        furnace=command.furnace,
        what=command.what,
        on=command.on,
        due=due,
        good=good,
        value=command.value,
        certificate=command.certificate.strip(),
        note=command.note.strip(),
    )
    fact = facts.FurnaceProved(proof=as_data(found))
    entry = tx.append(
        Draft(fact=fact, subject=command.furnace, at_us=tx.now_us),
        tx.history(FURNACE, command.furnace),
    )
    last = past.last_good(command.what)
    since = last.found.on if last else None
    return {
        "furnace": command.furnace, "entry": entry.seq, "good": good, "due": due,
        "last_good": since,
    }  # fmt: skip


def _verdict(furnace: Furnace, command: Prove) -> bool:
    """What the limit says; where there is none, what whoever proved it says."""
    value = command.value
    if value is not None and not math.isfinite(value):
        raise Refused("value is not a finite number")
    by_limit = None
    if value is not None:
        by_limit = within(furnace, command.what, value)
        if by_limit is None and command.what == SURVEY and furnace.furnace_class is not None:
            by_limit = meets_class(furnace.furnace_class, value)
    if by_limit is None and command.good is None:
        raise Refused("say whether it was good: there is no limit to decide it by")
    if by_limit is not None and command.good not in (None, by_limit):
        word = "good" if by_limit else "failed"
        raise Refused(f"by its limit it is {word}; look at the value again")
    return bool(by_limit if by_limit is not None else command.good)


def _check_texts(command: Prove) -> None:
    for name in ("certificate", "note"):
        problem = problem_of_text(getattr(command, name))
        if problem is not None:
            raise Refused(f"{name} {problem}")
    for name in ("on", "due"):
        text = getattr(command, name)
        try:
            sound = not text or date.fromisoformat(text).isoformat() == text
        except ValueError:
            sound = False
        if not sound or (name == "on" and not text):
            raise Refused(f"{name} must be a day such as 2026-10-01")


def known_furnace(tx: Tx, code: str) -> FurnacePast:
    """A furnace in use; raises Missing for one that is none, or out of use."""
    past = read_furnace(tx.connection, tx.site.id, code)
    if past is None or past.furnace.withdrawn:
        raise Missing(f"there is no furnace {code} in use")
    return past


@dataclass(frozen=True, slots=True, kw_only=True)
class Renew:
    """A thermocouple of the load was replaced."""

    operation: ClassVar[str] = "renew thermocouple"
    furnace: str
    channel: str
    gauge: str = ""
    """Code of the new one on the register; empty: as before."""
    key: str | None

    def body(self) -> Any:
        """All fields but the key."""
        return [self.furnace, self.channel, self.gauge]

    def subject(self) -> str:
        """The furnace's code."""
        return self.furnace


def renew(tx: Tx, command: Renew) -> dict[str, Any]:
    """Record it: its uses count from now. Raises Missing, or Refused for no such channel."""
    furnace = known_furnace(tx, command.furnace).furnace
    if command.channel not in [one.code for one in furnace.channels]:
        raise Refused(f"{furnace.code} has no thermocouple {command.channel[:40]!r}")
    if command.gauge:
        channels = tuple(
            type(one)(code=one.code, gauge=command.gauge, most_uses=one.most_uses)
            if one.code == command.channel
            else one
            for one in furnace.channels
        )
        changed = as_data(furnace) | {"channels": [as_data(one) for one in channels]}
        draft = Draft(
            fact=facts.FurnaceSet(furnace=changed), subject=furnace.code, at_us=tx.now_us
        )
        tx.append(draft, tx.history(FURNACE, furnace.code))
    fact = facts.ThermocoupleRenewed(channel=command.channel, gauge=command.gauge)
    entry = tx.append(
        Draft(fact=fact, subject=furnace.code, at_us=tx.now_us),
        tx.history(FURNACE, furnace.code),
    )
    return {"furnace": furnace.code, "entry": entry.seq, "channel": command.channel}


def keep_columns(tx: Tx, furnace: str, columns: Columns) -> None:
    """Remember how the recorder of a furnace writes, where that is new."""
    history = tx.history(FURNACE, furnace)
    fact = facts.ColumnsKept(columns=as_data(columns))
    before = [entry for entry in history if entry.kind == fact.kind]
    if not before or before[-1].data != fact.payload():
        tx.append(Draft(fact=fact, subject=furnace, at_us=tx.now_us), history)


@dataclass(frozen=True, slots=True, kw_only=True)
class ReviseRecipe:
    """Add a recipe, or a revision of one."""

    operation: ClassVar[str] = "revise recipe"
    recipe: Recipe
    reason: str = ""
    key: str | None

    def body(self) -> Any:
        """The recipe as JSON values."""
        return {"recipe": recipe_data(self.recipe), "reason": self.reason}

    def subject(self) -> str:
        """The recipe's code."""
        return self.recipe.code


def revise_recipe(tx: Tx, command: ReviseRecipe) -> dict[str, Any]:
    """Record the revision; the same again changes nothing, other content raises Clash.

    Raises Refused without a code or a use, or for a step that is no heat cycle.
    """
    recipe = command.recipe
    problem = problem_of_code(recipe.code)
    if problem is not None:
        raise Refused(f"code {problem}")
    problem = problem_of_text(command.reason)
    if problem is not None:
        raise Refused(f"reason {problem}")
    _check_uses(tx, recipe)
    data = recipe_data(recipe)
    history = tx.history(RECIPE, recipe.code)
    answer = {"recipe": recipe.code, "revision": recipe.revision, "added": False}
    for entry in history:
        if entry.data["recipe"]["revision"] == recipe.revision:
            if entry.data["recipe"] == data:
                return answer
            raise Clash(
                f"{recipe.code} revision {recipe.revision} is there already with other "
                "content; give the changed recipe a new revision"
            )
    fact = facts.RecipeRevised(recipe=data, reason=command.reason.strip() or None)
    tx.append(Draft(fact=fact, subject=recipe.code, at_us=tx.now_us), history)
    return {**answer, "added": True}


def _check_uses(tx: Tx, recipe: Recipe) -> None:
    if not recipe.uses:
        raise Refused("say which step of which product it does ([[use]] product, step)")
    for use in recipe.uses:
        revisions = read_revisions(tx.connection, tx.site.id, use.product)
        step = revisions[-1].card.by_number.get(use.step) if revisions else None
        if step is None or step.kind != "heat-cycle":
            raise Refused(f"step {use.step} of {use.product} is no heat cycle of this site")


HANDLINGS: dict[type, Handling] = {
    SetFurnace: Handling(set_furnace, allows("furnaces")),
    Prove: Handling(prove, allows("prove furnace")),
    Renew: Handling(renew, allows("prove furnace")),
    ReviseRecipe: Handling(revise_recipe, allows("recipes")),
}
