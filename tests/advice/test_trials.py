"""Assumptions moved between their ends: which terms move, and what doors and clients become."""

from __future__ import annotations

import numpy as np

from advisor.advice.flips import winner
from advisor.advice.regret import regrets
from advisor.advice.trials import (
    ASSUMPTIONS,
    GRID,
    POINTS,
    Ends,
    Trial,
    doors_open,
    value_of,
    with_streams,
)
from advisor.facts.draws import Z90
from advisor.site.load import load_text
from advisor.values import FIRST_DRAW

SITE = """
site: {name: Doors, country: GB, environment: house, invented: true}
floors:
  ground:
    level: 0
    walls:
      mid: {line: [[0, 0], [9, 0]], of: brick, openings: {way: {from_m: 1, to_m: 2, of: door-timber}, pane: {from_m: 4, to_m: 5, of: glass}}}
rooms: {hall: {floor: ground, next_to: {den: brick with door}}, den: {floor: ground}}
nodes: {gateway: {role: gateway, gear: home-router}}
clients: {pad: {like: tablet, streams: 2}, slate: {like: tablet}}
places: {a: {client: pad}, b: {client: slate}, c: {client: laptop}}
"""  # noqa: E501


def test_each_assumption_moves_its_own_terms_and_no_other() -> None:
    draws = Ends()
    keys = {
        "neighbours": ("neighbours.next-door.busy_share",),
        "construction": ("construction", "nodes.a", "nodes.b"),
        "power": ("power", "gateway.r5"),
    }
    for number, assumption in enumerate(ASSUMPTIONS):
        cases = draws.normal(*keys[assumption.id])[FIRST_DRAW:].reshape(len(ASSUMPTIONS), POINTS)
        assert np.allclose(cases[number], GRID)
        assert not np.delete(cases, number, axis=0).any()
    assert not draws.normal("shadow", "x", "y")[FIRST_DRAW:].any()
    assert (GRID[0], GRID[POINTS // 2], GRID[-1]) == (-Z90, 0.0, Z90)


def test_ends_in_words() -> None:
    neighbours, construction, _ = ASSUMPTIONS
    assert neighbours.ends == ("quiet (2% of the time)", "busy (35% of the time)")
    assert neighbours.at(0.0) == "10% of the time"
    assert construction.at(Z90 / 2) == "50% of the way to heavy construction"


def test_open_doors_let_through_and_glass_stays() -> None:
    site = load_text(SITE, "doors.yaml").site
    opened = doors_open(site)
    openings = opened.floors["ground"].walls["mid"].openings
    assert (openings["way"].of, openings["pane"].of) == ("open", "glass")
    assert opened.rooms["hall"].next_to == {"den": "brick with opening"}
    assert doors_open(opened) is opened


def test_streams_change_only_where_the_file_does_not_give_them() -> None:
    site = load_text(SITE, "doors.yaml").site
    one = with_streams(1)(site)
    streams = {name: one.clients[place.client].streams for name, place in one.places.items()}
    assert streams == {"a": 2, "b": 1, "c": 1}
    assert with_streams(2)(site) is site


def test_regret_by_hand() -> None:
    """Three evenings, two layouts: the first is 0.4 behind on the busy one, the second a need behind on the quiet."""
    columns = POINTS * len(ASSUMPTIONS)
    first, second = np.full((2, columns), 1.5), np.full((2, columns), 1.5)
    first[0, POINTS - 1] = 1.1
    second[1, 0] = 0.9
    found = regrets({"a": Trial(first, frozenset()), "b": Trial(second, frozenset())}, 2.0)
    assert (found["a"].needs, found["a"].share) == (0, 0.4)
    assert (found["b"].needs, found["b"].share) == (1, 0.6)


def test_the_first_keeps_its_place_unless_another_is_notably_better() -> None:
    def column(*shares: float) -> np.ndarray:
        return np.array(shares)

    assert winner(["a", "b"], {"a": column(1.0, 1.2), "b": column(1.04, 1.2)}, 2.0) == "a"
    assert winner(["a", "b"], {"a": column(1.0, 1.2), "b": column(1.2, 1.2)}, 2.0) == "b"
    assert winner(["a", "b"], {"a": column(0.9, 1.9), "b": column(1.0, 1.0)}, 2.0) == "b"
    assert winner(["a", "b"], {"a": column(2.5, 2.5), "b": column(9.0, 9.0)}, 2.0) == "a"
    assert value_of(column(3.0, 2.5), 2.0) == (2, 2.0)
