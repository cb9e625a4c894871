"""What may happen to a weld, one rule at a time."""

from __future__ import annotations

from typing import Any

import pytest

from ringwright.core.errors import Refused
from ringwright.welds.telling import not_covered
from tests.make.welds import GOOD_PASS, Bench, plan


@pytest.fixture
def bench() -> Bench:
    return Bench()


def test_a_ring_without_a_flaw_goes_through(bench: Bench) -> None:
    bench.welded()
    bench.film("A", *bench.plan.welds)
    assert bench.state("1-OUT") == "to read"

    bench.read("A")

    assert bench.ring.done
    assert not_covered(bench.ring, None) == []


def test_a_vane_is_fitted_before_it_is_welded(bench: Bench) -> None:
    with pytest.raises(Refused, match="vane 1 is not fitted"):
        bench.make("1-OUT")


@pytest.mark.parametrize(
    ("radial", "axial", "told"),
    [(0.6, 0.0, "0.6 mm outward"), (0.0, 1.2, "forward"), (0.0, -1.2, "1.2 mm rearward")],
)
def test_a_vane_outside_its_tolerance_is_not_welded(
    bench: Bench, radial: float, axial: float, told: str
) -> None:
    bench.tell("vanes-fitted", vanes=[{"vane": 1, "radial_mm": radial, "axial_mm": axial}])
    with pytest.raises(Refused, match=told):
        bench.make("1-OUT")

    bench.tell("vanes-fitted", vanes=[{"vane": 1, "radial_mm": 0.5, "axial_mm": -1.0}])
    bench.make("1-OUT")
    assert bench.state("1-OUT") == "welded"


@pytest.mark.parametrize(
    ("changed", "told"),
    [
        ({"procedure": "WP-9"}, "asks procedure WP-1"),
        ({"filler_lot": " "}, "name the lot of the filler"),
        ({"oxygen_ppm": 51.0}, "51 ppm oxygen in the purge; purge on"),
    ],
)
def test_a_weld_follows_its_plan(bench: Bench, changed: dict[str, Any], told: str) -> None:
    bench.fit()
    with pytest.raises(Refused, match=told):
        bench.make("1-OUT", **changed)


def test_a_weld_of_another_colour_is_ground_out(bench: Bench) -> None:
    bench.fit()
    bench.make("1-OUT", colour="blue")
    assert bench.state("1-OUT") == "to excavate"


def test_penetrant_comes_before_the_radiograph(bench: Bench) -> None:
    bench.fit()
    bench.make("1-OUT")
    with pytest.raises(Refused, match="next: test it with penetrant"):
        bench.film("A", "1-OUT")


def test_a_film_without_the_wire_gets_no_verdict(bench: Bench) -> None:
    bench.welded("1-OUT")
    bench.film("A", "1-OUT", wire=12)
    assert bench.state("1-OUT") == "to radiograph"

    with pytest.raises(
        Refused, match=r"W12 was the finest wire seen; W13 \(0.20 mm\) is asked"
    ):
        bench.read("A")

    bench.film("B", "1-OUT", wire=14)
    bench.read("B")
    assert bench.state("1-OUT") == "accepted"


@pytest.mark.parametrize(
    ("changed", "told"),
    [
        ({"technique": "ISO 17636-2"}, "asks ISO 17636-1"),
        ({"technique_class": "A"}, "asks technique class B"),
        ({"iqi": "H"}, "must be of wires"),
    ],
)
def test_a_film_is_taken_as_the_plan_says(
    bench: Bench, changed: dict[str, Any], told: str
) -> None:
    bench.welded("1-OUT")
    with pytest.raises(Refused, match=told):
        bench.film("A", "1-OUT", **changed)


def test_a_film_bears_a_code_of_its_own(bench: Bench) -> None:
    bench.welded("1-OUT")
    bench.film("A", "1-OUT")
    with pytest.raises(Refused, match="film A was taken already"):
        bench.film("A", "1-OUT")


def test_the_welder_reads_no_film_of_their_weld(bench: Bench) -> None:
    bench.welded("1-OUT")
    bench.film("A", "1-OUT")
    with pytest.raises(Refused, match="maker-1 welded 1-OUT and may not read its film"):
        bench.read("A", by="maker-1")


def test_who_welded_a_repair_reads_none_of_its_films_either(bench: Bench) -> None:
    bench.welded("1-OUT")
    bench.film("A", "1-OUT")
    bench.read("A", {"1-OUT": "2011"})
    bench.repair("1-OUT", welder="maker-2")
    bench.film("B", "1-OUT")
    for welder in ("maker-1", "maker-2"):
        with pytest.raises(Refused, match="may not read its film"):
            bench.read("B", by=welder)


@pytest.mark.parametrize("kind", ["penetrant-read", "excavation-proved"])
def test_nobody_tests_their_own_weld(bench: Bench, kind: str) -> None:
    bench.fit()
    bench.make("1-OUT")
    data: dict[str, Any] = {"clear": ["1-OUT"]}
    if kind == "excavation-proved":
        bench.tell("penetrant-read", shown=["1-OUT"])
        bench.tell("weld-excavated", weld="1-OUT", depth_mm=1.0)
        data = {"weld": "1-OUT", "method": "penetrant", "clear": True}
    with pytest.raises(Refused, match="somebody else must"):
        bench.tell(kind, by="maker-1", **data)


def test_every_weld_on_a_film_gets_its_verdict(bench: Bench) -> None:
    bench.welded("1-OUT", "2-OUT")
    bench.film("A", "1-OUT", "2-OUT")
    with pytest.raises(Refused, match="waits for a verdict on 1-OUT, 2-OUT"):
        bench.tell("film-read", film="A", accepted=["1-OUT"])


def test_a_weld_not_accepted_has_its_defect(bench: Bench) -> None:
    bench.welded("1-OUT")
    bench.film("A", "1-OUT")
    with pytest.raises(Refused, match="say what was found in weld 1-OUT"):
        bench.tell("film-read", film="A", not_accepted=["1-OUT"])


@pytest.mark.parametrize(("size", "at"), [(0.0, 5.0), (1.0, 161.0), (200.0, 0.0)])
def test_a_defect_lies_on_its_weld(bench: Bench, size: float, at: float) -> None:
    bench.welded("1-OUT")
    bench.film("A", "1-OUT")
    found = [{"weld": "1-OUT", "kind": "2011", "size_mm": size, "at_mm": at}]
    with pytest.raises(Refused, match="160 mm long"):
        bench.tell("film-read", film="A", not_accepted=["1-OUT"], defects=found)


def test_an_excavation_is_proved_clear_before_it_is_welded(bench: Bench) -> None:
    bench.welded("1-OUT")
    bench.film("A", "1-OUT")
    bench.read("A", {"1-OUT": "401"})
    bench.tell("weld-excavated", weld="1-OUT", depth_mm=2.0)
    with pytest.raises(Refused, match="next: prove the excavation clear"):
        bench.tell("weld-redone", weld="1-OUT", **GOOD_PASS)

    bench.tell("excavation-proved", weld="1-OUT", method="penetrant", clear=False)
    assert bench.state("1-OUT") == "excavated"


def test_a_repair_and_what_adjoins_are_radiographed_again(bench: Bench) -> None:
    bench.welded()
    bench.film("A", *bench.plan.welds)
    bench.read("A", {"1-OUT": "401"})

    bench.repair("1-OUT")

    assert bench.ring.in_state("to radiograph") == ["1-OUT", "1-IN"]
    assert bench.ring.welds["1-IN"].beside == "1-OUT"
    bench.film("B", "1-OUT", "1-IN")
    bench.read("B")
    assert bench.ring.done
    assert bench.ring.welds["1-IN"].readings[-1].again


def test_stress_is_relieved_before_the_repair_is_radiographed() -> None:
    bench = Bench(plan(relieve="true"))
    bench.welded()
    bench.film("A", *bench.plan.welds)
    bench.read("A", {"1-OUT": "401"})
    bench.repair("1-OUT")
    assert bench.state("1-OUT") == "to relieve"
    for weld in ("1-OUT", "1-IN"):
        with pytest.raises(Refused, match=r"next.*relieve stress"):
            bench.film("B", weld)

    bench.tell("stress-relieved", welds=["1-OUT"], run="HF-1-0001")

    bench.film("B", "1-OUT", "1-IN")
    assert bench.state("1-IN") == "to read"


def test_at_the_limit_nothing_is_ground_out_again(bench: Bench) -> None:
    bench.welded("1-OUT")
    for film in ("A", "B"):
        bench.film(film, "1-OUT")
        bench.read(film, {"1-OUT": "2012"})
        bench.repair("1-OUT")
    bench.film("C", "1-OUT")
    bench.read("C", {"1-OUT": "2012"})

    assert bench.state("1-OUT") == "at the limit"
    assert bench.ring.welds["1-OUT"].repairs == 2
    with pytest.raises(Refused, match=r"repaired 2 times, the most that WP-1 allows \(2\)"):
        bench.tell("weld-excavated", weld="1-OUT", depth_mm=1.0)


def test_an_entry_withdrawn_counts_no_more(bench: Bench) -> None:
    bench.welded("1-OUT")
    bench.film("A", "1-OUT")
    bench.read("A", {"1-OUT": "401"})
    wrong = bench.entries[-1].seq

    bench.tell("weld-entry-withdrawn", corrects=wrong, reason="another ring's film")

    assert bench.state("1-OUT") == "to read"
    assert [one.seq for one, _ in bench.ring.withdrawn] == [wrong]


def test_what_later_entries_stand_on_is_not_withdrawn(bench: Bench) -> None:
    bench.welded("1-OUT")
    made = next(one.seq for one in bench.entries if one.kind == "welds-made")
    with pytest.raises(Refused, match="not welded"):
        bench.tell("weld-entry-withdrawn", corrects=made, reason="typo")


def test_a_concession_covers_what_was_read_and_no_more(bench: Bench) -> None:
    bench.welded("1-OUT", "2-OUT")
    bench.film("A", "1-OUT")
    bench.read("A", {"1-OUT": "401"})
    read_us = bench.entries[-1].known_us

    assert "1-OUT" in not_covered(bench.ring, None)
    assert "1-OUT" in not_covered(bench.ring, read_us - 1)
    assert "1-OUT" not in not_covered(bench.ring, read_us)
    assert "2-OUT" in not_covered(bench.ring, read_us)
    bench.tell("weld-excavated", weld="1-OUT", depth_mm=2.0)
    assert "1-OUT" in not_covered(bench.ring, read_us)
