"""Doors instead of walls: the cap, its continuity, and that no wall ever makes a path better."""

from __future__ import annotations

from itertools import pairwise

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from advisor.network.detour import Edge, FloorPlan, Gap, Point3, capped_obstacles_db, edges_of
from advisor.physics.materials import construction_ids, construction_loss
from advisor.site.building import Opening, Wall

MHZ = 5250.0


def loss_db(construction: str) -> float:
    return construction_loss(construction, "5").typical_db


def wall(line: list[tuple[float, float]], of: str, **openings: tuple[float, float, str]) -> Wall:
    return Wall(
        line=tuple(line),
        of=of,
        openings={
            name: Opening(from_m=low, to_m=high, of=material) for name, (low, high, material) in openings.items()
        },
    )


def plan(**walls: Wall) -> FloorPlan:
    return FloorPlan(edges_of(walls), loss_db)


def cap(floor: FloorPlan, start: tuple[float, float], end: tuple[float, float]) -> float:
    return capped_obstacles_db(floor, (*start, 1.5), (*end, 1.5), MHZ)


CONCRETE = wall([(5, -5), (5, 5)], "concrete", door=(7.0, 7.9, "door-timber"))
"""A concrete wall across the way from x = 0 to x = 10, with a door from y = 2.0 to 2.9."""


def test_through_the_door_beside_the_line() -> None:
    floor = plan(heavy=CONCRETE)
    assert floor.straight_db((0, 0, 1.5), (10, 0, 1.5)) == loss_db("concrete")
    detour = floor.best_detour((0, 0, 1.5), (10, 0, 1.5), MHZ)
    assert detour is not None
    assert detour.openings == ("heavy.door",)
    assert detour.points[1] == pytest.approx((5.0, 2.05, 1.5))
    assert detour.obstacles_db == pytest.approx(loss_db("door-timber") + detour.excess_db)
    assert 1.0 < detour.excess_db < detour.knife_edge_db
    assert cap(floor, (0, 0), (10, 0)) == detour.obstacles_db < loss_db("concrete")


@settings(deadline=None, max_examples=200)
@given(
    start=st.tuples(st.floats(4.2, 7.8), st.floats(0.2, 3.8)), end=st.tuples(st.floats(0.2, 7.8), st.floats(0.2, 7.8))
)
def test_out_of_a_room_without_a_door_a_wall_is_paid_whatever_doors_the_next_rooms_have(
    start: tuple[float, float], end: tuple[float, float]
) -> None:
    """Four rooms about a crossing of two stone walls; the doors are in the far halves, the room at the start has none.
    Every way out of it crosses stone once at least, also where its wall goes on and has a door further along."""
    floor = plan(
        across=wall([(0, 4), (8, 4)], "stone", living=(2.6, 3.5, "door-timber")),
        along=wall([(4, 0), (4, 8)], "stone", study=(4.6, 5.5, "door-timber")),
    )
    if end[0] < 3.9 or end[1] > 4.1:
        assert cap(floor, start, end) >= loss_db("stone")


def test_a_light_wall_is_not_avoided() -> None:
    floor = plan(light=wall([(5, -5), (5, 5)], "plasterboard", door=(9.0, 9.9, "door-timber")))
    assert cap(floor, (0, 0), (10, 0)) == loss_db("plasterboard")


def test_no_openings_no_detour() -> None:
    floor = plan(heavy=wall([(5, -5), (5, 5)], "concrete"))
    assert floor.best_detour((0, 0, 1.5), (10, 0, 1.5), MHZ) is None
    assert cap(floor, (0, 0), (10, 0)) == loss_db("concrete")
    assert cap(plan(), (0, 0), (10, 0)) == 0.0


def test_a_wall_that_is_not_crossed_offers_no_way() -> None:
    floor = plan(heavy=wall([(5, -5), (5, 5)], "concrete"), beside=wall([(0, 6), (10, 6)], "brick", gap=(4, 6, "open")))
    assert floor.best_detour((0, 0, 1.5), (10, 0, 1.5), MHZ) is None


def test_two_walls_two_doors() -> None:
    """Both doors aside: the way through both costs less than one door and the other wall."""
    second = wall([(7, -5), (7, 5)], "concrete", door=(7.0, 7.9, "door-timber"))
    floor = plan(a=CONCRETE, b=second)
    detour = floor.best_detour((0, 0, 1.5), (10, 0, 1.5), MHZ)
    assert detour is not None
    assert detour.openings == ("a.door", "b.door")
    assert detour.obstacles_db < loss_db("concrete") + loss_db("door-timber")


def test_walls_on_the_way_to_the_door_count() -> None:
    """A closet wall between the start and the door, which the straight line misses."""
    closet = wall([(3, 1), (3, 3)], "concrete")
    free, blocked = cap(plan(heavy=CONCRETE), (0, 0), (10, 0)), cap(plan(heavy=CONCRETE, shut=closet), (0, 0), (10, 0))
    assert blocked == loss_db("concrete") > free


def test_an_opening_round_a_corner_is_a_gap_in_each_edge() -> None:
    edges = edges_of({"w": wall([(0, 0), (4, 0), (4, 4)], "brick", arch=(3.0, 5.0, "open"))})
    assert [(gap.from_m, gap.to_m) for edge in edges for gap in edge.gaps] == [(3.0, 4.0), (0.0, 1.0)]


def test_a_corner_is_crossed_once() -> None:
    floor = plan(w=wall([(0, 0), (4, 0), (8, 4)], "brick"))
    assert len(floor.crossings((4, -2), (4, 2))) == 1


@pytest.mark.parametrize("edge_y", [2.0, 2.9])
def test_the_cap_is_continuous_where_the_line_meets_the_door(edge_y: float) -> None:
    """A millimetre to either side of the door's edge, and in steps of a centimetre on the way there."""
    floor = plan(heavy=CONCRETE)
    beside, inside = (cap(floor, (0, edge_y + side), (10, edge_y + side)) for side in (-0.001, 0.001))
    assert beside == pytest.approx(inside, abs=0.01)
    levels = [cap(floor, (0, 0.01 * y), (10, 0.01 * y)) for y in range(-400, 491)]
    assert max(abs(a - b) for a, b in pairwise(levels)) < 0.1


KINDS = st.sampled_from([name for name in construction_ids() if not name.startswith("floor-")])
COORDINATE = st.integers(0, 120).map(lambda number: number / 10.0 + 0.013)


@st.composite
def edges(draw: st.DrawFn, name: str) -> Edge:
    start = (draw(COORDINATE), draw(COORDINATE))
    end = draw(st.tuples(COORDINATE, COORDINATE).filter(lambda point: point != start))
    edge = Edge(name, draw(KINDS), start, end, ())
    gaps = []
    for index in range(draw(st.integers(0, 2))):
        low, high = sorted(draw(st.tuples(st.floats(0, 1), st.floats(0, 1))))
        gaps.append(Gap(f"{name}.{index}", draw(KINDS), low * edge.length_m, high * edge.length_m))
    return Edge(name, edge.of, start, end, tuple(gaps))


ENDS = st.tuples(COORDINATE, COORDINATE, st.floats(0.5, 2.5))


@settings(deadline=None, max_examples=400)
@given(data=st.data(), start=ENDS, end=ENDS, count=st.integers(0, 6), at=st.integers(0, 6))
def test_another_wall_never_makes_a_path_better(
    data: st.DataObject, start: Point3, end: Point3, count: int, at: int
) -> None:
    """Whatever it is made of, wherever it stands, with openings or without."""
    before = [data.draw(edges(f"w{index}")) for index in range(count)]
    after = [*before[:at], data.draw(edges("new")), *before[at:]]
    less, more = (capped_obstacles_db(FloorPlan(walls, loss_db), start, end, MHZ) for walls in (before, after))
    assert more >= less - 1e-9


@settings(deadline=None, max_examples=200)
@given(data=st.data(), start=ENDS, end=ENDS, count=st.integers(1, 5), heavier=st.floats(0.0, 30.0))
def test_a_heavier_construction_never_makes_a_path_better(
    data: st.DataObject, start: Point3, end: Point3, count: int, heavier: float
) -> None:
    walls = [data.draw(edges(f"w{index}")) for index in range(count)]
    changed = data.draw(KINDS)

    def more_db(construction: str) -> float:
        return loss_db(construction) + (heavier if construction == changed else 0.0)

    less, more = (capped_obstacles_db(FloorPlan(walls, cost), start, end, MHZ) for cost in (loss_db, more_db))
    assert more >= less - 1e-9


@settings(deadline=None, max_examples=200)
@given(data=st.data(), start=ENDS, end=ENDS, count=st.integers(0, 6))
def test_the_cap_never_exceeds_the_straight_line(data: st.DataObject, start: Point3, end: Point3, count: int) -> None:
    floor = FloorPlan([data.draw(edges(f"w{index}")) for index in range(count)], loss_db)
    assert 0.0 <= capped_obstacles_db(floor, start, end, MHZ) <= floor.straight_db(start, end)


@settings(deadline=None, max_examples=200)
@given(data=st.data(), start=ENDS, end=ENDS, count=st.integers(0, 5))
def test_both_directions_cost_the_same(data: st.DataObject, start: Point3, end: Point3, count: int) -> None:
    floor = FloorPlan([data.draw(edges(f"w{index}")) for index in range(count)], loss_db)
    there, back = capped_obstacles_db(floor, start, end, MHZ), capped_obstacles_db(floor, end, start, MHZ)
    assert there == pytest.approx(back, abs=1e-6)
