"""What a part was made from, and what was made of it, against networkx on the same graph.

Descendants and ancestors as `networkx.descendants` and `networkx.ancestors` give them
(A. Hagberg, D. Schult, P. Swart, "Exploring network structure, dynamics, and function using
NetworkX", SciPy 2008).
"""

from __future__ import annotations

import random
from collections.abc import Callable, Iterator

import networkx as nx
import pytest
from sqlalchemy import event, insert

from ringwright.db import FOREVER_US
from ringwright.parts.tables import Link, PartMark
from ringwright.trace.genealogy import generations, read_ancestors, read_descendants
from tests.make.floor import CODE, Floor, open_floor

PARTS = 40


@pytest.fixture
def made(new_store_url: Callable[[], str]) -> Iterator[Floor]:
    """A floor with forty parts that nothing ties together yet."""
    floor = open_floor(new_store_url())
    for number in range(PARTS):
        floor.book("create", f"P{number:02}")
    yield floor
    floor.ledger.store.close()


def tie(floor: Floor, graph: nx.DiGraph, marks: dict[str, str]) -> None:
    """The links of a graph as the projection holds them, some ends named by a mark."""
    common = {"site_id": 1, "version": 0, "known_from_us": 0, "known_to_us": FOREVER_US}
    links = [
        {
            **common, "serial": child, "number": number, "link": "join", "at_us": number,
            "parent": marks.get(parent, parent), "child": marks.get(child, child),
        }
        for number, (parent, child) in enumerate(graph.edges)
    ]  # fmt: skip
    borne = [
        {"site_id": 1, "serial": serial, "mark": each, "retired": each == serial}
        for serial, mark in marks.items()
        for each in (serial, mark)
    ]
    with floor.ledger.store.write(1) as connection:
        if links:
            connection.execute(insert(Link), links)
        if borne:
            connection.execute(insert(PartMark), borne)


def random_graph(dice: random.Random, *, cycles: bool) -> nx.DiGraph:
    """Forty parts with random links; without cycles a link leads to a later part only."""
    graph = nx.DiGraph()
    graph.add_nodes_from(f"P{number:02}" for number in range(PARTS))
    for _ in range(dice.randint(0, 90)):
        one, other = dice.sample(range(PARTS), 2)
        first, last = (one, other) if cycles else sorted((one, other))
        graph.add_edge(f"P{first:02}", f"P{last:02}")
    return graph


@pytest.mark.parametrize("cycles", [False, True], ids=["acyclic", "cyclic"])
@pytest.mark.parametrize("seed", range(6))
def test_closures_are_those_of_networkx(made: Floor, seed: int, cycles: bool) -> None:
    dice = random.Random(seed)
    graph = random_graph(dice, cycles=cycles)
    marks = {f"P{n:02}": f"M{n:02}" for n in dice.sample(range(PARTS), 10)}
    tie(made, graph, marks)

    with made.ledger.read(CODE) as read:
        for start in dice.sample(sorted(graph.nodes), 8):
            below = {edge.child for edge in read_descendants(read, [start])} - {start}
            above = {edge.parent for edge in read_ancestors(read, [start])} - {start}
            assert below == nx.descendants(graph, start)
            assert above == nx.ancestors(graph, start)


@pytest.mark.parametrize("seed", range(6))
def test_the_edges_below_several_parts_are_those_of_the_graph_they_span(
    made: Floor, seed: int
) -> None:
    dice = random.Random(seed)
    graph = random_graph(dice, cycles=True)
    tie(made, graph, {})
    starts = dice.sample(sorted(graph.nodes), 5)

    with made.ledger.read(CODE) as read:
        found = {(edge.parent, edge.child) for edge in read_descendants(read, starts)}
    reached = set(starts).union(*(nx.descendants(graph, start) for start in starts))
    assert found == set(graph.out_edges(reached))


def test_generations_are_the_shortest_ways_of_networkx(made: Floor) -> None:
    graph = random_graph(random.Random(3), cycles=True)
    tie(made, graph, {})
    start = max(graph.nodes, key=lambda node: len(nx.descendants(graph, node)))

    with made.ledger.read(CODE) as read:
        found = generations(read_descendants(read, [start]), start, down=True)
    assert found == dict(nx.single_source_shortest_path_length(graph, start))
    assert len(found) > 5


def test_a_chain_of_any_length_takes_one_statement(made: Floor) -> None:
    tie(made, nx.path_graph([f"P{n:02}" for n in range(PARTS)], create_using=nx.DiGraph), {})
    asked: list[str] = []
    event.listen(
        made.ledger.store.engine, "before_cursor_execute", lambda *a: asked.append(a[2])
    )

    with made.ledger.read(CODE) as read:
        asked.clear()
        edges = read_descendants(read, ["P00"])
        # How the planner is set up is no question to the record.
        asked = [text for text in asked if "set_config" not in text]
        questions = [text for text in asked if text.lstrip().startswith(("SELECT", "WITH"))]
    assert len(edges) == PARTS - 1
    assert len(questions) == 1
