"""One invented house told twice, drawn and by rooms: each must lie within what the other expects."""

from __future__ import annotations

import random
from typing import Any

import pytest
import yaml
from hypothesis import given, settings
from hypothesis import strategies as st

from advisor.facts.book import Book
from advisor.site.load import load_text
from advisor.subjects import Subject
from advisor.trace import Assumed, Looked, assumptions, walk
from advisor.values import Known, Unknown, constant

RADIOS = """
    radios: {r24: {band: 2.4, channel: 1, eirp_dbm: 18}, r5: {band: 5, channel: 36, width_mhz: 80, eirp_dbm: 20}}"""
HEAD = "site: {name: Twice told, country: GB, environment: house, ceiling_m: 2.8, invented: true}\n"
TAIL = "networks: {home: {name: home, security: wpa2-personal}}\n"
WHERE = {
    # in which room, and where on the plan: not in the middles
    "gateway": ("nodes", "hall", "ground", [0.8, 6.2]),
    "landing-box": ("nodes", "landing", "upper", [2.6, 5.0]),
    "kitchen-box": ("nodes", "kitchen", "ground", [7.2, 1.4]),
    "sofa": ("places", "living", "ground", [1.2, 2.3]),
    "table": ("places", "kitchen", "ground", [5.4, 2.6]),
    "desk": ("places", "study", "ground", [6.6, 5.8]),
    "stool": ("places", "hall", "ground", [2.9, 5.1]),
    "bed": ("places", "bedroom", "upper", [1.6, 1.4]),
    "cot": ("places", "nursery", "upper", [6.8, 2.9]),
    "bath": ("places", "bathroom", "upper", [5.6, 5.2]),
}
"""A house of 8 m by 7 m with four rooms on each of two storeys; everything is invented."""

DRAWN = """
floors:
  ground:
    level: 0
    plan: complete
    walls:
      across: {line: [[0, 4], [8, 4]], of: brick, openings: {living-door: {from_m: 2.5, to_m: 3.4, of: door-timber}}}
      along: {line: [[4, 0], [4, 7]], of: brick, openings: {study-door: {from_m: 4.6, to_m: 5.5, of: door-timber}}}
  upper:
    level: 1
    plan: complete
    slab: floor-timber
    walls:
      across: {line: [[0, 4], [8, 4]], of: plasterboard, openings: {bedroom: {from_m: 0.5, to_m: 1.4, of: door-timber}}}
      along: {line: [[4, 0], [4, 7]], of: plasterboard, openings: {bath: {from_m: 4.6, to_m: 5.5, of: door-timber}}}
"""
ROOMS: dict[str, Any] = {
    "hall": {
        "floor": "ground",
        "size_m": [4, 3],
        "next_to": {"living": "brick with door", "study": "brick with door", "landing": "floor-timber"},
    },
    "living": {"floor": "ground", "size_m": [4, 4], "next_to": {"kitchen": "brick", "bedroom": "floor-timber"}},
    "kitchen": {"floor": "ground", "size_m": [4, 4], "next_to": {"study": "brick", "nursery": "floor-timber"}},
    "study": {"floor": "ground", "size_m": [4, 3], "next_to": {"bathroom": "floor-timber"}},
    "landing": {
        "floor": "upper",
        "size_m": [4, 3],
        "next_to": {"bedroom": "plasterboard with door", "bathroom": "plasterboard with door"},
    },
    "bedroom": {"floor": "upper", "size_m": [4, 4], "next_to": {"nursery": "plasterboard"}},
    "nursery": {"floor": "upper", "size_m": [4, 4], "next_to": {"bathroom": "plasterboard"}},
    "bathroom": {"floor": "upper", "size_m": [4, 3]},
}


def things(section: str, said: str) -> str:
    lines = [f"{section}:"]
    for name, (kind, room, floor, at) in WHERE.items():
        where = f"at: {at}\n    floor: {floor}" if said == "at" else f"room: {room}"
        if kind != section:
            continue
        if section == "places":
            lines.append(f"  {name}:\n    client: laptop\n    {where}")
        else:
            role = "role: gateway" if name == "gateway" else "role: relay\n    uplink: {to: gateway, band: 5}"
            lines.append(f"  {name}:\n    {role}\n    {where}{RADIOS}")
    return "\n".join(lines) + "\n"


def drawn() -> Book:
    return Book(load_text(HEAD + DRAWN + things("nodes", "at") + things("places", "at") + TAIL, "site.yaml"))


def by_rooms(rooms: dict[str, Any] = ROOMS) -> Book:
    floors = "floors: {ground: {level: 0}, upper: {level: 1}}\n"
    text = HEAD + floors + yaml.safe_dump({"rooms": rooms}, sort_keys=False)
    return Book(load_text(text + things("nodes", "room") + things("places", "room") + TAIL, "site.yaml"))


def levels(book: Book) -> dict[str, Known]:
    found = {}
    for place in book.site.places:
        for radio in book.inventory.radios:
            value = book.get("level_dbm", Subject("place-radio", (place, radio))).value
            assert isinstance(value, Known)
            found[f"{place} from {radio}"] = value
    return found


def test_each_telling_lies_within_what_the_other_expects() -> None:
    plan, told = levels(drawn()), levels(by_rooms())
    assert plan.keys() == told.keys()
    assert len(plan) == 7 * 6
    outside = {
        name: (plan[name], told[name])
        for name in plan
        if not (
            plan[name].low <= told[name].centre <= plan[name].high
            and told[name].low <= plan[name].centre <= told[name].high
        )
    }
    assert outside == {}


CORNERS = {
    "hall": (0, 4, 4, 7),
    "living": (0, 0, 4, 4),
    "kitchen": (4, 0, 8, 4),
    "study": (4, 4, 8, 7),
    "landing": (0, 4, 4, 7),
    "bedroom": (0, 0, 4, 4),
    "nursery": (4, 0, 8, 4),
    "bathroom": (4, 4, 8, 7),
}


def test_wherever_the_ends_are_in_their_rooms_the_bands_hold_what_they_promise(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    """Bands are 10 to 90 %: at most a fifth may lie outside. The telling by rooms, which knows less, is the wider."""
    rng, told = random.Random(3), levels(by_rooms())
    out_of_plan = out_of_rooms = pairs = 0
    for _ in range(12):
        for name, (kind, room, floor, _at) in list(WHERE.items()):
            left, low, right, high = CORNERS[room]
            spot = [round(rng.uniform(left + 0.2, right - 0.2), 2), round(rng.uniform(low + 0.2, high - 0.2), 2)]
            monkeypatch.setitem(WHERE, name, (kind, room, floor, spot))
        plan = levels(drawn())
        pairs += len(plan)
        out_of_plan += sum(not plan[name].low <= told[name].centre <= plan[name].high for name in plan)
        out_of_rooms += sum(not told[name].low <= plan[name].centre <= told[name].high for name in plan)
    assert pairs == 504
    assert out_of_plan <= 0.2 * pairs
    assert out_of_rooms <= 0.1 * pairs


def test_a_band_by_rooms_is_never_narrower_than_that_of_the_plan() -> None:
    plan, told = levels(drawn()), levels(by_rooms())
    narrower = [
        name
        for name in plan
        if float(told[name].high) - float(told[name].low) < float(plan[name].high) - float(plan[name].low) - 0.5
    ]
    assert narrower == []


def test_why_tells_the_rooms_passed_and_the_sizes_taken() -> None:
    rooms = {**ROOMS, "kitchen": {key: value for key, value in ROOMS["kitchen"].items() if key != "size_m"}}
    book = by_rooms(rooms)
    level = book.get("level_dbm", Subject("place-radio", ("table", "gateway.r5")))
    entries = [fact.by.entry for fact in assumptions(level) if isinstance(fact.by, Assumed)]
    assert "usual loss of brick (kitchen to study), brick with door-timber (study to hall)" in entries
    assert "rooms without a size are 4 m by 4 m" in entries
    looked = [fact.by.how for _, fact in walk(level) if isinstance(fact.by, Looked)]
    assert "from the sizes of the rooms on the shortest way, kitchen → study → hall" in looked


def test_another_band_has_losses_of_its_own() -> None:
    book = by_rooms()
    loss = {
        radio: book.get("path_loss_db", Subject("place-radio", ("sofa", radio))).inputs[1].raw[0]
        for radio in ("gateway.r24", "gateway.r5")
    }
    assert loss == {"gateway.r24": pytest.approx(6.0), "gateway.r5": pytest.approx(10.0)}


@pytest.mark.parametrize(
    ("node", "place", "missing"),
    [
        (
            "room: hall",
            "room: attic",
            "how one gets from room attic to room hall (rooms: next_to; or places.seat: paths",
        ),
        (
            "room: hall",
            "at: [1, 1], floor: ground",
            "which room seat is in, as box is told by its room (places.seat: room",
        ),
        (
            "at: [1, 1], floor: ground",
            "room: attic",
            "which room box is in, as seat is told by its room (nodes.box: room",
        ),
        (
            "at: [1, 1], floor: ground",
            "count: 1",
            "where seat is as seen from box (places.seat: at, room, or paths.box",
        ),
    ],
)
def test_what_is_missing_is_named(node: str, place: str, missing: str) -> None:
    text = (
        "floors: {ground: {level: 0}}\nrooms: {hall: {floor: ground}, attic: {floor: ground}}\n"
        f"nodes: {{box: {{role: gateway, {node}}}}}\nplaces: {{seat: {{client: laptop, {place}}}}}\n"
    )
    book = Book(load_text(HEAD + text + TAIL, "site.yaml"))
    value = book.get("level_dbm", Subject("place-radio", ("seat", "box.r5"))).value
    assert isinstance(value, Unknown)
    assert value.missing[0].startswith(missing)


def test_a_floor_that_rooms_tell_needs_no_slab() -> None:
    site = Subject("site", ())
    assert by_rooms().get("bare_floors", site).value == constant("none")
    without = house({pair: "open" if pair in VERTICAL else "brick" for pair in PAIRS})
    assert by_rooms(without).get("bare_floors", site).value == constant("upper")


# What must hold between two houses that differ in one thing

WALLS = ["open", "plasterboard", "brick", "concrete", "brick with door", "concrete with gap", "metal with door-steel"]
MORE = ["plasterboard", "brick", "concrete", "glass", "metal with door", "open"]
PAIRS = [(one, other) for one, row in ROOMS.items() for other in row.get("next_to", {})]
VERTICAL = {("hall", "landing"), ("living", "bedroom"), ("kitchen", "nursery"), ("study", "bathroom")}


def house(texts: dict[tuple[str, str], str]) -> dict[str, Any]:
    rooms = {name: {key: value for key, value in row.items() if key != "next_to"} for name, row in ROOMS.items()}
    for (one, other), text in texts.items():
        rooms[one].setdefault("next_to", {})[other] = text
    return rooms


def told(draw: st.DrawFn) -> dict[tuple[str, str], str]:
    floors = ["open", "floor-timber", "floor-concrete", "floor-concrete with opening"]
    return {pair: draw(st.sampled_from(floors if pair in VERTICAL else WALLS)) for pair in PAIRS}


def centres(book: Book) -> dict[str, float]:
    return {name: float(value.centre) for name, value in levels(book).items()}


@settings(max_examples=25, deadline=None)
@given(data=st.data())
def test_another_wall_never_raises_a_level(data: st.DataObject) -> None:
    texts = data.draw(st.composite(told)())
    pair = data.draw(st.sampled_from(PAIRS))
    more = data.draw(st.sampled_from(MORE))
    before = centres(by_rooms(house(texts)))
    if pair in VERTICAL and texts[pair] == "open":
        more = "floor-timber"  # an open stairwell closed
    after = centres(by_rooms(house({**texts, pair: f"{texts[pair]} and {more}"})))
    assert all(after[name] <= before[name] + 1e-9 for name in before)


@settings(max_examples=15, deadline=None)
@given(data=st.data())
def test_a_wall_without_its_door_never_raises_a_level(data: st.DataObject) -> None:
    texts = data.draw(st.composite(told)())
    before = centres(by_rooms(house(texts)))
    after = centres(by_rooms(house({pair: text.partition(" with ")[0] for pair, text in texts.items()})))
    assert all(after[name] <= before[name] + 1e-9 for name in before)


@settings(max_examples=15, deadline=None)
@given(data=st.data())
def test_names_and_order_of_rooms_change_nothing(data: st.DataObject) -> None:
    rooms = house(data.draw(st.composite(told)()))
    names = dict(zip(rooms, data.draw(st.permutations([f"r{index}" for index in range(len(rooms))])), strict=True))
    order = data.draw(st.permutations(list(rooms)))
    renamed = {
        names[name]: {
            **rooms[name],
            "next_to": {names[to]: text for to, text in rooms[name].get("next_to", {}).items()},
        }
        for name in order
    }
    text = (
        HEAD + "floors: {ground: {level: 0}, upper: {level: 1}}\n" + yaml.safe_dump({"rooms": renamed}, sort_keys=False)
    )
    for section in ("nodes", "places"):
        lines = things(section, "room")
        for old, new in names.items():
            lines = lines.replace(f"room: {old}\n", f"room: {new}\n")
        text += lines
    other = Book(load_text(text + TAIL, "site.yaml"))
    before, after = levels(by_rooms(rooms)), levels(other)
    for name, value in before.items():
        assert (after[name].low, after[name].centre, after[name].high) == pytest.approx(
            (value.low, value.centre, value.high), abs=1e-9
        )


def test_told_on_the_other_side_or_on_both_changes_nothing() -> None:
    turned = house({(other, one): ROOMS[one]["next_to"][other] for one, other in PAIRS})
    both = house(
        {
            **{pair: ROOMS[pair[0]]["next_to"][pair[1]] for pair in PAIRS},
            **{(b, a): ROOMS[a]["next_to"][b] for a, b in PAIRS},
        }
    )
    assert centres(by_rooms(turned)) == centres(by_rooms()) == centres(by_rooms(both))


@settings(max_examples=20, deadline=None)
@given(data=st.data())
def test_both_ends_see_the_same_way(data: st.DataObject) -> None:
    building = by_rooms(house(data.draw(st.composite(told)()))).building
    for node in ("gateway", "kitchen-box"):
        there = building.between_ends("nodes", node, "nodes", "landing-box")
        back = building.between_ends("nodes", "landing-box", "nodes", node)
        assert there is not None
        assert back is not None
        assert (there.distance_m, there.through, there.floors) == (back.distance_m, back.through, back.floors)
        assert there.rooms is not None
        assert back.rooms is not None
        assert there.rooms.loss == pytest.approx(back.rooms.loss)
