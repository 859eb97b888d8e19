"""The search against trying everything, and what a bound may not do."""

from __future__ import annotations

from collections.abc import Iterator
from itertools import product

import pytest

from advisor.advice.bounds import upper_bound
from advisor.advice.choices import Space, space_of
from advisor.advice.figures import Figures
from advisor.advice.layouts import Plan
from advisor.advice.score import asks_of, score
from advisor.advice.search import search
from advisor.advice.setups import Setup
from advisor.facts.checks import open_book
from advisor.facts.draws import Draws
from advisor.network.alternatives import loops, on_one_channel
from advisor.site.load import LoadedSite
from tests.advice.random_sites import random_site

CHANNELS = {"channels": {"2.4": [1, 6], "5": [36, 44]}, "widths_mhz": {"2.4": [20], "5": [40]}}


def setup_of(loaded: LoadedSite) -> Setup:
    return Setup("", (), (), (), loaded, open_book(loaded, Draws(1, 0)))


def every_plan(setup: Setup, space: Space) -> Iterator[Plan]:
    """Every way to choose, one after the other, without any thought."""
    nodes = list(space.ways)
    for choice in product(*space.ways.values()):
        hops = {**space.held, **dict(zip(nodes, choice, strict=True))}
        if loops(hops):
            continue
        roots = on_one_channel(setup.book.inventory.radios, hops)
        for tunings in product(*(space.tunings[root] for root in roots)):
            yield Plan(setup, space, hops, dict(zip(roots, tunings, strict=True)))


@pytest.mark.parametrize("number", range(0, 200, 3))
def test_same_optimum_as_trying_everything(number: int) -> None:
    relays, gear = (2, "home-relay") if number % 4 == 0 else (1, "open-node")
    loaded = random_site(number, relays, gear, choices=CHANNELS)
    setup, asks = setup_of(loaded), asks_of(loaded.site)
    found = search([setup], asks, budget=10_000, slack=0.0, enough=float("inf"))
    assert found.bound is None
    space = found.spaces[0][1]
    best = max(score(plan.book(), asks, found.hopeless).key for plan in every_plan(setup, space))
    assert found.best == best
    assert space.ways


@pytest.mark.parametrize("number", range(0, 200, 25))
def test_no_layout_beats_its_bound(number: int) -> None:
    loaded = random_site(number, 2, choices=CHANNELS)
    setup, asks = setup_of(loaded), asks_of(loaded.site)
    space = space_of(setup.book)
    figures = Figures(setup.book, space, asks)
    hopeless = frozenset(place for place, radios in figures.joins.items() if not radios)
    figures.without(hopeless)
    for plan in every_plan(setup, space):
        reached = score(plan.book(), asks, hopeless).key
        assert reached <= upper_bound(figures, plan.hops, plan.tuned)
        assert reached <= upper_bound(figures, plan.hops, {})
        for node in plan.space.ways:
            part = {name: hop for name, hop in plan.hops.items() if name != node}
            assert reached <= upper_bound(figures, part, {})
