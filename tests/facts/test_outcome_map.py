"""What works where between the places: the same computation as for places, and against free space."""

from __future__ import annotations

import random
from itertools import pairwise
from math import dist, log10
from pathlib import Path

import pytest

from advisor.facts import everyone
from advisor.facts.book import Book
from advisor.facts.checks import open_book
from advisor.facts.outcome_map import USES, Spot, outcomes
from advisor.network.floor_grid import grids
from advisor.site.load import load_site, load_text
from advisor.tables import place_rows, use_of
from advisor.values import Known

PROFILES = sorted((Path(__file__).parent.parent.parent / "profiles").glob("*.yaml"))
SEEDS = range(8)
BROWSING = (everyone.browsing_mbps("down"), everyone.browsing_mbps("up"))


def invented_site(seed: int) -> str:
    """A floor with two rooms, two or three nodes, some places; one uplink may be left to the equipment."""
    draw = random.Random(seed)
    wide, deep = draw.uniform(8, 26), draw.uniform(6, 12)
    wall = draw.uniform(3, wide - 3)

    def at() -> str:
        return f"[{draw.uniform(0.3, wide - 0.3):.2f}, {draw.uniform(0.3, deep - 0.3):.2f}]"

    of = draw.choice(("brick", "plasterboard", "concrete", "brick-cavity"))
    uplink = draw.choice(("{to: gateway, band: 5}", "{to: gateway, over: ethernet}", "{choice: node}"))
    environment = draw.choice(("house", "office"))
    lines = [
        f"site: {{name: Invented {seed}, country: GB, environment: {environment}, invented: true}}",
        f"internet: {{down_mbps: {draw.choice((16, 100, 500))}, up_mbps: {draw.choice((2, 30))}}}",
        f"floors: {{ground: {{level: 0, plan: {draw.choice(('complete', 'partial'))}, walls: {{outer: {{line: [[0, 0], "
        f"[{wide:.2f}, 0], [{wide:.2f}, {deep:.2f}], [0, {deep:.2f}], [0, 0]], of: brick-cavity}}, middle: {{line: "
        f"[[{wall:.2f}, 0], [{wall:.2f}, {deep:.2f}]], of: {of}, openings: {{door: {{from_m: 1, to_m: 2, of: "
        "door-timber}}}}}}",
        "networks: {home: {name: home, security: wpa2-personal}}",
        "nodes:",
        f"  gateway: {{role: gateway, gear: home-router, at: {at()}, floor: ground}}",
        f"  far: {{role: relay, gear: home-relay, at: {at()}, floor: ground, uplink: {uplink}}}",
        "places:",
    ]
    for number in range(4):
        need = draw.choice(("", ", down_mbps: 8, up_mbps: 1", ", down_mbps: 40, up_mbps: 3, calls: 1"))
        kind = draw.choice(("phone", "laptop"))
        lines.append(f"  p{number}: {{client: {kind}, at: {at()}, floor: ground, count: {draw.randint(1, 5)}{need}}}")
    return "\n".join(lines) + "\n"


def alike(book: Book) -> list[str]:
    """Places at which the visitor, given the place's random terms and needs, fares as the place itself."""
    checked = []
    for row in place_rows(book):
        place = book.site.places[row.place]
        if (place.at is None and place.room is None) or place.to != "internet":
            continue
        asks = tuple(mbps or usual for mbps, usual in zip((place.down_mbps, place.up_mbps), BROWSING, strict=True))
        spot = Spot(place.at, place.floor, place.room)
        elsewhere = Spot((0.5, 0.5) if place.at else None, place.floor, place.room)
        found = outcomes(
            book, place.client, [elsewhere, spot], network=place.network, stands_for=row.place, asks_mbps=asks
        )[1]
        assert {use: use_of(found.uses[use]) for use in USES} == row.uses, row.place
        assert found.joins == str(row.joined.value.centre if isinstance(row.joined.value, Known) else "").replace(
            "none", ""
        )
        checked.append(row.place)
    return checked


@pytest.mark.parametrize("path", PROFILES, ids=lambda path: path.stem)
def test_a_visitor_with_the_terms_of_a_place_fares_as_that_place(path: Path) -> None:
    checked = alike(open_book(load_site(path)))
    assert checked or path.stem == "two-nodes"


@pytest.mark.parametrize("seed", SEEDS)
def test_so_it_does_on_invented_floors(seed: int) -> None:
    """Where nodes share their air by time and that air is full the paces differ, and nothing is compared; here gear
    that shares by packet is used."""
    assert len(alike(open_book(load_text(invented_site(seed), "invented.yaml")))) == 4


HALL = """
site: {name: Hall, country: GB, environment: office, invented: true}
internet: {down_mbps: 500, up_mbps: 500}
floors:
  hall:
    level: 0
    plan: complete
    walls: {outer: {line: [[0, 0], [400, 0], [400, 4], [0, 4], [0, 0]], of: brick}}
networks: {hall: {name: hall, security: wpa2-personal}}
clients: {pad: {like: phone, antenna_dbi: 0, body_loss_db: 0}}
nodes:
  mast:
    role: gateway
    at: [1, 2]
    floor: hall
    height_m: 1.2
    radios: {r5: {band: 5, channel: 36, width_mhz: 20, eirp_dbm: 20}}
places: {near: {client: pad, at: [3, 2], floor: hall, down_mbps: 1, up_mbps: 0.5}}
"""


def test_calls_end_where_free_space_takes_the_level_below_the_call_level() -> None:
    """ITU-R P.525-4: free-space loss 20 log d + 20 log f - 27.55 dB (m, MHz). 20 dBm on channel 36 (5180 MHz) fall to
    -70 dBm, what calls want, where the loss is 90 dB."""
    reach_m = 10 ** ((90.0 + 27.55 - 20 * log10(5180.0)) / 20)
    book = open_book(load_text(HALL, "hall.yaml"))
    spots = [Spot((1.0 + x, 2.0), "hall") for x in (reach_m * share for share in (0.5, 0.9, 0.999, 1.001, 1.1, 1.5))]
    found = outcomes(book, "pad", spots)
    holds = [entry.uses["calls"].centre for entry in found if isinstance(entry.uses["calls"], Known)]
    assert holds == [True, True, True, False, False, False]


def test_more_power_never_takes_a_use_away_where_nothing_is_full() -> None:
    loud = HALL.replace("eirp_dbm: 20", "eirp_dbm: 23")
    spots = [Spot((x, 2.0), "hall") for x in range(5, 400, 15)]
    before, after = (outcomes(open_book(load_text(text, "hall.yaml")), "pad", spots) for text in (HALL, loud))
    for one, other in zip(before, after, strict=True):
        for use in USES:
            assert (use_of(other.uses[use]).chance or 0) >= (use_of(one.uses[use]).chance or 0)


def test_the_visitor_takes_nothing_from_anybody() -> None:
    site = load_site(PROFILES[1])
    untouched = {row.place: row.everyone.value for row in place_rows(open_book(site))}
    book = open_book(site)
    outcomes(book, "phone", [Spot((5.0, 5.0), "ground")])
    assert {row.place: row.everyone.value for row in place_rows(book)} == untouched


def test_cells_cover_what_the_walls_enclose_and_nothing_else() -> None:
    site = load_site(PROFILES[1]).site
    for grid in grids(site, 700):
        area = sum(_area(rings) for rings in grid.shape_of(grid.cells))
        assert area == pytest.approx(grid.outline.area, rel=1e-6)
        for cell in grid.cells:
            assert grid.cell_at(*cell.middle) == (cell.column, cell.row)
            assert grid.nearest(*cell.middle) == cell
    assert {grid.floor: round(grid.outline.area) for grid in grids(site, 700)} == {"ground": 189, "upper": 108}
    assert sum(len(grid.cells) for grid in grids(site, 100)) <= 130


def _area(rings: list[list[tuple[float, float]]]) -> float:
    """Outer ring less the holes, by the shoelace formula."""
    outer, *holes = [abs(sum(a[0] * b[1] - b[0] * a[1] for a, b in pairwise(ring))) / 2 for ring in rings]
    return outer - sum(holes)


def test_a_point_outside_has_no_cell() -> None:
    grid = grids(load_site(PROFILES[1]).site, 700)[0]
    assert grid.nearest(100.0, 100.0) is None
    edge = grid.nearest(0.0, 0.0)
    assert edge is not None and dist(edge.middle, (0.0, 0.0)) < 1.0
