"""Drawn walls cut at their openings, each piece with the look its construction has on a sketch."""

from __future__ import annotations

from collections.abc import Iterator
from itertools import pairwise
from math import dist

from advisor.network.plan_records import Look, Point, Stretch
from advisor.site.building import Wall

LOOKS: tuple[tuple[str, Look], ...] = (
    ("open", "open"),
    ("glass", "glass"),
    ("mirror", "metal"),
    ("metal", "metal"),
    ("steel", "metal"),
    ("lift", "metal"),
    ("foil", "metal"),
    ("brick", "heavy"),
    ("concrete", "heavy"),
    ("stone", "heavy"),
)
"""The first word a construction's id contains decides how it is drawn; everything else is light. Only a way of drawing:
it says what a wall is built of, not what it costs."""


def look_of(construction: str) -> Look:
    """The class a construction is drawn in."""
    return next((look for word, look in LOOKS if word in construction), "light")


def stretches(wall_id: str, wall: Wall) -> Iterator[Stretch]:
    """The wall in the order of its line: pieces of itself, and what stands in its openings instead."""
    length = sum(dist(*ends) for ends in pairwise(wall.line))
    done = 0.0
    for name, opening in sorted(wall.openings.items(), key=lambda entry: (entry[1].from_m, entry[1].to_m, entry[0])):
        start, end = max(done, opening.from_m), min(opening.to_m, length)
        if start > done:
            yield Stretch(wall_id, wall.of, look_of(wall.of), "", _part(wall.line, done, start))
        if end > start:
            yield Stretch(wall_id, opening.of, look_of(opening.of), name, _part(wall.line, start, end))
        done = max(done, end)
    if done < length or length == 0:
        yield Stretch(wall_id, wall.of, look_of(wall.of), "", _part(wall.line, done, length))


def _part(line: tuple[Point, ...], start: float, end: float) -> tuple[Point, ...]:
    """The corners between two distances along a line, with both ends."""
    points = [_at(line, start)]
    along = 0.0
    for one, other in pairwise(line):
        along += dist(one, other)
        if start < along < end:
            points.append(other)
    return (*points, _at(line, end))


def _at(line: tuple[Point, ...], distance: float) -> Point:
    left = distance
    for one, other in pairwise(line):
        length = dist(one, other)
        if left <= length and length > 0:
            share = left / length
            return one[0] + share * (other[0] - one[0]), one[1] + share * (other[1] - one[1])
        left -= length
    return line[-1]
