"""What the site file does not tell and somebody should."""

from __future__ import annotations

from advisor.facts.book import Book
from advisor.facts.catalogue import fact
from advisor.site.building import Located
from advisor.site.partitions import boundaries, floors_in
from advisor.subjects import Subject
from advisor.trace import Fact, Given, Looked
from advisor.values import constant


def _told(book: Book, name: str, subject: Subject, value: bool | float | str, path: str) -> Fact:
    return Fact(f"{name}[{subject.key}]" if subject.ids else name, "", constant(value), Given(book.source.where(path)))


@fact("country_given", about="site", unit="", type="boolean", meaning="true when the file says the country")
def country_given(book: Book, subject: Subject) -> Fact:
    return _told(book, "country_given", subject, book.site.site.country is not None, "site")


@fact("line_given", about="site", unit="", type="boolean", meaning="true when the speed of the line is given both ways")
def line_given(book: Book, subject: Subject) -> Fact:
    line = book.site.internet
    return _told(book, "line_given", subject, None not in (line.down_mbps, line.up_mbps), "internet")


@fact(
    "asks_of_the_line",
    about="site",
    unit="",
    digits=0,
    meaning="places that ask for a speed or calls over the internet line",
)
def asks_of_the_line(book: Book, subject: Subject) -> Fact:
    asking = [
        name
        for name, place in sorted(book.site.places.items())
        if place.to == "internet" and (place.down_mbps or place.up_mbps or place.calls)
    ]
    how = ", ".join(asking) or "none"
    return Fact("asks_of_the_line", "", constant(float(len(asking))), Looked(how))


def _somewhere(book: Book, entry: Located) -> bool:
    return bool(entry.at is not None or entry.room is not None or entry.paths)


@fact("placed", about="place", unit="", type="boolean", meaning="true when the file says where it is")
def place_placed(book: Book, subject: Subject) -> Fact:
    place = subject.ids[0]
    pointed = any(place in node.paths for node in book.site.nodes.values())
    told = _somewhere(book, book.site.places[place]) or pointed
    return _told(book, "placed", subject, told, f"places.{place}")


@fact("placed", about="node", unit="", type="boolean", meaning="true when the file says where it is")
def node_placed(book: Book, subject: Subject) -> Fact:
    node = subject.ids[0]
    others = (*book.site.nodes.values(), *book.site.places.values())
    told = _somewhere(book, book.site.nodes[node]) or any(node in other.paths for other in others)
    return _told(book, "placed", subject, told, f"nodes.{node}")


@fact(
    "must_be_placed",
    about="node",
    unit="",
    type="boolean",
    meaning="true when somebody is asked where it is: there are other nodes, or places that are told somewhere",
)
def must_be_placed(book: Book, subject: Subject) -> Fact:
    places = [place for place in book.site.places.values() if _somewhere(book, place)]
    needed = len(book.site.nodes) > 1 or bool(places)
    return _told(book, "must_be_placed", subject, needed, "nodes")


@fact(
    "floors_without_slab",
    about="site",
    unit="",
    digits=0,
    meaning="upper storeys for which the file does not say what the floor is made of",
)
def floors_without_slab(book: Book, subject: Subject) -> Fact:
    floors = book.site.floors
    lowest = min((floor.level for floor in floors.values()), default=0)
    bare = [
        name
        for name, floor in sorted(floors.items())
        if floor.level > lowest and floor.slab is None and not _floor_told_by_rooms(book, name)
    ]
    return Fact("floors_without_slab", "", constant(float(len(bare))), Looked(", ".join(bare) or "none"))


def _floor_told_by_rooms(book: Book, floor: str) -> bool:
    """Whether rooms say what lies under this floor and nothing on it is drawn: then no slab is looked for."""
    site = book.site
    if any(entry.at is not None and entry.floor == floor for entry in (*site.nodes.values(), *site.places.values())):
        return False
    level = site.floors[floor].level
    return any(
        floors_in(boundary.partition) > 0
        and floor in (site.rooms[room].floor for room in boundary.rooms)
        and any(site.floors[site.rooms[room].floor or floor].level < level for room in boundary.rooms)
        for boundary in boundaries(site)
    )


@fact(
    "bare_floors",
    about="site",
    unit="",
    type="class",
    meaning="the upper storeys for which the file does not say what the floor is made of, in words",
)
def bare_floors(book: Book, subject: Subject) -> Fact:
    told = floors_without_slab(book, subject)
    return Fact("bare_floors", "", constant(getattr(told.by, "how", "")), Looked("floors of the file"), (told,))


@fact(
    "serves_in_24",
    about="site",
    unit="",
    type="boolean",
    meaning="true when some node serves in 2.4 GHz",
)
def serves_in_24(book: Book, subject: Subject) -> Fact:
    serving = any(radio.band == "2.4" and radio.serves_clients for radio in book.inventory.radios.values())
    return Fact("serves_in_24", "", constant(serving), Looked("the radios of the nodes"))


@fact(
    "others_in_24",
    about="site",
    unit="",
    digits=0,
    meaning="neighbour networks and other sources told for 2.4 GHz",
)
def others_in_24(book: Book, subject: Subject) -> Fact:
    bands = [entry.band for entry in book.site.neighbours.values()]
    bands += [entry.band for entry in book.site.interference.values()]
    count = bands.count("2.4")
    return Fact("others_in_24", "", constant(float(count)), Looked("neighbours and interference of the file"))
