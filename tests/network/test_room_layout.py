"""Rooms told by size and neighbours, arranged on a sketch: neighbours touch where they can, none over another."""

from __future__ import annotations

from itertools import combinations, pairwise

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from advisor.network.room_layout import Rect, arrange, nearest_points, shared_wall

L_SHAPE = {
    "hall": (2.0, 6.0),
    "kitchen": (5.0, 4.0),
    "parlour": (6.0, 5.0),
    "study": (3.0, 3.0),
    "scullery": (4.0, 4.0),
}
L_PAIRS = [("hall", "kitchen"), ("parlour", "hall"), ("hall", "study"), ("kitchen", "scullery")]


def overlap(one: Rect, other: Rect) -> float:
    wide = min(one.right, other.right) - max(one.left, other.left)
    high = min(one.high, other.high) - max(one.low, other.low)
    return max(wide, 0.0) * max(high, 0.0)


def test_all_neighbours_of_a_small_house_touch() -> None:
    rects = arrange(L_SHAPE, L_PAIRS)
    for one, other in L_PAIRS:
        assert shared_wall(rects[one], rects[other]) is not None, (one, other)


def test_rooms_keep_their_sizes() -> None:
    for name, rect in arrange(L_SHAPE, L_PAIRS).items():
        assert (rect.right - rect.left, rect.high - rect.low) == pytest.approx(L_SHAPE[name])


def test_a_ring_of_four_closes() -> None:
    ring = ["a", "b", "c", "d"]
    pairs = [*pairwise(ring), ("d", "a")]
    rects = arrange(dict.fromkeys(ring, (4.0, 4.0)), pairs)
    assert all(shared_wall(rects[one], rects[other]) for one, other in pairs)


def test_what_cannot_touch_lies_apart() -> None:
    """Five rooms of one size, each the neighbour of every other: no flat arrangement lets all ten pairs touch."""
    names = ["a", "b", "c", "d", "e"]
    pairs = list(combinations(names, 2))
    rects = arrange(dict.fromkeys(names, (4.0, 4.0)), pairs)
    apart = [pair for pair in pairs if shared_wall(rects[pair[0]], rects[pair[1]]) is None]
    assert apart
    for one, other in apart:
        start, end = nearest_points(rects[one], rects[other])
        assert start[0] in (rects[one].left, rects[one].right) or rects[one].left < start[0] < rects[one].right
        assert end[0] in (rects[other].left, rects[other].right) or rects[other].left < end[0] < rects[other].right


def test_a_corner_is_no_shared_wall() -> None:
    room = Rect(0, 0, 4, 4)
    assert shared_wall(room, Rect(4, 4, 8, 8)) is None
    assert shared_wall(room, Rect(4, 3.5, 8, 8)) is None
    assert shared_wall(room, Rect(4, 3, 8, 7)) == ((4, 3), (4, 4))
    assert shared_wall(room, Rect(5, 0, 8, 4)) is None


def test_a_narrow_room_touches_along_half_its_width() -> None:
    assert shared_wall(Rect(0, 0, 4, 4), Rect(1, 4, 1.6, 6)) == ((1, 4), (1.6, 4))


def test_rooms_without_neighbours_stand_apart() -> None:
    rects = arrange({"a": (3.0, 3.0), "b": (3.0, 3.0)}, [])
    assert shared_wall(rects["a"], rects["b"]) is None
    assert overlap(rects["a"], rects["b"]) == 0


names = st.sampled_from([f"r{number}" for number in range(9)])
sides = st.tuples(st.sampled_from([1.0, 2.0, 2.5, 4.0, 7.0]), st.sampled_from([1.0, 2.0, 3.0, 6.0]))


@given(st.dictionaries(names, sides, min_size=1), st.lists(st.tuples(names, names), max_size=14), st.randoms())
@settings(max_examples=60, deadline=None)
def test_nothing_overlaps_and_the_order_told_does_not_matter(sizes, pairs, random) -> None:  # type: ignore[no-untyped-def]
    rects = arrange(sizes, pairs)
    assert rects.keys() == sizes.keys()
    for one, other in combinations(rects.values(), 2):
        assert overlap(one, other) < 1e-6
    mixed, turned = list(sizes.items()), [(other, one) for one, other in pairs]
    random.shuffle(mixed)
    random.shuffle(turned)
    assert arrange(dict(mixed), turned) == rects


def test_rooms_along_corridors_all_touch_them() -> None:
    """Fifteen corridors with ten rooms along either side."""
    sizes = {f"c{row}": (2.0, 40.0) for row in range(15)}
    sizes |= {f"r{row}-{number}": (4.0, 4.0) for row in range(15) for number in range(20)}
    pairs = [(f"c{row}", f"r{row}-{number}") for row in range(15) for number in range(20)]
    rects = arrange(sizes, pairs)
    assert all(shared_wall(rects[one], rects[other]) for one, other in pairs)
