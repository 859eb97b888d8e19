"""What works where on each floor, for one kind of client: the records behind the outcome maps, as they go into JSON."""

from __future__ import annotations

from collections import Counter
from typing import Literal

from pydantic import BaseModel, ConfigDict

from advisor.data import catalogue
from advisor.facts.book import Book
from advisor.facts.outcome_map import Outcome, Spot, outcomes, ways_followed
from advisor.network.floor_grid import Grid, grids
from advisor.site.schema import Site
from advisor.tables import ORDER, USES, PlaceRow, Use, use_of

MOST_CELLS = 700
"""Cells of all floors together, on a site with few radios."""
RADIOS_TIMES_CELLS = 12_000
"""With many radios there are fewer cells."""
FEWEST_CELLS = 150

Best = Literal["calls", "video", "browsing", "nothing", "not known"]
LADDER: tuple[Best, ...] = ("calls", "video", "browsing")
"""What may work, the most demanding first."""
CLASSES = (
    "calls",
    "calls, perhaps video",
    "calls, no video",
    "calls alone",
    "video",
    "video, perhaps calls",
    "browsing",
    "browsing, perhaps video",
    "browsing, perhaps calls",
    "nothing",
    "nothing, perhaps browsing",
    "nothing, perhaps video",
    "nothing, perhaps calls",
    "not known",
)


class _Part(BaseModel):
    model_config = ConfigDict(extra="forbid", frozen=True)


class UseAt(_Part):
    """One use at one point, in the words of the table of places."""

    word: Literal["works", "may fail", "fails", "not known"]
    chance: float | None


class Cell(_Part):
    """A cell of a drawn floor, or a room told by its size."""

    column: int | None = None
    row: int | None = None
    """Counted from the left and from below."""
    room: str | None = None
    uses: dict[str, UseAt]
    joins: str
    """The radio joined typically; empty where there is none."""
    places: list[str] = []
    """Places whose own verdict stands here; of several the worse one, use by use."""


class FloorMap(_Part):
    """What works where on one floor."""

    floor: str
    kind: Literal["drawn", "rooms"]
    corner_m: tuple[float, float] | None = None
    """Lower left corner of the cells."""
    cell_m: tuple[float, float] | None = None
    """Width and depth of a cell."""
    shares: dict[str, float]
    """Share of the floor by what surely works there and what may: `calls`, `browsing, perhaps calls` …"""
    cells: list[Cell]


class Maps(_Part):
    """The maps of a site for one kind of client."""

    client: str
    every_way: bool
    """Whether uplinks left to the equipment were followed way by way."""
    left_out: list[str]
    """Nodes whose position on a mapped floor is not told."""
    places_left_out: list[str]
    """Places of that kind that are on no map: told by distances, outdoors, or by a room of a drawn floor."""
    floors: list[FloorMap]

    @classmethod
    def empty(cls, client: str) -> Maps:
        """No map."""
        return cls(client=client, every_way=True, left_out=[], places_left_out=[], floors=[])


def best_of(uses: dict[str, UseAt]) -> tuple[Best, Best | None]:
    """The most demanding use that surely works, and a more demanding one that may."""
    perhaps: Best | None = None
    for use in LADDER:
        if uses[use].word == "works":
            return use, perhaps
        if uses[use].word == "not known":
            return "not known", None
        if uses[use].word == "may fail" and perhaps is None:
            perhaps = use
    return "nothing", perhaps


def class_of(uses: dict[str, UseAt]) -> str:
    """What works in words: `calls`, `browsing, perhaps calls`, `nothing` …

    A call needs a steady way and little speed: where one holds, a stream or even browsing may still not work.
    """
    sure, perhaps = best_of(uses)
    if sure == "calls" and uses["video"].word != "works":
        if uses["video"].word == "may fail":
            return "calls, perhaps video"
        return "calls, no video" if uses["browsing"].word == "works" else "calls alone"
    return sure if perhaps is None else f"{sure}, perhaps {perhaps}"


def usual_kind(book: Book) -> str:
    """The kind of client most people at the site use; the first by name of several."""
    counts: Counter[str] = Counter()
    for place in book.site.places.values():
        counts[place.client] += place.count
    return min(counts, key=lambda kind: (-counts[kind], kind)) if counts else "phone"


def kinds(site: Site) -> list[str]:
    """Kinds of client a map can be made for."""
    return sorted({*site.clients, *catalogue("client-kinds")["kinds"]})


def most_cells(book: Book) -> int:
    """How many cells the floors of a site are cut into together."""
    return max(min(MOST_CELLS, RADIOS_TIMES_CELLS // max(len(book.inventory.radios), 1)), FEWEST_CELLS)


def floor_maps(book: Book, kind: str, rows: tuple[PlaceRow, ...]) -> Maps:
    """The maps of every floor that is drawn or told by its rooms; where a place of that kind is, its own verdict
    stands."""
    own = {row.place: row for row in rows if row.client == kind}
    floors = [_drawn(book, kind, grid, own) for grid in grids(book.site, most_cells(book))]
    rooms: dict[str, list[str]] = {}
    for name, room in sorted(book.site.rooms.items()):
        if room.floor not in {entry.floor for entry in floors}:
            rooms.setdefault(room.floor or "", []).append(name)
    floors += [_rooms(book, kind, floor, names, own) for floor, names in sorted(rooms.items())]
    shown = [it for it in floors if it.cells]
    drawn = any(it.kind == "drawn" for it in shown)
    known = {name for name, node in book.site.nodes.items() if node.at is not None or (node.room and not drawn)}
    mapped = {name for it in shown for cell in it.cells for name in cell.places}
    return Maps(
        client=kind,
        every_way=ways_followed(book),
        left_out=sorted(set(book.site.nodes) - known) if shown else [],
        places_left_out=sorted(set(own) - mapped) if shown else [],
        floors=shown,
    )


def _drawn(book: Book, kind: str, grid: Grid, own: dict[str, PlaceRow]) -> FloorMap:
    found = outcomes(book, kind, [Spot(cell.middle, grid.floor) for cell in grid.cells])
    cells = {
        (cell.column, cell.row): Cell(column=cell.column, row=cell.row, uses=_uses(outcome), joins=outcome.joins)
        for cell, outcome in zip(grid.cells, found, strict=True)
    }
    for name, row in own.items():
        place = book.site.places[name]
        floor = place.floor or (book.site.rooms[place.room].floor if place.room else None)
        if place.at is None or floor != grid.floor:
            continue
        near = grid.nearest(*place.at) if grid.holds(*place.at) else None
        if near is not None:
            cells[near.column, near.row] = _of_place(cells[near.column, near.row], row)
    listed = [cells[key] for key in sorted(cells)]
    return FloorMap(
        floor=grid.floor,
        kind="drawn",
        corner_m=(round(grid.left, 4), round(grid.low, 4)),
        cell_m=(round(grid.width_m, 4), round(grid.depth_m, 4)),
        shares=_shares(listed),
        cells=listed,
    )


def _rooms(book: Book, kind: str, floor: str, names: list[str], own: dict[str, PlaceRow]) -> FloorMap:
    found = outcomes(book, kind, [Spot(None, floor or None, name) for name in names])
    cells = {
        name: Cell(room=name, uses=_uses(outcome), joins=outcome.joins)
        for name, outcome in zip(names, found, strict=True)
    }
    for name, row in own.items():
        place = book.site.places[name]
        if place.room in cells and place.at is None and not place.paths:
            cells[place.room] = _of_place(cells[place.room], row)
    listed = [cells[name] for name in names]
    return FloorMap(floor=floor, kind="rooms", shares=_shares(listed), cells=listed)


def _uses(outcome: Outcome) -> dict[str, UseAt]:
    return {use: _told(use_of(outcome.uses[use])) for use in USES}


def _told(use: Use) -> UseAt:
    return UseAt(word=use.word, chance=use.chance)


def _of_place(cell: Cell, row: PlaceRow) -> Cell:
    """A cell with the verdict of the place in it; of several places in one cell the worse, use by use."""
    uses = {use: _told(row.uses[use]) for use in USES}
    if cell.places:
        uses = {use: min(uses[use], cell.uses[use], key=_goodness) for use in USES}
    joined = row.joined.value
    radio = str(getattr(joined, "centre", "") or "")
    places = [*cell.places, row.place]
    return cell.model_copy(update={"uses": uses, "places": places, "joins": "" if radio == "none" else radio})


def _goodness(use: UseAt) -> tuple[int, float]:
    return ORDER[use.word], use.chance or 0.0


def _shares(cells: list[Cell]) -> dict[str, float]:
    counts = Counter(class_of(cell.uses) for cell in cells)
    return {name: round(counts[name] / len(cells), 3) for name in CLASSES if counts[name]}
