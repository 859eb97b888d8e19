"""Links whose ends are told by rooms: the distance from the sizes of the rooms passed, and what stands between them."""

from __future__ import annotations

from typing import Any

from advisor.data import catalogue
from advisor.facts import ends
from advisor.facts.book import Book
from advisor.facts.ends import Link
from advisor.network.rooms import RoomWay, usual_size_m
from advisor.trace import Assumed, Fact, Given, Looked, derive, formula
from advisor.values import constant, from_cases


@formula(
    id="room_paths.distance_m",
    unit="m",
    expr="sqrt((share × middles)^2 + height between^2)",
    source="Pythagoras; share computed over invented floor plans (docs/decisions/0010-rooms.md)",
)
def distance_from_rooms(*, middles_m: Any, share: Any, rise_m: Any) -> Any:
    """Straight distance; `middles_m` is the way from middle to middle with where in the rooms the ends are."""
    return ((share * middles_m) ** 2 + rise_m**2) ** 0.5


def distance_m(book: Book, link: Link, way: RoomWay) -> Fact:
    """Straight distance between two ends whose rooms are known, and where in the rooms they are is not."""
    keys = sorted(ends.ends_of(book, link))
    words = " → ".join(way.straight)
    share = book.draws.between(*way.share, "distance", *keys, more_is_better=False)
    row = catalogue("ranges")["rooms"]["distance_share"]
    middles = Fact(
        f"middles_m[{link.key}]",
        "m",
        constant(way.middles_m),
        Looked(f"from the sizes of the rooms on the shortest way, {words}"),
        tuple(_size(book, room) for room in way.straight),
    )
    return derive(
        f"distance_m[{link.key}]",
        distance_from_rooms,
        middles_m=middles,
        share=Fact(
            f"distance_share[{link.key}]",
            "",
            from_cases(share),
            Assumed("where in the rooms the two ends are, and how the rooms lie, is not told", str(row["source"])),
        ),
        rise_m=Fact(f"rise_m[{link.key}]", "m", constant(way.rise_m), Looked("floors and heights of the two ends")),
    )


def _size(book: Book, room: str) -> Fact:
    size = book.site.rooms[room].size_m
    key = f"size_m[room={room}]"
    if size is not None:
        return Fact(key, "m", constant(_told(size)), Given(book.source.where(f"rooms.{room}.size_m")))
    row = catalogue("ranges")["rooms"]["usual_size_m"]
    return Fact(key, "m", constant(_told(usual_size_m())), Assumed(str(row["meaning"]), str(row["source"])))


def _told(size: tuple[float, float]) -> str:
    return f"{size[0]:g} × {size[1]:g}"


def obstacles_db(book: Book, link: Link, way: RoomWay) -> Fact:
    """What stands between the rooms passed on the way that costs least, a bend of that way included."""
    key = f"obstacles_db[{link.key}]"
    if not way.told:
        return Fact(key, "dB", constant(0.0), Looked(f"both ends are in {way.rooms[0]}, nothing is told between"))
    names = f"usual loss of {', '.join(way.told)}"
    if way.loss.low == way.loss.high:
        return Fact(key, "dB", constant(way.loss.typical), Assumed(names, "common practice, no source"))
    keys = sorted(ends.ends_of(book, link))
    cases = book.draws.between(*way.loss, "construction", *keys, more_is_better=False)
    return Fact(key, "dB", from_cases(cases), Assumed(names, "common practice, no source"))


def missing(book: Book, link: Link) -> str:
    """What would make the distance of a pair known, in words that name the field."""
    kind, name = ends.lower_end(book, link)
    node = ends.upper_of(book, link).node
    room = (book.site.nodes if kind == "nodes" else book.site.places)[name].room
    other = book.site.nodes[node].room
    path = f"paths.{node}.distance_m"
    if room is not None and other is not None:
        return f"how one gets from room {room} to room {other} (rooms: next_to; or {kind}.{name}: {path})"
    if other is not None:
        return f"which room {name} is in, as {node} is told by its room ({kind}.{name}: room, or {path})"
    if room is not None:
        return f"which room {node} is in, as {name} is told by its room (nodes.{node}: room; or {kind}.{name}: {path})"
    there = book.site.places if kind == "places" else book.site.nodes
    if there[name].at is not None and book.site.nodes[node].at is None:
        return f"where {node} is as seen from {name} (nodes.{node}: at, or {kind}.{name}: {path})"
    return f"where {name} is as seen from {node} ({kind}.{name}: at, {'room, ' if book.site.rooms else ''}or {path})"
