"""The site as records of a sketch: everything is somewhere, once, and only what is told."""

from __future__ import annotations

from collections import Counter
from pathlib import Path
from typing import Any

import pytest

from advisor.data import catalogue
from advisor.network.plan import plan_of
from advisor.network.plan_records import Mark, Panel, Plan
from advisor.network.plan_rooms import seats
from advisor.network.plan_walls import look_of
from advisor.site.load import load_site, load_text
from advisor.site.schema import Site

ROOT = Path(__file__).parent.parent.parent
TAIL = "networks: {main: {name: main}}\n"
ODD_SITES = dict(
    part.split("\n", 1)
    for part in (ROOT / "tests" / "odd_sites" / "sites.txt").read_text(encoding="utf-8").split("##### ")
    if part.strip()
)
SITES: dict[str, Site] = {path.stem: load_site(path).site for path in sorted((ROOT / "profiles").glob("*.yaml"))}
SITES |= {name: load_text(text, f"{name}.yaml").site for name, text in ODD_SITES.items()}


def plan(text: str) -> Plan:
    return plan_of(load_text(f"site: {{name: A site}}\n{text}{TAIL}", "site.yaml").site)


def words(of: Plan, title: str) -> tuple[str, ...]:
    return next((part.lines for part in of.words if part.title == title), ())


def mark(of: Plan, name: str) -> Mark:
    (found,) = [it for panel in of.panels for it in panel.marks if it.id == name]
    return found


def panel(of: Plan, key: str) -> Panel:
    (found,) = [it for it in of.panels if it.key == key]
    return found


@pytest.mark.parametrize("name", SITES)
def test_everything_is_somewhere_once(name: str) -> None:
    site, made = SITES[name], plan_of(SITES[name])
    shown: Counter[tuple[str, str]] = Counter((it.section, it.id) for panel in made.panels for it in panel.marks)
    shown.update((row.section, row.id) for row in made.tree)
    shown.update(("rooms", box.id) for panel in made.panels for box in panel.boxes)
    missing = Counter(line.partition(" (")[0] for line in words(made, "Not on the sketch"))
    for section, entries in (("nodes", site.nodes), ("places", site.places), ("rooms", site.rooms)):
        for entry in entries:
            assert shown.pop((section, entry), 0) + missing[entry] == 1, f"{section}.{entry}"
    assert not shown


@pytest.mark.parametrize("name", SITES)
def test_every_uplink_is_told(name: str) -> None:
    """As a line, as words at the mark, or in the tree."""
    site, made = SITES[name], plan_of(SITES[name])
    lines = {line.node for panel in made.panels for line in panel.uplinks}
    marked = {it.id for panel in made.panels for it in panel.marks if any(stub.towards for stub in it.stubs)}
    rows = {row.id for row in made.tree if row.section == "nodes"}
    missing = {line.partition(" (")[0] for line in words(made, "Not on the sketch")}
    for node, entry in site.nodes.items():
        if entry.role != "gateway":
            assert (node in lines) + (node in marked) + (node in rows) + (node in missing) == 1, node


FLOORS = "floors: {upper: {level: 1}, ground: {level: 0}}\n"
NODES = (
    "nodes: {gateway: {role: gateway, at: [1, 2], floor: ground, height_m: 1.5}, "
    "stair: {role: relay, at: [5, 3], floor: ground, uplink: {to: gateway, band: 5}}, "
    "loft: {role: access-point, at: [4, 4], floor: upper, uplink: {to: gateway, over: ethernet}}}\n"
)


def test_floors_come_top_storey_first() -> None:
    assert [it.key for it in plan(FLOORS + NODES).panels] == ["floor:upper", "floor:ground"]


def test_an_uplink_on_one_floor_is_a_line_to_the_parent() -> None:
    (line,) = panel(plan(FLOORS + NODES), "floor:ground").uplinks
    assert (line.node, line.parent, line.style, line.start, line.end) == ("stair", "gateway", "air", (5, 3), (1, 2))
    assert line.label == "5 GHz"


def test_an_uplink_between_floors_stands_at_both_ends() -> None:
    made = plan(FLOORS + NODES)
    loft, gateway = mark(made, "loft"), mark(made, "gateway")
    assert loft.links == ("to gateway (ground),", "network cable")
    assert [(stub.style, stub.way, stub.towards) for stub in loft.stubs] == [("wire", "down", True)]
    assert gateway.links == ("from loft (upper)",)
    assert [(stub.style, stub.way, stub.towards) for stub in gateway.stubs] == [("wire", "up", False)]
    assert words(made, "Uplinks to another floor or picture") == ("loft (upper) to gateway (ground): network cable",)


def test_an_open_uplink_ends_nowhere() -> None:
    cafe = mark(
        plan("nodes: {g: {role: gateway, at: [0, 0]}, c: {role: relay, at: [3, 0], uplink: {choice: node}}}\n"), "c"
    )
    assert cafe.links == ("uplink left open",)
    assert [(stub.style, stub.way) for stub in cafe.stubs] == [("open", "none")]


def test_swapping_x_and_y_moves_one_mark_and_its_uplinks() -> None:
    before = plan(FLOORS + NODES)
    after = plan(FLOORS + NODES.replace("at: [5, 3]", "at: [3, 5]"))
    assert mark(after, "stair").at == (3, 5)
    assert panel(before, "floor:upper") == panel(after, "floor:upper")
    for name in ("gateway", "loft"):
        assert mark(before, name) == mark(after, name)
    (line,) = panel(after, "floor:ground").uplinks
    assert (line.start, line.end) == ((3, 5), (1, 2))


def test_heights_are_told_or_said_not_to_be() -> None:
    made = plan(FLOORS + NODES)
    assert mark(made, "gateway").lines == ("1.5 m up",)
    assert mark(made, "stair").lines == ("height not told",)


def test_a_wall_is_cut_at_its_openings_and_keeps_its_corners() -> None:
    walls = (
        "floors: {ground: {level: 0, walls: {w: {line: [[0, 8], [4, 8], [4, 2]], of: brick, openings: "
        "{gap: {from_m: 5, to_m: 7}, window: {from_m: 1, to_m: 2, of: glass}}}}}}\n"
        "nodes: {gateway: {role: gateway, at: [1, 2], floor: ground}}\n"
    )
    pieces = panel(plan(walls), "floor:ground").stretches
    assert [(it.opening, it.of, it.look, it.points) for it in pieces] == [
        ("", "brick", "heavy", ((0, 8), (1, 8))),
        ("window", "glass", "glass", ((1, 8), (2, 8))),
        ("", "brick", "heavy", ((2, 8), (4, 8), (4, 7))),
        ("gap", "open", "open", ((4, 7), (4, 5))),
        ("", "brick", "heavy", ((4, 5), (4, 2))),
    ]


def test_every_construction_has_a_look() -> None:
    looks = {name: look_of(name) for name in catalogue("constructions")["constructions"]}
    assert {name for name, look in looks.items() if look == "open"} == {"open"}
    heavy = {"brick", "brick-double", "brick-cavity", "concrete", "stone", "floor-concrete"}
    assert {name for name, look in looks.items() if look == "heavy"} >= heavy
    assert {"glass", "glass-double", "glass-coated"} <= {name for name, look in looks.items() if look == "glass"}
    assert {"metal", "door-steel", "lift-shaft", "plasterboard-foil"} <= {
        name for name, look in looks.items() if look == "metal"
    }
    assert looks["plasterboard"] == looks["door-timber"] == "light"


ROOMS = (
    "floors: {ground: {level: 0}, upper: {level: 1}}\n"
    "rooms: {hall: {floor: ground, size_m: [2, 6], next_to: {kitchen: brick with door}}, kitchen: {floor: ground}, "
    "attic: {floor: upper, next_to: {kitchen: floor-timber}}}\n"
    "nodes: {gateway: {role: gateway, room: hall}, stair: {role: relay, at: [3, 3], floor: ground, uplink: "
    "{to: gateway, band: 5}}}\nplaces: {table: {client: phone, count: 4, room: kitchen}}\n"
)


def test_rooms_stand_beside_the_drawn_plan_of_their_floor() -> None:
    made = plan(ROOMS)
    assert [it.key for it in made.panels] == ["rooms:upper", "floor:ground", "rooms:ground"]
    rooms = panel(made, "rooms:ground")
    assert [(box.id, box.size) for box in rooms.boxes] == [("hall", "2 × 6 m"), ("kitchen", "size not told")]
    (join,) = rooms.joins
    assert (join.rooms, join.between, join.touching) == (("hall", "kitchen"), "brick with door", True)
    assert "only a sketch" in rooms.caption
    assert words(made, "Rooms") == ("attic (upper) is next to kitchen (ground): floor-timber",)


def test_things_told_by_room_stand_inside_it() -> None:
    made = plan(ROOMS)
    boxes = {box.id: box for it in made.panels for box in it.boxes}
    for name, room in (("gateway", "hall"), ("table", "kitchen")):
        (x, y), box = mark(made, name).at, boxes[room]
        assert box.corner[0] < x < box.corner[0] + box.width_m
        assert box.corner[1] < y < box.corner[1] + box.depth_m


@pytest.mark.parametrize("count", [1, 2, 5, 30])
def test_seats_in_a_room_are_different_points_inside(count: int) -> None:
    for box in (it for made in (plan(ROOMS),) for part in made.panels for it in part.boxes):
        points = list(seats(box, count))
        assert len(set(points)) == count
        for x, y in points:
            assert box.corner[0] < x < box.corner[0] + box.width_m
            assert box.corner[1] < y < box.corner[1] + box.depth_m


def test_no_line_runs_from_the_drawn_plan_into_the_rooms_beside_it() -> None:
    made = plan(ROOMS)
    assert not any(it.uplinks for it in made.panels)
    assert [stub.way for stub in mark(made, "stair").stubs] == ["across"]


def test_told_by_distances_makes_a_tree_of_uplinks() -> None:
    rows: list[Any] = [(row.id, row.depth, row.under, row.link, row.detail) for row in plan_of(SITES["two-nodes"]).tree]
    assert rows == [
        ("gateway", 0, None, "none", ""),
        ("sofa", 1, 0, "way", "4 m to gateway; also 10 m to landing through brick, floor-timber"),
        ("landing", 1, 0, "air", "9 m to gateway through brick, floor-timber; 5 GHz"),
        ("study", 2, 2, "way", "4 m to landing through plasterboard"),
    ]
    assert plan_of(SITES["two-nodes"]).panels == ()


def test_beside_a_drawn_plan_what_has_no_position_is_put_in_words() -> None:
    text = (
        "nodes: {gateway: {role: gateway, at: [0, 0]}, barn: {role: relay, uplink: {to: gateway, band: 5}, "
        "paths: {gateway: {distance_m: 20, through: [brick, brick]}}}}\n"
        "places: {nook: {client: phone}}\n"
    )
    made = plan(text)
    assert made.tree == ()
    assert words(made, "Not on the sketch") == (
        "barn (relay): told by distances only: 20 m to gateway through brick × 2",
        "nook (phone × 1): nothing is told of where it is",
    )
    assert mark(made, "gateway").links == ("from barn (not on the sketch)",)


def test_a_walk_breaks_where_it_changes_floors_and_where_nothing_is_known() -> None:
    text = (
        FLOORS + NODES + "places: {a: {client: phone, at: [1, 1], floor: ground}, b: {client: phone, at: [2, 1], "
        "floor: ground}, c: {client: phone}, d: {client: phone, at: [9, 9], floor: upper}}\n"
        "walks: {up: {points: [a, b, [3, 1, ground], [3, 1, upper], d, c]}}\n"
    )
    made = plan(text)
    (low,), (high,) = panel(made, "floor:ground").trails, panel(made, "floor:upper").trails
    assert (low.points, low.label) == (((1, 1), (2, 1), (3, 1)), "walk up, goes on: upper")
    assert (high.points, high.label) == (((3, 1), (9, 9)), "walk up")
    (told,) = words(made, "Walks")
    assert told == "up: a → b → [3, 1] on ground → [3, 1] on upper → d → c; phone, voice; not on the sketch: c"


def test_neighbours_are_listed_without_levels() -> None:
    told = words(
        plan_of(SITES["kestrel-yard"]), "Other people's networks and other sources; where they stand is not told"
    )
    assert "next-door: 2.4 GHz, channel 6, heard at cafe, gateway, stair" in told
    assert not any("dBm" in line or "-8" in line for line in told)


@pytest.mark.parametrize("name", ["kestrel-yard", "hillside-house", "two-nodes"])
def test_the_order_in_the_file_does_not_matter(name: str) -> None:
    site = SITES[name]
    turned = {
        section: dict(reversed(getattr(site, section).items()))
        for section in ("nodes", "places", "rooms", "floors", "walks", "neighbours")
    }
    assert plan_of(site.model_copy(update=turned)) == plan_of(site)
