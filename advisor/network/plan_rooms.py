"""Rooms told by size and neighbours, as panels of a sketch."""

from __future__ import annotations

from collections.abc import Iterator
from math import ceil

from advisor.network.plan_records import Panel, Point, RoomBox, RoomJoin
from advisor.network.plan_words import metres
from advisor.network.room_layout import Rect, arrange, nearest_points, shared_wall
from advisor.network.rooms import usual_size_m
from advisor.site.building import Room
from advisor.site.schema import Site
from advisor.units import inert

FROM_WALL_M = 0.35
ONLY_A_SKETCH = "the arrangement of rooms is only a sketch; sizes as told; where in a room a thing stands is not told"


def room_panels(site: Site, floors: list[str | None]) -> list[Panel]:
    """A panel for each floor, or none, that has rooms, in the order of the floors."""
    panels: list[Panel] = []
    for floor in floors:
        rooms = {name: room for name, room in sorted(site.rooms.items()) if room.floor == floor}
        if rooms:
            level = f", level {site.floors[floor].level}" if floor is not None else ""
            title = f"rooms of {floor}{level}" if floor is not None else "rooms, floor not told"
            panels.append(_panel(f"rooms:{floor or ''}", title, rooms))
    return panels


def _panel(key: str, title: str, rooms: dict[str, Room]) -> Panel:
    pairs = sorted(
        {
            (min(name, other), max(name, other))
            for name, room in rooms.items()
            for other in room.next_to
            if other in rooms and other != name
        }
    )
    rects = arrange({name: (room.size_m or usual_size_m()) for name, room in rooms.items()}, pairs)
    boxes = tuple(_box(name, rooms[name], rect) for name, rect in sorted(rects.items()))
    joins = tuple(_join(one, other, rooms, rects) for one, other in pairs)
    return Panel(key, "rooms", title, ONLY_A_SKETCH, boxes=boxes, joins=joins)


def _box(name: str, room: Room, rect: Rect) -> RoomBox:
    width, depth = room.size_m or usual_size_m()
    size = f"{metres(width)} × {metres(depth)} m" if room.size_m else "size not told"
    return RoomBox(name, (rect.left, rect.low), width, depth, size)


def _join(one: str, other: str, rooms: dict[str, Room], rects: dict[str, Rect]) -> RoomJoin:
    told = rooms[one].next_to.get(other) or rooms[other].next_to.get(one) or ""
    wall = shared_wall(rects[one], rects[other])
    points = wall or nearest_points(rects[one], rects[other])
    return RoomJoin((one, other), inert(told.strip()), wall is not None, points)


def seats(box: RoomBox, count: int) -> Iterator[Point]:
    """Points in rows inside a room, below its name, for things of which only the room is told."""
    if count == 0:
        return
    columns = min(count, ceil((count * box.width_m / box.depth_m / 1.5) ** 0.5))
    rows = ceil(count / columns)
    begin = min(0.5 * box.width_m, max(0.12 * box.width_m, FROM_WALL_M))
    left, top = box.corner[0] + begin, box.corner[1] + 0.66 * box.depth_m
    for number in range(count):
        row, column = divmod(number, columns)
        x = left + (box.width_m - begin) * column / columns
        y = top - 0.56 * box.depth_m * (row + 0.5) / rows
        yield x, y
