"""The way through a door stands in for a heavy wall, and never makes adding a wall pay."""

from __future__ import annotations

from collections.abc import Callable

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from advisor.facts.book import Book
from advisor.site.load import load_text
from advisor.subjects import Subject
from advisor.trace import Assumed
from advisor.values import Known

Make = Callable[[str], Book]

SITE = """
site: {{name: A, country: GB, environment: office}}
internet: {{down_mbps: 100, up_mbps: 20}}
floors:
  ground: {{level: 0, plan: complete, walls: {{{walls}}}}}
nodes:
  box: {{role: gateway, at: [0, 0], floor: ground, radios: {{r5: {{band: 5, channel: 36, eirp_dbm: 20}}}}}}
networks: {{main: {{name: main, security: wpa2-personal}}}}
places:
  seat: {{client: laptop, at: [6, {y}], floor: ground, down_mbps: 5}}
"""
CLOSED = "heavy: {line: [[3, -6], [3, 6]], of: concrete}"
DOOR = "heavy: {line: [[3, -6], [3, 6]], of: concrete, openings: {door: {from_m: 7, to_m: 8, of: door-timber}}}"
SEAT = Subject("place-radio", ("seat", "box.r5"))


def level(walls: str, y: float = 0.0) -> float:
    book = Book(load_text(SITE.format(walls=walls, y=y), "site.yaml"))
    value = book.get("level_dbm", SEAT).value
    assert isinstance(value, Known)
    return float(value.centre)


def test_a_door_beside_the_line_softens_a_heavy_wall(book_of: Make) -> None:
    assert level(DOOR) > level(CLOSED) + 3.0
    book = book_of(SITE.format(walls=DOOR, y=0.0))
    told = [
        entry.by.entry
        for entry in book.get("path_loss_db", SEAT).inputs
        if entry.key.startswith("obstacles_db") and isinstance(entry.by, Assumed)
    ]
    assert told == ["the way through heavy.door instead of concrete"]


def test_through_the_door_itself_only_the_door_counts() -> None:
    straight = level("light: {line: [[3, -6], [3, 6]], of: door-timber}", 3.0)
    assert level(DOOR, 3.0) == pytest.approx(straight)


@settings(max_examples=40, deadline=None)
@given(
    x=st.floats(0.5, 5.5),
    reach=st.floats(-5.0, 5.0),
    of=st.sampled_from(["plasterboard", "brick", "concrete", "metal"]),
    y=st.floats(-5.0, 5.0),
    opening=st.booleans(),
)
def test_another_wall_never_raises_a_level(x: float, reach: float, of: str, y: float, opening: bool) -> None:
    extra = f"extra: {{line: [[{x}, -6], [{x + 0.1}, {reach + 6}]], of: {of}"
    extra += ", openings: {gap: {from_m: 2, to_m: 3, of: open}}}" if opening and reach > -5 else "}"
    assert level(f"{DOOR}, {extra}", y) <= level(DOOR, y) + 1e-9
