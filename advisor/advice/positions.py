"""Where else a node could stand: spots the file names, and for nodes that may stand anywhere, rooms and door sides."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from math import dist, hypot

from advisor.advice.effort import change
from advisor.facts.book import Book
from advisor.site.change import Change
from advisor.site.edit import REMOVE, Edit

MOVE = "move-node"
MOST_SPOTS = 16
"""Spots made up for one node."""
BESIDE_M = 0.6
"""How far from the wall a node beside a door stands."""


@dataclass(frozen=True, slots=True)
class Spot:
    """A spot with what to write for it."""

    id: str
    told: str
    edits: tuple[Edit, ...]


def moves(book: Book, node: str, said: dict[str, None]) -> list[tuple[str, str, Change]]:
    """Every move of a node: id, in words, and the change; what was measured or told for its old spot goes with it."""
    named = [*_named(book, node)]
    made = [*_made(book, node)] if node in book.site.choices.anywhere else []
    if not named and not made:
        return []
    if _told_by_paths(book, node):
        said.setdefault(f"{node} is not moved: distances to it are told by `paths`, which a move would make wrong.")
        return []
    stale = [
        Edit(("measured", key), REMOVE)
        for key, entry in sorted(book.site.measured.items())
        if node in (entry.at, entry.radio.split(".")[0])
    ]
    found = []
    for spot in [*named, *made[:MOST_SPOTS]]:
        told = f"Move {node} {spot.told}; it needs power there. Readings taken at its old spot count no more."
        found.append((spot.id, spot.told, change(MOVE, f"node={node}", told, [*spot.edits, *stale])))
    return found


def _told_by_paths(book: Book, node: str) -> bool:
    ends = [*book.site.nodes.values(), *book.site.places.values()]
    return bool(book.site.nodes[node].paths) or any(node in entry.paths for entry in ends)


def _named(book: Book, node: str) -> Iterator[Spot]:
    for key, (x_m, y_m, floor) in sorted(book.site.choices.positions.get(node, {}).items()):
        yield Spot(key, f"to {key} ({_at(book, node, x_m, y_m, floor)})", _to(book, node, x_m, y_m, floor))


def _at(book: Book, node: str, x_m: float, y_m: float, floor: str) -> str:
    entry = book.site.nodes[node]
    way = f", {dist(entry.at, (x_m, y_m)):.1f} m away" if entry.at and entry.floor == floor else ""
    return f"{x_m:g}, {y_m:g} on floor {floor}{way}"


def _to(book: Book, node: str, x_m: float, y_m: float, floor: str) -> tuple[Edit, ...]:
    edits = [Edit(("nodes", node, "at"), [x_m, y_m]), Edit(("nodes", node, "floor"), floor)]
    if book.site.nodes[node].room is not None:
        edits.append(Edit(("nodes", node, "room"), REMOVE))
    return tuple(edits)


def _made(book: Book, node: str) -> Iterator[Spot]:
    """Every other room where the node is told by its room; else both sides of every door of the drawn plan."""
    entry = book.site.nodes[node]
    if entry.room is not None and entry.at is None:
        for room in sorted(book.site.rooms):
            if room != entry.room:
                edits = [Edit(("nodes", node, "room"), room)]
                floor = book.site.rooms[room].floor
                if entry.floor is not None and floor is not None and floor != entry.floor:
                    edits.append(Edit(("nodes", node, "floor"), floor))
                yield Spot(f"in-{room}", f"into {room}", tuple(edits))
        return
    for floor, name, x_m, y_m in _door_sides(book):
        told = f"beside {name} ({_at(book, node, x_m, y_m, floor)})"
        yield Spot(f"by-{name}-{x_m:g}-{y_m:g}", told, _to(book, node, x_m, y_m, floor))


def _door_sides(book: Book) -> Iterator[tuple[str, str, float, float]]:
    """Floor, door and the two points at either side of its middle, for every door and open way drawn."""
    for floor, drawn in sorted(book.site.floors.items()):
        for wall in drawn.walls.values():
            for name, opening in sorted(wall.openings.items()):
                if not opening.of.startswith(("door", "open")):
                    continue
                along_m = (opening.from_m + opening.to_m) / 2
                for (x0, y0), (x1, y1) in zip(wall.line, wall.line[1:], strict=False):
                    length_m = hypot(x1 - x0, y1 - y0)
                    if length_m > 0.0 and along_m <= length_m:
                        x_m, y_m = x0 + (x1 - x0) * along_m / length_m, y0 + (y1 - y0) * along_m / length_m
                        across = (-(y1 - y0) / length_m * BESIDE_M, (x1 - x0) / length_m * BESIDE_M)
                        for side in (1, -1):
                            yield floor, name, round(x_m + side * across[0], 1), round(y_m + side * across[1], 1)
                        break
                    along_m -= length_m
