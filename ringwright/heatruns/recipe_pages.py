"""Recipes: what a cycle must do, by revision."""

from __future__ import annotations

from functools import partial

from fastapi import APIRouter, Request
from starlette.responses import RedirectResponse, Response

from ringwright.core.errors import Missing, Refused
from ringwright.core.glossary import N_
from ringwright.furnaces.queries import Which, read_recipes, read_runs
from ringwright.furnaces.service import ReviseRecipe
from ringwright.heat.classes import furnace_class
from ringwright.heat.toml import parse_recipe
from ringwright.heatruns.lists import RUNS_SHOWN, FurnaceLists
from ringwright.kit.forms import Given, Sent, new_key
from ringwright.kit.render import figures_for, page, path_for, words_for
from ringwright.ledger.drawn import snapshot_of
from ringwright.people.screen import AtScreen, Screen
from ringwright.people.trying import Tried, attempt, key_of

router = APIRouter(include_in_schema=False)

MOST_BYTES = 200_000


@router.get("/furnace/recipes", name="heatruns.recipes")
def recipes(request: Request, screen: AtScreen) -> Response:
    """Which recipes are there, and what does each do?"""
    return _recipes(request, screen, None)


@router.post("/furnace/recipes", name="heatruns.recipes_act")
def revise(request: Request, screen: AtScreen, sent: Sent) -> Response:
    """Add a recipe or a revision, from a file or typed."""
    answers = []

    def do(screen: Screen, given: Given) -> object:
        command = ReviseRecipe(
            recipe=parse_recipe(_text(given)), reason=given.text("reason"), key=key_of(given)
        )
        answers.append(screen.ledger.execute(screen.site, command, screen.actor))
        return answers[-1]

    tried = attempt(screen, sent, N_("Recipe not kept"), do)
    if tried is not None:
        return _recipes(request, screen, tried)
    code = answers[0]["recipe"]
    return RedirectResponse(path_for(request, "heatruns.recipe", recipe=code), 303)


def _text(given: Given) -> str:
    file = given.files.get("file")
    if file is not None and file.content:
        return file.text(MOST_BYTES, ("toml", "txt"))
    if not given.text("recipe"):
        raise Refused("choose a recipe file, or type the recipe")
    return given.text("recipe")


@router.get("/furnace/recipes/{recipe}", name="heatruns.recipe")
def recipe(
    request: Request, screen: AtScreen, recipe: str, revision: str | None = None
) -> Response:
    """One recipe as a revision has it; the newest unless another is asked for."""
    with screen.ledger.read(screen.site) as read:
        revisions = read_recipes(read.connection, read.site.id).get(recipe)
        if not revisions:
            raise Missing(f"there is no recipe {recipe[:60]}")
        which = Which(recipe=recipe, most=RUNS_SHOWN)
        runs = read_runs(read.connection, read.site.id, which)
        drawn = snapshot_of(read)
    wanted = revision or revisions[-1].revision
    found = next((one for one in revisions if one.revision == wanted), None)
    if found is None:
        raise Missing(f"{recipe[:60]} has no revision {wanted[:60]}")
    words = words_for(request)
    lists = FurnaceLists(words, figures_for(request), partial(path_for, request), screen.zone)
    asked = found.furnace_class
    return page(
        request,
        "heatruns/recipe.html",
        recipe=found,
        revisions=revisions,
        segments=lists.segments(found),
        runs=lists.runs(runs, words._("Runs of this recipe")),
        class_limit_c=None if asked is None else furnace_class(asked).uniformity_c,
        screen=screen,
        zone=screen.zone,
        drawn=drawn,
    )


def _recipes(request: Request, screen: Screen, tried: Tried | None) -> Response:
    with screen.ledger.read(screen.site) as read:
        found = read_recipes(read.connection, read.site.id)
        drawn = snapshot_of(read)
    return page(
        request,
        "heatruns/recipes.html",
        status=tried.status if tried else 200,
        recipes=found,
        screen=screen,
        zone=screen.zone,
        drawn=drawn,
        tried=tried,
        given=tried.given if tried else Given(fields={}, files={}),
        key=new_key(),
    )
