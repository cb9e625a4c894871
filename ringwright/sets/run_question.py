"""What a run is asked and what it answers, as JSON values. Loads neither web nor SQL."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import asdict, dataclass, field
from typing import Any

from ringwright.balance.answer import build, set_json
from ringwright.balance.draw import Drawn
from ringwright.balance.limits import Impossible, Limits
from ringwright.balance.one_more import one_more
from ringwright.balance.pool import Blade, Pool
from ringwright.balance.uncertainty import Floor
from ringwright.balance.work import USUAL_EFFORT, Work
from ringwright.core.errors import Refused


@dataclass(frozen=True, kw_only=True)
class RunQuestion:
    """All that a run's answer follows from, but the clock."""

    pool: Pool
    limits: Limits
    floor: Floor = field(default_factory=Floor)
    sets: int | None = None
    """How many sets; None: as many as the pool allows."""
    effort: int = USUAL_EFFORT
    seed: int = 1
    seconds: float | None = None
    prove: bool = False


def question_data(question: RunQuestion) -> dict[str, Any]:
    """The question as JSON values."""
    limits = asdict(question.limits)
    limits["disc_g_mm"] = [question.limits.disc_g_mm.real, question.limits.disc_g_mm.imag]
    limits["excluded"] = sorted(question.limits.excluded)
    limits["locks"] = {str(slot): serial for slot, serial in question.limits.locks.items()}
    return {
        "blades": blades_data(question.pool.blades),
        "limits": limits,
        "floor": asdict(question.floor),
        "sets": question.sets,
        "effort": question.effort,
        "seed": question.seed,
        "seconds": question.seconds,
        "prove": question.prove,
    }


def question_of(data: Mapping[str, Any]) -> RunQuestion:
    """The question of JSON values."""
    limits = dict(data["limits"])
    limits["disc_g_mm"] = complex(*limits["disc_g_mm"])
    limits["excluded"] = frozenset(limits["excluded"])
    limits["locks"] = {int(slot): serial for slot, serial in limits["locks"].items()}
    return RunQuestion(
        pool=Pool(blades=blades_of(data["blades"])),
        limits=Limits(**limits),
        floor=Floor(**data["floor"]),
        **{name: data[name] for name in ("sets", "effort", "seed", "seconds", "prove")},
    )


def blades_data(blades: Iterable[Blade]) -> list[dict[str, Any]]:
    """Blades as JSON values; what was not read is left out."""
    return [
        {name: value for name, value in asdict(blade).items() if value is not None}
        for blade in blades
    ]


def blades_of(data: Iterable[Mapping[str, Any]]) -> tuple[Blade, ...]:
    """The blades of JSON values."""
    return tuple(Blade(**one) for one in data)


def answer_data(question: RunQuestion, work: Work) -> dict[str, Any]:
    """Solve it: the sets, or why there are none with the smallest feasible value."""
    try:
        found = build(
            question.pool,
            question.limits,
            work,
            sets=question.sets,
            floor=question.floor,
            prove=question.prove,
        )
    except Impossible as trouble:
        return {"trouble": trouble.message, "smallest": trouble.smallest}
    except Refused as trouble:
        return {"trouble": trouble.message, "smallest": None}
    drawn = Drawn(sets=tuple(one.places for one in found.sets), bound=found.bound, left_out=())
    return {
        "sets": [set_json(one, question.pool) for one in found.sets],
        "bound": asdict(found.bound),
        "unused": len(found.unused),
        "stopped_early": found.stopped_early,
        "seconds": round(found.seconds, 3),
        "wants": [] if work.over() else wants_data(question, drawn),
    }


def wants_data(question: RunQuestion, drawn: Drawn) -> list[dict[str, Any]]:
    """What one more blade would give, the likeliest kinds first."""
    return [asdict(want) for want in one_more(question.pool, question.limits, drawn)][:3]
