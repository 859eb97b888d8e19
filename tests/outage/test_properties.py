"""What must hold for any net: power only delays, more passwords never strand, wires depend on no radio, and the shape
agrees with networkx."""

from __future__ import annotations

from dataclasses import replace
from itertools import permutations
from math import inf
from random import Random

import networkx as nx
import pytest

from advisor.outage import graph, scenarios
from advisor.outage.ends import simulate
from advisor.outage.records import WORST, Happening, Net, Outcome, Way
from tests.outage.nets import air, box, net, random_net

MANY = range(120)
SOME = range(40)


def reached(found: Outcome) -> set[str]:
    return {name for name, end in found.boxes.items() if end.back_s < inf}


def nothing(what: Net) -> set[str]:
    return reached(simulate(what, Happening("nothing", "")))


@pytest.mark.parametrize("number", MANY)
def test_power_only_delays(number: int) -> None:
    """Whoever was reached before is reached after, whatever was off; and longer off is never back earlier."""
    what = random_net(number)
    chance = Random(number)
    off = tuple(name for name in what.boxes if chance.random() < 0.5)
    found = simulate(what, Happening("trial", "", off=off))
    assert reached(found) == nothing(what)
    assert found.worst in ("unharmed", "by itself")
    if off:
        later = simulate(what, Happening("trial", "", off=off, back_s=((off[0], 900.0),)))
        for name in reached(found):
            assert later.boxes[name].out_s >= found.boxes[name].out_s - 1e-6


def with_more(what: Net, chance: Random) -> Net:
    """One more password, or a credential of its own, at one way of every box that has one over the air."""
    boxes = {}
    for name, entry in what.boxes.items():
        ways: list[Way] = []
        for way in entry.ways:
            more = chance.choice([("home", "yard"), ()]) if way.air and way.networks else way.networks
            ways.append(replace(way, networks=more))
        boxes[name] = replace(entry, ways=tuple(ways))
    return replace(what, boxes=boxes)


@pytest.mark.parametrize("number", MANY)
def test_more_passwords_never_strand(number: int) -> None:
    what = random_net(number, lent=True)
    chance = Random(number)
    changed = tuple(key for key in sorted(what.generation) if chance.random() < 0.6)
    off = tuple(name for name, entry in what.boxes.items() if not entry.at_line and chance.random() < 0.6)
    trial = Happening("trial", "", off=off, changed=changed)
    assert reached(simulate(with_more(what, chance), trial)) >= reached(simulate(what, trial))


@pytest.mark.parametrize("number", MANY)
def test_a_wired_box_depends_on_no_radio(number: int) -> None:
    what = random_net(number)
    wired = {name for name, entry in what.boxes.items() if entry.at_line}
    grown = True
    while grown:
        more = {
            name
            for name, entry in what.boxes.items()
            if name not in wired and entry.ways and not entry.ways[0].air and entry.ways[0].parent in wired
        }
        wired |= more
        grown = bool(more)
    drowned = tuple((name, band) for name in what.boxes for band in ("2.4", "5"))
    for trial in (
        Happening("drowned", "", jammed=drowned),
        Happening("radar", "", radar=tuple(what.band_of)),
        Happening("new", "", changed=tuple(sorted(what.generation))),
    ):
        found = simulate(what, trial)
        assert all(found.boxes[name].out_s == 0.0 for name in wired)


@pytest.mark.parametrize("number", SOME)
def test_the_order_of_return_changes_times_only_and_the_worst_one_is_found(number: int) -> None:
    """All orders of up to four boxes, at random distances: the ends are the same, and none takes longer after the last
    return than the worst of those that are tried."""
    what = random_net(number, most=4)
    chance = Random(number)
    off = tuple(name for name in what.boxes if chance.random() < 0.8)
    keys = tuple(sorted(what.generation)) if number % 2 else ()
    changed = keys if "gate" not in off else ()
    trial = Happening("trial", "", off=off, changed=changed)
    worst = scenarios.worst_order(what, trial)
    for order in permutations(off):
        at = 600.0
        times = []
        for name in order:
            times.append((name, at))
            at += chance.choice([0.0, 20.0, 200.0, 900.0])
        found = simulate(what, replace(trial, back_s=tuple(times)))
        assert reached(found) == reached(worst)
        assert WORST.index(found.worst) <= WORST.index(worst.worst)
        if not changed:
            assert found.longest_s <= worst.longest_s + 1e-6


def by_closure(what: Net, off: set[str]) -> set[str]:
    """Who is reached without some boxes: a plain closure over the ways, told apart from the simulation."""
    found = {name for name, entry in what.boxes.items() if entry.at_line and name not in off}
    while True:
        more = {
            name
            for name, entry in what.boxes.items()
            if name not in found and name not in off and any(way.parent in found for way in entry.ways)
        }
        if not more:
            return found
        found |= more


@pytest.mark.parametrize("number", MANY)
def test_who_falls_with_a_box_by_simulation_by_closure_and_by_dominators(number: int) -> None:
    """Dominators: networkx.immediate_dominators (Cooper, Harvey, Kennedy 2001)."""
    what = random_net(number, lent=False)
    before = by_closure(what, set())
    along = graph.takes_along(what)
    for name in what.boxes:
        found = simulate(what, Happening("gone", "", gone=(name,)))
        assert reached(found) == by_closure(what, {name})
        assert set(along[name]) == before - by_closure(what, {name}) - {name}


def random_graph(number: int) -> nx.Graph:
    """A connected graph of two to eight boxes."""
    chance = Random(number)
    made = nx.gnp_random_graph(chance.randint(2, 8), 0.35, seed=number)
    for node in range(1, len(made)):
        if not nx.has_path(made, 0, node):
            made.add_edge(node, chance.randrange(node))
    return made


def net_of(shape: nx.Graph) -> Net:
    """Every edge a way in both directions; box 0 stands at the line."""
    boxes = [box("b0")]
    for node in sorted(shape):
        ways = [way for other in sorted(shape[node]) for way in air(f"b{node}", f"b{other}", "5", networks=())]
        if node:
            boxes.append(box(f"b{node}", *ways))
    return net(*boxes)


@pytest.mark.parametrize("number", MANY)
def test_single_points_of_failure_are_articulation_points(number: int) -> None:
    """Where every way runs both ways, a box other than the one at the line takes others along exactly if it is an
    articulation point: networkx.articulation_points (Hopcroft and Tarjan 1973)."""
    shape = random_graph(number)
    along = graph.takes_along(net_of(shape))
    mine = {name for name, others in along.items() if others and name != "b0"}
    assert mine == {f"b{node}" for node in nx.articulation_points(shape) if node != 0}


@pytest.mark.parametrize("number", MANY)
def test_only_ways_are_bridges(number: int) -> None:
    """A hop without which its box is cut off is a bridge: networkx.bridges (Schmidt 2013)."""
    shape = random_graph(number)
    mine = {frozenset((name, parent)) for name, parent in graph.only_ways(net_of(shape)).items()}
    assert mine == {frozenset((f"b{first}", f"b{second}")) for first, second in nx.bridges(shape)}


def test_every_subset_is_looked_at_once() -> None:
    what = random_net(3, most=4)
    count = len(what.boxes)
    names = [entry.id for entry in scenarios.without_power(what, count) if entry.id.startswith("without-")]
    assert len(names) == len(set(names)) == 2**count - 1
