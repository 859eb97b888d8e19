"""What lies between two points: walls, openings, corners, floors, described paths."""

from __future__ import annotations

from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from advisor.network.geometry import Between, Building
from advisor.site.load import load_text

TAIL = "networks: {main: {name: main}}\n"


def between(floors: str, node: str, place: str, *, site: str = "{name: A site}") -> Between:
    """What lies between the node `box` and the place `seat`."""
    text = (
        f"site: {site}\nfloors: {floors}\nnodes: {{box: {{role: gateway, {node}}}}}\n"
        f"places: {{seat: {{client: laptop, {place}}}}}\n" + TAIL
    )
    way = Building(load_text(text, "site.yaml").site).between_ends("nodes", "box", "places", "seat")
    assert way is not None
    return way


def on_floor(walls: str, start: str = "[0, 5]", end: str = "[10, 5]", plan: str = "complete") -> Between:
    """Both ends on one floor, 1.5 m above it."""
    ends = [f"at: {point}, floor: ground, height_m: 1.5" for point in (start, end)]
    return between(f"{{ground: {{level: 0, plan: {plan}, walls: {walls}}}}}", *ends)


def crossed(way: Between) -> dict[str, int]:
    return dict(way.through)


def test_a_wall_between_and_a_wall_beside() -> None:
    way = on_floor("{across: {line: [[4, 0], [4, 10]], of: brick}, beside: {line: [[0, 8], [10, 8]], of: concrete}}")
    assert crossed(way) == {"brick": 1}
    assert way.distance_m == pytest.approx(10.0)
    assert (way.floors, way.complete, way.told) == (0, True, "drawn")


def test_distance_counts_the_heights() -> None:
    ends = ("at: [0, 0], floor: ground, height_m: 5", "at: [3, 0], floor: ground, height_m: 1")
    way = between("{ground: {level: 0}}", *ends)
    assert way.distance_m == pytest.approx(5.0)


def test_usual_heights_are_two_metres_for_nodes_and_hand_height_for_people() -> None:
    way = between("{ground: {level: 0}}", "at: [0, 0], floor: ground", "at: [0, 0], floor: ground")
    assert way.distance_m == pytest.approx(2.0 - 1.2)


def test_a_polyline_is_crossed_as_often_as_the_path_meets_it() -> None:
    assert crossed(on_floor("{zigzag: {line: [[2, 0], [2, 10], [6, 10], [6, 0]], of: brick}}")) == {"brick": 2}


def test_a_corner_on_the_path_counts_once() -> None:
    assert crossed(on_floor("{bent: {line: [[4, 0], [5, 5], [4, 10]], of: brick}}")) == {"brick": 1}


def test_a_wall_along_the_path_counts_once() -> None:
    assert crossed(on_floor("{along: {line: [[2, 5], [8, 5]], of: plasterboard}}")) == {"plasterboard": 1}


@pytest.mark.parametrize(
    ("at_y", "expected"),
    [(5, {"door-timber": 1}), (2, {"brick": 1}), (8.5, {"glass": 1}), (7, {"brick": 1}), (9.5, {"brick": 1})],
)
def test_what_stands_in_an_opening_counts_instead_of_the_wall(at_y: float, expected: dict[str, int]) -> None:
    wall = (
        "{w: {line: [[4, 0], [4, 10]], of: brick, openings: {window: {from_m: 8, to_m: 9, of: glass}, "
        "door: {from_m: 4, to_m: 6, of: door-timber}}}}"
    )
    assert crossed(on_floor(wall, f"[0, {at_y}]", f"[10, {at_y}]")) == expected


def test_an_opening_is_measured_along_the_whole_polyline() -> None:
    """The wall turns after 4 m; an opening from 5 to 7 m lies 1 to 3 m behind the corner."""
    wall = "{w: {line: [[0, 8], [4, 8], [4, 2]], of: brick, openings: {gap: {from_m: 5, to_m: 7}}}}"
    assert crossed(on_floor(wall, "[0, 6]", "[10, 6]")) == {"open": 1}
    assert crossed(on_floor(wall, "[0, 3]", "[10, 3]")) == {"brick": 1}


def test_overlapping_openings_do_not_add_up() -> None:
    wall = (
        "{w: {line: [[4, 0], [4, 10]], of: brick, openings: {a: {from_m: 4, to_m: 7, of: glass}, "
        "b: {from_m: 5, to_m: 6, of: door-timber}}}}"
    )
    assert crossed(on_floor(wall)) == {"glass": 1}


numbers = st.integers(0, 12)
walls = st.tuples(numbers, numbers, numbers, numbers, st.sampled_from(["brick", "plasterboard", "glass"])).filter(
    lambda wall: wall[:2] != wall[2:4]
)


def drawn(entries: list[tuple[int, int, int, int, str]]) -> str:
    parts = [
        f"w{number}: {{line: [[{a}, {b}], [{c}, {d}]], of: {of}}}" for number, (a, b, c, d, of) in enumerate(entries)
    ]
    return "{" + ", ".join(parts) + "}"


@given(st.lists(walls, max_size=5, unique=True), st.randoms(use_true_random=False))
@settings(max_examples=40, deadline=None)
def test_the_order_of_walls_and_of_the_ends_does_not_matter(entries: list[Any], random: Any) -> None:
    there = on_floor(drawn(entries), "[0.5, 1.5]", "[11.5, 9.25]")
    shuffled = list(entries)
    random.shuffle(shuffled)
    assert on_floor(drawn(shuffled), "[0.5, 1.5]", "[11.5, 9.25]").through == there.through
    assert on_floor(drawn(entries), "[11.5, 9.25]", "[0.5, 1.5]").through == there.through


@given(st.lists(walls, max_size=5, unique=True), walls)
@settings(max_examples=40, deadline=None)
def test_a_wall_more_never_takes_a_crossing_away(entries: list[Any], further: Any) -> None:
    before = crossed(on_floor(drawn(entries), "[0.5, 1.5]", "[11.5, 9.25]"))
    after = crossed(on_floor(drawn([*entries, further]), "[0.5, 1.5]", "[11.5, 9.25]"))
    assert all(after.get(name, 0) >= count for name, count in before.items())


TWO_FLOORS = (
    "{ground: {level: 0, plan: complete, walls: {low: {line: [[3, 0], [3, 10]], of: brick}}}, "
    "upper: {level: 1, plan: complete, slab: floor-timber, walls: {high: {line: [[7, 0], [7, 10]], of: glass}}}}"
)


def test_between_storeys_the_slab_and_the_walls_on_either_part_of_the_way() -> None:
    """From 2 m up at x 0 to 4.2 m up at x 10 the way passes the slab (3 m) at x 4.5: it meets both walls."""
    way = between(TWO_FLOORS, "at: [0, 5], floor: ground", "at: [10, 5], floor: upper")
    assert crossed(way) == {"brick": 1, "floor-timber": 1, "glass": 1}
    assert (way.floors, way.complete) == (1, True)


def test_a_wall_on_the_part_of_the_way_above_it_does_not_count() -> None:
    """From 2.9 m up the slab is passed at x 0.7, before the lower wall at x 3."""
    way = between(TWO_FLOORS, "at: [0, 5], floor: ground, height_m: 2.9", "at: [10, 5], floor: upper")
    assert crossed(way) == {"floor-timber": 1, "glass": 1}


def test_straight_up_only_the_slab() -> None:
    way = between(TWO_FLOORS, "at: [5, 5], floor: ground", "at: [5, 5], floor: upper")
    assert crossed(way) == {"floor-timber": 1}
    assert way.distance_m == pytest.approx(3.0 + 1.2 - 2.0)


def test_over_two_storeys_both_slabs() -> None:
    floors = "{a: {level: 0}, b: {level: 1, slab: floor-timber}, c: {level: 2, slab: floor-concrete}}"
    way = between(floors, "at: [0, 0], floor: c", "at: [4, 0], floor: a")
    assert crossed(way) == {"floor-timber": 1, "floor-concrete": 1}
    assert way.floors == 2


def test_a_cellar_lies_below_level_zero() -> None:
    floors = "{cellar: {level: -1}, ground: {level: 0, slab: floor-concrete}}"
    way = between(floors, "at: [0, 0], floor: cellar", "at: [0, 0], floor: ground")
    assert crossed(way) == {"floor-concrete": 1}
    assert way.distance_m == pytest.approx(3.0 + 1.2 - 2.0)


def test_base_and_ceiling_heights_are_used() -> None:
    floors = "{ground: {level: 0}, upper: {level: 1, base_m: 4.5}}"
    ends = ("at: [0, 0], floor: ground", "at: [0, 0], floor: upper")
    assert between(floors, *ends).distance_m == pytest.approx(4.5 + 1.2 - 2.0)
    usual = "{ground: {level: 0}, upper: {level: 1}}"
    assert between(usual, *ends, site="{name: A, ceiling_m: 3.2}").distance_m == pytest.approx(3.2 + 1.2 - 2.0)


def test_a_slab_of_unknown_construction_leaves_the_path_incomplete() -> None:
    floors = "{ground: {level: 0, plan: complete}, upper: {level: 1, plan: complete}}"
    way = between(floors, "at: [0, 0], floor: ground", "at: [4, 0], floor: upper")
    assert (way.floors, way.complete, crossed(way)) == (1, False, {})


def test_complete_only_where_every_floor_on_the_way_is() -> None:
    floors = TWO_FLOORS.replace("level: 1, plan: complete", "level: 1, plan: partial")
    assert not between(floors, "at: [0, 5], floor: ground", "at: [10, 5], floor: upper").complete
    assert between(floors, "at: [0, 5], floor: ground", "at: [10, 5], floor: ground").complete


@pytest.mark.parametrize(("plan", "complete"), [("none", False), ("partial", False), ("complete", True)])
def test_only_a_complete_plan_makes_a_path_complete(plan: str, complete: bool) -> None:
    assert on_floor("{w: {line: [[4, 0], [4, 10]], of: brick}}", plan=plan).complete is complete


def test_two_parts_of_a_building_on_one_level_both_count() -> None:
    """Two floors of one level, as two wings are drawn: the walls of both are crossed, one slab leads up."""
    wings = (
        "{east: {level: 0, plan: complete, walls: {e: {line: [[7, 0], [7, 10]], of: brick}}}, "
        "west: {level: 0, plan: complete, walls: {w: {line: [[3, 0], [3, 10]], of: glass}}}, "
        "loft-east: {level: 1, plan: complete, slab: floor-timber}, "
        "loft-west: {level: 1, plan: complete, slab: floor-concrete}}"
    )
    ground = between(wings, "at: [0, 5], floor: west, height_m: 1", "at: [10, 5], floor: east, height_m: 1")
    assert crossed(ground) == {"brick": 1, "glass": 1}
    up = between(wings, "at: [0, 5], floor: west", "at: [0, 5], floor: loft-west")
    assert crossed(up) == {"floor-concrete": 1}
    assert up.floors == 1


def test_a_described_path_goes_before_the_plan() -> None:
    told = "paths: {box: {distance_m: 8, through: [brick, floor-timber, brick]}}"
    ends = ("at: [0, 0], floor: ground", f"at: [3, 0], floor: ground, {told}")
    way = between("{ground: {level: 0, plan: complete}}", *ends)
    assert way.distance_m == 8
    assert crossed(way) == {"brick": 2, "floor-timber": 1}
    assert (way.floors, way.complete, way.told, way.path) == (1, False, "described", "places.seat.paths.box")


def test_distance_alone_and_line_of_sight() -> None:
    alone = between("{}", "note: x", "paths: {box: {distance_m: 8}}")
    assert (alone.told, alone.complete, alone.through) == ("distance", False, ())
    clear = between("{}", "note: x", "paths: {box: {distance_m: 8, complete: true}}")
    assert (clear.told, clear.complete) == ("described", True)


def test_nobody_knows() -> None:
    text = "site: {name: A}\nnodes: {box: {role: gateway}}\nplaces: {seat: {client: laptop}}\n" + TAIL
    assert Building(load_text(text, "site.yaml").site).between_ends("nodes", "box", "places", "seat") is None


def test_between_two_nodes_either_may_tell() -> None:
    text = (
        "site: {name: A}\nnodes:\n  a: {role: gateway}\n"
        "  b: {role: relay, uplink: {to: a}, paths: {a: {distance_m: 7, through: [brick]}}}\n" + TAIL
    )
    building = Building(load_text(text, "site.yaml").site)
    assert building.between_ends("nodes", "a", "nodes", "b") == building.between_ends("nodes", "b", "nodes", "a")
