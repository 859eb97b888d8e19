"""The way from room to room: which rooms, how far, and what it costs."""

from __future__ import annotations

from math import hypot, sqrt
from time import perf_counter

import pytest

from advisor.data import catalogue
from advisor.network.geometry import Between, Building
from advisor.network.rooms import Loss, distance_share, layer_loss
from advisor.physics.diffraction import detour_excess_db
from advisor.physics.materials import construction_ids, construction_loss
from advisor.physics.propagation import NEAREST_M
from advisor.site.load import load_text
from advisor.site.partitions import Layer

FLOORS = "{ground: {level: 0}, upper: {level: 1}, top: {level: 2}}"


def building(rooms: str, node: str = "room: a", place: str = "room: b") -> Building:
    text = (
        f"site: {{name: Invented, ceiling_m: 2.5}}\nfloors: {FLOORS}\nrooms: {rooms}\n"
        f"nodes: {{box: {{role: gateway, {node}}}}}\nplaces: {{seat: {{client: laptop, {place}}}}}\n"
    )
    return Building(load_text(text, "site.yaml").site)


def between(rooms: str, *, band: str = "5", **ends: str) -> Between:
    way = building(rooms, **ends).between_ends("nodes", "box", "places", "seat", band)
    assert way is not None
    assert way.rooms is not None
    return way


def room(beside: str = "", size: str = "[4, 4]", floor: str = "ground") -> str:
    return f"{{floor: {floor}, size_m: {size}, next_to: {{{beside}}}}}"


def passed(way: Between) -> tuple[str, ...]:
    assert way.rooms is not None
    return way.rooms.rooms


# Distance


def test_half_of_one_room_and_half_of_the_next() -> None:
    """4 m and 6 m deep: 5 m from middle to middle; the ends lie somewhere in their rooms, 0.8 m apart in height."""
    way = between(f"{{a: {room('b: brick')}, b: {room(size='[6, 6]')}}}")
    level = sqrt(5.0**2 + (2 * 4.0**2 + 2 * 6.0**2) / 12.0)
    assert way.distance_m == pytest.approx(hypot(distance_share(1).typical * level, 0.8))
    assert (way.told, way.complete, way.floors, way.path) == ("rooms", True, 0, "nodes.box.room")


def test_a_room_passed_counts_whole() -> None:
    """Half of 4 m, 3 m passed, half of 4 m."""
    way = between(f"{{a: {room('c: brick')}, b: {room('c: brick')}, c: {room(size='[9, 1]')}}}")
    assert passed(way) == ("a", "c", "b")
    assert way.rooms is not None
    assert way.rooms.middles_m == pytest.approx(sqrt(7.0**2 + 4 * 4.0**2 / 12.0))


def test_in_one_room_nothing_lies_between() -> None:
    """The middle of the distances between two points of a square is 0.51 of its side (a textbook result)."""
    way = between(f"{{a: {room()}}}", place="room: a")
    assert (way.through, way.rooms and way.rooms.loss, passed(way)) == ((), Loss(0.0, 0.0, 0.0), ("a",))
    assert hypot(0.51 * 4.0, 0.8) == pytest.approx(way.distance_m, abs=0.1)


def test_straight_above_is_a_storey_and_a_bit() -> None:
    way = between(f"{{a: {room('b: floor-timber')}, b: {room(floor='upper')}}}")
    assert way.rooms is not None
    assert way.rooms.rise_m == pytest.approx(2.5 + 1.2 - 2.0)
    assert (way.floors, way.through) == (1, (("floor-timber", 1),))
    assert way.distance_m < 3.0


def test_over_the_floor_above_and_down_again_is_as_high_as_it_is() -> None:
    up = "c: floor-timber"
    way = between(f"{{a: {room(up)}, b: {room(up)}, c: {room(size='[8, 4]', floor='upper')}}}")
    assert passed(way) == ("a", "c", "b")
    assert way.rooms is not None
    assert way.rooms.rise_m == pytest.approx(5.0)
    assert way.floors == 2


def test_never_nearer_than_the_formulas_reach() -> None:
    way = between(f"{{a: {room(size='[0.2, 0.2]')}}}", node="room: a, height_m: 1.2", place="room: a")
    assert way.distance_m == NEAREST_M


def test_rooms_without_a_size_are_usual_ones() -> None:
    bare = between("{a: {floor: ground, next_to: {b: brick}}, b: {floor: ground}}")
    assert bare == between(f"{{a: {room('b: brick')}, b: {room()}}}")


# Which way


def test_the_way_that_costs_least_counts() -> None:
    """Round through the hall nothing stands, and the bend costs some 9 dB: more than plasterboard, less than metal."""
    ways = {
        wall: passed(between(f"{{a: {room(f'b: {wall}, c: open')}, b: {room('c: open')}, c: {room(size='[2, 2]')}}}"))
        for wall in ("plasterboard", "metal")
    }
    assert ways == {"plasterboard": ("a", "b"), "metal": ("a", "c", "b")}


def test_a_longer_way_pays_for_its_bend() -> None:
    """Middle to middle 4 m straight and 6 m round: the bend that makes 4 of 6."""
    way = between(f"{{a: {room('b: metal, c: open')}, b: {room('c: open')}, c: {room(size='[2, 2]')}}}")
    assert way.rooms is not None
    inside = 4 * 4.0**2 / 12.0
    straight, round_m = sqrt(4.0**2 + inside + 0.64), sqrt(6.0**2 + inside + 0.64)
    up = sqrt(round_m**2 - straight**2) / 2.0
    bend = detour_excess_db([(0.0, 0.0), (straight / 2.0, up), (straight, 0.0)], 5250.0)
    assert way.rooms.loss.typical == pytest.approx(bend)
    assert way.rooms.loss.low == pytest.approx(0.0)
    assert way.rooms.told[-1] == "a bend"
    assert way.rooms.straight == ("a", "b")


def test_the_high_end_of_a_way_round_is_at_most_that_of_the_straight_one() -> None:
    way = between(f"{{a: {room('b: metal, c: open')}, b: {room('c: open')}, c: {room(size='[2, 2]')}}}")
    assert way.rooms is not None
    assert way.rooms.loss.high <= construction_loss("metal", "5").high_db


def test_of_equal_ways_the_first_id_is_told() -> None:
    way = between(f"{{a: {room('d: brick, c: brick')}, b: {room('c: brick, d: brick')}, c: {room()}, d: {room()}}}")
    assert passed(way) == ("a", "c", "b")


def test_rooms_that_are_not_joined_are_not_known() -> None:
    assert building(f"{{a: {room()}, b: {room()}}}").between_ends("nodes", "box", "places", "seat") is None


@pytest.mark.parametrize(("node", "place"), [("room: a", "count: 1"), ("role: gateway", "room: b")])
def test_both_ends_need_a_room(node: str, place: str) -> None:
    ends = {"node": node if node.startswith("room") else "mode: router", "place": place}
    assert (
        building(f"{{a: {room('b: brick')}, b: {room()}}}", **ends).between_ends("nodes", "box", "places", "seat")
        is None
    )


# The three ways mix


def test_a_path_goes_before_a_plan_and_a_plan_before_rooms() -> None:
    rooms = f"{{a: {room('b: brick')}, b: {room()}}}"
    at = "at: [1, 1], room: "
    told = {
        "rooms": building(rooms, "room: a", at + "b"),
        "drawn": building(rooms, at + "a", at + "b"),
        "described": building(rooms, at + "a", at + "b, paths: {box: {distance_m: 3, through: [brick]}}"),
    }
    for word, plan in told.items():
        way = plan.between_ends("nodes", "box", "places", "seat")
        assert way is not None
        assert way.told == word


def test_a_point_in_a_room_is_on_the_floor_of_the_room() -> None:
    plan = building(
        f"{{a: {room(floor='upper')}, b: {room(floor='top')}}}", "at: [0, 0], room: a", "at: [0, 0], room: b"
    )
    way = plan.between_ends("nodes", "box", "places", "seat")
    assert way is not None
    assert way.distance_m == pytest.approx(2.5 + 1.2 - 2.0)


def test_the_nearest_nodes_are_found_through_rooms() -> None:
    text = (
        "site: {name: Invented}\nrooms: {a: {next_to: {b: brick}}, b: {next_to: {c: brick}}, c: {}}\n"
        "nodes: {far: {role: gateway, room: c}, near: {role: relay, room: b}, here: {role: relay, room: a}}\n"
        "places: {seat: {client: laptop, room: a}}\n"
    )
    assert Building(load_text(text, "site.yaml").site).nearest_nodes("seat", 2) == ["here", "near"]


# What is crossed


def test_a_light_wall_is_passed_straight_and_a_heavy_one_through_its_door() -> None:
    brick, concrete, door = (construction_loss(of, "5") for of in ("brick", "concrete", "door-timber"))
    light = layer_loss(Layer("brick", "door-timber"), (2.0, 2.0), "5")
    assert light == Loss(door.low_db, brick.typical_db, brick.high_db)
    heavy = layer_loss(Layer("concrete", "door-timber"), (2.0, 2.0), "5")
    bend = detour_excess_db([(-2.0, 0.0), (0.0, 0.0), (sqrt(2.0), sqrt(2.0))], 5250.0)
    assert heavy.typical == pytest.approx(max(12.0, door.typical_db + bend))
    assert (heavy.low, heavy.high) == (door.low_db, concrete.high_db)


@pytest.mark.parametrize("band", ["2.4", "5", "6"])
@pytest.mark.parametrize("of", construction_ids())
@pytest.mark.parametrize("opening", ["open", "door-timber", "door-steel", "glass-coated"])
def test_an_opening_never_costs_more_than_the_wall(of: str, opening: str, band: str) -> None:
    wall, both = layer_loss(Layer(of), (2.0, 3.0), band), layer_loss(Layer(of, opening), (2.0, 3.0), band)
    assert both.low <= both.typical <= both.high
    assert all(mine <= its for mine, its in zip(both, wall, strict=True))


STAIRS = (
    f"{{a: {room('c: open')}, b: {room('d: open', floor='upper')}, c: {room('d: open')}, d: {room(floor='upper')}}}"
)


def test_from_one_end_of_an_open_stairwell_to_the_other_nothing_lies_between() -> None:
    way = between(STAIRS, node="room: c", place="room: d")
    assert (way.floors, way.rooms and way.rooms.loss.typical) == (0, 0.0)


def test_a_way_that_goes_on_beside_an_open_stairwell_crosses_a_floor() -> None:
    way = between(STAIRS)
    assert passed(way) == ("a", "c", "d", "b")
    assert (way.floors, way.through) == (1, (("floor-timber", 1),))


def test_the_floor_beside_a_stairwell_is_the_lightest_there_is() -> None:
    """So that closing a stairwell never raises a level."""
    floors = [of for of in construction_ids() if of.startswith("floor-")]
    for band in ("2.4", "5", "6"):
        lightest = construction_loss("floor-timber", band).typical_db
        assert all(construction_loss(of, band).typical_db >= lightest for of in floors)


def test_every_plain_word_for_an_opening_is_a_construction() -> None:
    assert set(catalogue("constructions")["openings"].values()) <= set(construction_ids())


def test_hundreds_of_rooms_take_no_time_to_speak_of() -> None:
    """A made-up floor of 20 by 20 rooms with walls of many kinds; a second would already be much."""
    kinds = ["open", "plasterboard", "brick", "brick with door", "concrete with door", "glass-double"]
    rows = []
    for x in range(20):
        for y in range(20):
            beside = [f"r{x + 1}-{y}: {kinds[(x * 7 + y * 3) % 6]}"] if x < 19 else []
            beside += [f"r{x}-{y + 1}: {kinds[(x * 5 + y) % 6]}"] if y < 19 else []
            rows.append(f"r{x}-{y}: {room(', '.join(beside), size=f'[{2 + x % 4}, {2 + y % 5}]')}")
    plan = building(f"{{{', '.join(rows)}}}", "room: r0-0", "room: r19-19")
    begun = perf_counter()
    way = plan.between_ends("nodes", "box", "places", "seat")
    taken = perf_counter() - begun
    assert way is not None
    assert len(passed(way)) >= 39
    assert taken < 5.0
