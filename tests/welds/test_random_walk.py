"""Whatever people try, no ring leaves with a weld that was not made good and seen to be.

The checker reads the bare entries and knows nothing of our rules: it was written from the
requirement alone.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator, Sequence
from random import Random
from typing import Any

import pytest

from ringwright.core.errors import Refused
from ringwright.core.facts import Entry
from ringwright.welds.card import WeldPlan
from ringwright.welds.telling import not_covered
from tests.make.welds import GOOD_PASS, Bench, plan

PEOPLE = ("anna", "bert", "cora", "dora", "emil")
SMALL = {"vanes": "2", "limit": "1", "adjoining_vanes": "1"}


def faults_of_leaving(entries: Sequence[Entry], ruled: WeldPlan) -> list[str]:
    """Why a ring with these entries should not have left; none when all is well."""
    void = {entry.corrects for entry in entries if entry.kind == "weld-entry-withdrawn"}
    stands = [entry for entry in entries if entry.seq not in void]
    return [why for weld in ruled.welds for why in _faults_of(weld, stands, ruled)]


def _welded(entry: Entry) -> list[str]:
    if entry.kind == "welds-made":
        return list(entry.data["welds"])
    return [entry.data["weld"]] if entry.kind == "weld-redone" else []


def _faults_of(weld: str, entries: Sequence[Entry], ruled: WeldPlan) -> Iterator[str]:
    passes = [entry for entry in entries if weld in _welded(entry)]
    if not passes:
        yield f"{weld} never welded"
        return
    redone = [entry for entry in passes if entry.kind == "weld-redone"]
    if len(redone) > ruled.repair_limit:
        yield f"{weld} repaired {len(redone)} times"
    for entry in redone:
        yield from _faults_of_repair(weld, entry, entries)
    since, relieved = _last_heat(weld, entries, ruled, passes[-1].seq)
    if not relieved:
        yield f"{weld} not relieved"
    yield from _faults_of_films(weld, entries, ruled, since)


def _last_heat(
    weld: str, entries: Sequence[Entry], ruled: WeldPlan, made: int
) -> tuple[int, bool]:
    """The last entry after which it must be radiographed, and whether stress was relieved."""
    near = {weld, *ruled.adjoining(weld)}
    hot = [e.seq for e in entries if e.kind == "weld-redone" and e.data["weld"] in near]
    cooled = [
        e.seq for e in entries if e.kind == "stress-relieved" and near & set(e.data["welds"])
    ]
    relieved = not (ruled.relieve and hot) or max(cooled, default=0) > max(hot)
    return max([made, *hot, *cooled]), relieved


def _faults_of_films(
    weld: str, entries: Sequence[Entry], ruled: WeldPlan, since: int
) -> Iterator[str]:
    good = [
        e.data["film"]
        for e in entries
        if e.kind == "film-taken"
        and weld in e.data["welds"]
        and e.seq > since
        and e.data["wire"] >= ruled.acceptance.wire
    ]
    if not good:
        yield f"{weld} not radiographed since"
        return
    read = [
        e
        for e in entries
        if e.kind == "film-read"
        and e.data["film"] in good
        and weld in (*e.data.get("accepted", ()), *e.data.get("not_accepted", ()))
    ]
    welders = {e.data["welder"] for e in entries if weld in _welded(e)}
    if not read or read[-1].data["film"] != good[-1]:
        yield f"{weld}: its last film was not read"
    elif weld not in read[-1].data.get("accepted", ()):
        yield f"{weld} not accepted"
    elif read[-1].actor in welders:
        yield f"{weld} read by its welder"


def _faults_of_repair(weld: str, redone: Entry, entries: Sequence[Entry]) -> Iterator[str]:
    before = [e for e in entries if e.seq < redone.seq and e.data.get("weld") == weld]
    dug = [e.seq for e in before if e.kind == "weld-excavated"]
    clear = [e.seq for e in before if e.kind == "excavation-proved" and e.data["clear"]]
    if not dug or not clear or clear[-1] < dug[-1]:
        yield f"{weld} welded again before its excavation was proved clear"


def _some(die: Random, welds: Sequence[str]) -> list[str]:
    return die.sample(list(welds), die.choice((1, 1, 2, len(welds))))


def _attempt(die: Random, bench: Bench) -> tuple[str, dict[str, Any]]:
    """Anything that somebody might try, sensible or not."""
    picked, one = _some(die, bench.plan.welds), die.choice(bench.plan.welds)
    made = {**GOOD_PASS, "colour": die.choice(("silver", "silver", "silver", "blue"))}
    cut = len(picked) if die.random() < 0.95 else 0
    film = {
        "film": f"F{len(bench.entries)}", "welds": picked, "wire": die.choice((12, 13)),
        "technique": "ISO 17636-1", "technique_class": "B", "iqi": "W",
    }  # fmt: skip
    clear = die.random() < 0.8
    tries: list[tuple[str, dict[str, Any]]] = [
        ("welds-made", {"welds": picked, **made}),
        ("penetrant-read", {"clear": picked[:cut], "shown": picked[cut:]}),
        ("film-taken", film),
        ("film-taken", film),
        ("film-read", _reading(die, bench)),
        ("film-read", _reading(die, bench)),
        ("weld-excavated", {"weld": one, "depth_mm": 1.0}),
        ("excavation-proved", {"weld": one, "method": "penetrant", "clear": clear}),
        ("weld-redone", {"weld": one, **made}),
        ("stress-relieved", {"welds": [one], "run": "HF-1-0001"}),
        (
            "weld-entry-withdrawn",
            {"corrects": die.randint(2, len(bench.entries)), "reason": "-"},
        ),
    ]
    return die.choice(tries)


def _reading(die: Random, bench: Bench) -> dict[str, Any]:
    if not bench.ring.films:
        return {"film": "none", "accepted": ["1-OUT"]}
    film = bench.ring.films[die.choice(list(bench.ring.films)[-2:])]
    due = [code for code in film.welds if bench.ring.welds[code].film == film.code]
    bad = [code for code in due if die.random() < 0.12]
    found = [{"weld": code, "kind": "401", "size_mm": 2.0, "at_mm": 1.0} for code in bad]
    good = [code for code in due if code not in bad]
    return {"film": film.code, "accepted": good, "not_accepted": bad, "defects": found}


def _begin(bench: Bench, how: int) -> None:
    """Walks set out from three places, so that all of the way is walked."""
    if how == 0:
        bench.fit()
        return
    bench.welded()
    if how == 2:
        bench.film("A", *bench.plan.welds)
        bench.read("A", {"1-OUT": "401"})


def walk(seed: int, ruled: WeldPlan, steps: int) -> tuple[Bench, set[str]]:
    """A ring after so many tries by five people, and the reasons they were refused for."""
    die, bench, refused = Random(seed), Bench(ruled), set[str]()
    _begin(bench, seed % 3)
    for _ in range(steps):
        kind, data = _attempt(die, bench)
        by = die.choice(PEOPLE)
        if "welder" in data:
            data["welder"] = by
        if kind == "weld-entry-withdrawn" and die.random() < 0.9:
            continue
        try:
            bench.tell(kind, by=by, **data)
        except Refused as why:
            refused.add(why.code)
        if not not_covered(bench.ring, None):
            break
    return bench, refused


def walks(seeds: Sequence[int], steps: int) -> Counter[str]:
    """How many walks left, stood at the limit, left repaired; the reasons of refusals."""
    seen: Counter[str] = Counter()
    for seed in seeds:
        ruled = plan(relieve="true" if seed % 2 else "false", **SMALL)
        bench, refused = walk(seed, ruled, steps)
        welds = bench.ring.welds.values()
        assert all(weld.repairs <= ruled.repair_limit for weld in welds)
        seen.update(refused)
        seen["at the limit"] += bool(bench.ring.in_state("at the limit"))
        if not not_covered(bench.ring, None):
            assert faults_of_leaving(bench.entries, ruled) == []
            seen["left"] += 1
            seen["left repaired"] += any(weld.repairs for weld in welds)
    return seen


def test_no_walk_leads_out_with_a_bad_weld() -> None:
    seen = walks(range(36), 260)

    # The walks must have been everywhere, or nothing was shown.
    for what in ("at the limit", "own-work", "repair-limit", "retake", "weld-state"):
        assert seen[what] > 1, what
    assert seen["left"] > seen["left repaired"] > 0


@pytest.mark.long
def test_no_long_walk_leads_out_with_a_bad_weld() -> None:
    assert walks(range(1000, 1600), 500)["left repaired"] > 20


def _done(ruled: WeldPlan) -> list[Entry]:
    """A ring with one repair that left rightly."""
    bench = Bench(ruled)
    bench.welded()
    bench.film("A", *ruled.welds)
    bench.read("A", {"1-OUT": "401"})
    bench.repair("1-OUT")
    bench.film("B", *bench.ring.in_state("to radiograph"))
    bench.read("B")
    assert bench.ring.done
    return bench.entries


def test_the_checker_finds_what_is_wrong() -> None:
    ruled = plan(**SMALL)
    entries = _done(ruled)
    assert faults_of_leaving(entries, ruled) == []

    def without(kind: str) -> list[str]:
        last = max(e.seq for e in entries if e.kind == kind)
        return faults_of_leaving([e for e in entries if e.seq != last], ruled)

    assert "1-OUT not radiographed since" in without("film-taken")
    assert "2-OUT: its last film was not read" in without("film-read")
    assert "1-OUT welded again before its excavation was proved clear" in without(
        "excavation-proved"
    )
    own = [e._replace(actor="maker-2") if e.kind == "film-read" else e for e in entries]
    assert "1-OUT read by its welder" in faults_of_leaving(own, ruled)
    strict = plan(vanes="2", limit="0", adjoining_vanes="1")
    assert "1-OUT repaired 1 times" in faults_of_leaving(entries, strict)
    assert "1-OUT not relieved" in faults_of_leaving(entries, plan(relieve="true", **SMALL))
