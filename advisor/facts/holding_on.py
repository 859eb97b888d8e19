"""Facts about a device that walks and holds on to a far node although a better one is near."""

from __future__ import annotations

from typing import Any

import numpy as np

from advisor.facts import alone, links, reach, routes
from advisor.facts.book import Book
from advisor.facts.catalogue import fact
from advisor.facts.equipment import setting
from advisor.facts.places import over_options
from advisor.facts.walking import Stop, places_of, stop, stops
from advisor.subjects import Subject
from advisor.trace import Fact, Looked, derive, formula, formula_of, unknown
from advisor.values import CENTRE, Unknown, constant, from_cases

HOLDS_ON = ("sticky", "typical")


def walks_past(book: Book, place: str) -> list[str]:
    return [walk for walk in sorted(book.site.walks) if place in places_of(book, walk)]


def _walker(book: Book, place: str) -> str | None:
    """The walk past a place whose device is least ready to change: the lowest look-around level, then the name."""
    walks = walks_past(book, place)
    return min(walks, key=lambda walk: (_kind(book, walk)["look_below_dbm"].value, walk)) if walks else None


def _kind(book: Book, walk: str) -> Any:
    return book.inventory.clients[book.site.walks[walk].client].settings


def far_radio(book: Book, place: str) -> tuple[Stop, str] | None:
    """What the walker joins at the place, and the radio of another node it may still hold on to: the one it joins at
    another place of the walk, under a name both offer; of several the one strongest here."""

    def compute() -> tuple[Stop, str] | None:
        walk = _walker(book, place)
        if walk is None:
            return None
        here = stop(book, book.site.walks[walk].client, place)
        if here.radio is None:
            return None
        mine = book.inventory.radios[here.radio].node
        heard = {}
        for other in stops(book, walk):
            if other.radio is None or book.inventory.radios[other.radio].node == mine:
                continue
            level = links.level_dbm(book, links.to_place(place, other.radio), "down")
            if other.names & here.names and other.radio in reach.reachable(book, place) and level.known:
                heard[other.radio] = float(np.ravel(level.raw)[CENTRE])
        if not heard:
            return None
        return here, max(heard, key=lambda name: (round(heard[name], 3), name))

    return book.lasting(("far_radio", place), compute)


def _unheard(book: Book, place: str) -> list[str]:
    """What is missing to know whether a node joined elsewhere on the walk, under a name of here, is heard here."""
    walk = _walker(book, place)
    if walk is None:
        return []
    here = stop(book, book.site.walks[walk].client, place)
    found: dict[str, None] = {}
    for other in stops(book, walk):
        if here.radio is None or other.radio is None or not other.names & here.names:
            continue
        level = links.level_dbm(book, links.to_place(place, other.radio), "down")
        if isinstance(level.value, Unknown):
            found |= dict.fromkeys(level.value.missing)
    return list(found)


def _both(book: Book, place: str, key: str, unit: str) -> tuple[str, str] | Fact:
    """The radio joined and the far one, or an unknown fact that says what is missing."""
    found = far_radio(book, place)
    if found is None or found[0].radio is None:
        return unknown(key, unit, f"a walk past {place} with two nodes of one name whose levels are known")
    return found[0].radio, found[1]


@fact(
    "other_node_on_walk",
    about="place",
    unit="",
    type="boolean",
    meaning="true when a walk past here joins another node of the same name elsewhere, and that node reaches here",
)
def other_node_on_walk(book: Book, subject: Subject) -> Fact:
    found = far_radio(book, subject.ids[0])
    missing = [] if found else _unheard(book, subject.ids[0])
    if missing:
        return unknown(f"other_node_on_walk[{subject.key}]", "", *missing)
    how = f"{found[0].radio} here, {found[1]} from elsewhere on the walk" if found else "no walk, or one node"
    return Fact(f"other_node_on_walk[{subject.key}]", "", constant(found is not None), Looked(how))


@fact("far_node", about="place", unit="", type="class", meaning="node a walking device may still hold on to here")
def far_node(book: Book, subject: Subject) -> Fact:
    key = f"far_node[{subject.key}]"
    radios = _both(book, subject.ids[0], key, "")
    if isinstance(radios, Fact):
        return radios
    return Fact(key, "", constant(book.inventory.radios[radios[1]].node), Looked("joined elsewhere on the walk"))


@fact("near_node", about="place", unit="", type="class", meaning="node a walking device had better use here")
def near_node(book: Book, subject: Subject) -> Fact:
    key = f"near_node[{subject.key}]"
    radios = _both(book, subject.ids[0], key, "")
    if isinstance(radios, Fact):
        return radios
    return Fact(key, "", constant(book.inventory.radios[radios[0]].node), Looked("joined here"))


@fact("walker", about="place", unit="", type="class", meaning="client kind of the walk past here")
def walker(book: Book, subject: Subject) -> Fact:
    key = f"walker[{subject.key}]"
    walk = _walker(book, subject.ids[0])
    if walk is None:
        return unknown(key, "", "a walk past this place (walks)")
    return Fact(key, "", constant(book.site.walks[walk].client), Looked(f"walk {walk}"))


@fact(
    "walker_holds_on",
    about="place",
    unit="",
    type="boolean",
    meaning="true when the walking device holds on to a node as usual or longer, not eagerly looking around",
)
def walker_holds_on(book: Book, subject: Subject) -> Fact:
    key = f"walker_holds_on[{subject.key}]"
    walk = _walker(book, subject.ids[0])
    if walk is None:
        return Fact(key, "", constant(False), Looked("no walk leads past here"))
    told = setting(f"stickiness[client={book.site.walks[walk].client}]", "", _kind(book, walk)["stickiness"])
    return Fact(key, "", constant(told.raw in HOLDS_ON), Looked("its kind"), (told,))


def _walker_setting(book: Book, subject: Subject, name: str, unit: str) -> Fact:
    walk = _walker(book, subject.ids[0])
    if walk is None:
        return unknown(f"walker_{name}[{subject.key}]", unit, "a walk past this place (walks)")
    kind = book.site.walks[walk].client
    found = setting(f"{name}[client={kind}]", unit, _kind(book, walk)[name])
    return Fact(f"walker_{name}[{subject.key}]", unit, constant(float(found.raw)), Looked("its kind"), (found,))


@fact(
    "walker_look_below_dbm",
    about="place",
    unit="dBm",
    digits=0,
    meaning="level under which the walking device looks for another node",
)
def walker_look_below_dbm(book: Book, subject: Subject) -> Fact:
    return _walker_setting(book, subject, "look_below_dbm", "dBm")


@fact(
    "walker_margin_db",
    about="place",
    unit="dB",
    digits=0,
    meaning="how much stronger another node must be before the walking device changes to it",
)
def walker_margin_db(book: Book, subject: Subject) -> Fact:
    return _walker_setting(book, subject, "margin_db", "dB")


@formula(
    id="holding_on.walker_level_dbm",
    unit="dBm",
    expr="level at the device described there + difference of antenna gain and body loss of the two devices",
    source="link budget, definition",
)
def as_walker_hears(*, level_dbm: Any, walker_db: Any, resident_db: Any) -> Any:
    return level_dbm + walker_db - resident_db


def _gain(book: Book, kind: str) -> Fact:
    settings = book.inventory.clients[kind].settings
    parts = [setting(f"{name}[client={kind}]", "dB", settings[name]) for name in ("antenna_dbi", "body_loss_db")]
    value = constant(float(parts[0].raw) - float(parts[1].raw))
    return Fact(f"gain_less_body_db[client={kind}]", "dB", value, Looked("antenna gain - body loss"), tuple(parts))


@fact(
    "far_level_dbm",
    about="place",
    unit="dBm",
    digits=0,
    meaning="level at which the walking device still hears the far node here",
)
def far_level_dbm(book: Book, subject: Subject) -> Fact:
    key = f"far_level_dbm[{subject.key}]"
    place = subject.ids[0]
    radios, walk = _both(book, place, key, "dBm"), _walker(book, place)
    if isinstance(radios, Fact) or walk is None:
        return radios if isinstance(radios, Fact) else unknown(key, "dBm", "a walk past this place (walks)")
    return derive(
        key,
        as_walker_hears,
        level_dbm=links.level_dbm(book, links.to_place(place, radios[1]), "down"),
        walker_db=_gain(book, book.site.walks[walk].client),
        resident_db=_gain(book, book.site.places[place].client),
    )


@formula(
    id="holding_on.behind_db",
    unit="dB",
    expr="level of the node here - level of the far node",
    source="difference of two levels",
)
def behind(*, near_dbm: Any, far_dbm: Any) -> Any:
    return near_dbm - far_dbm


@fact("far_behind_db", about="place", unit="dB", digits=0, meaning="how much weaker the far node is heard here")
def far_behind_db(book: Book, subject: Subject) -> Fact:
    key = f"far_behind_db[{subject.key}]"
    radios = _both(book, subject.ids[0], key, "dB")
    if isinstance(radios, Fact):
        return radios
    near, far = (links.level_dbm(book, links.to_place(subject.ids[0], name), "down") for name in radios)
    return derive(key, behind, near_dbm=near, far_dbm=far)


def alone_mbps(book: Book, place: str, radio: str) -> Fact:
    """What a client at a place would get alone, end to end, if it were joined to this radio, towards it."""
    key = f"goodput_if_joined_mbps[place={place},radio={radio}, dir=down]"
    way = routes.route(book, place, radio, "down")
    if way.missing:
        return unknown(key, "Mb/s", *way.missing)
    limits = alone.limits_alone(book, place, radio, "down", "tcp")
    value = from_cases(np.min([limit for _, limit in limits], axis=0), joint=True)
    inputs = tuple(leg.goodput for leg in way.legs) + ((way.line,) if way.line is not None else ())
    return Fact(key, "Mb/s", value, formula_of(alone.alone_mbps), inputs)


@formula(
    id="holding_on.share",
    unit="",
    expr="goodput alone over the far node / goodput alone over the node here",
    source="definition",
)
def share_of(*, far_mbps: Any, near_mbps: Any) -> Any:
    return np.asarray(far_mbps) / np.maximum(near_mbps, 1e-6)


@fact(
    "far_goodput_share",
    about="place",
    unit="",
    digits=2,
    meaning="goodput alone over the far node as a share of that over the node here, end to end",
)
def far_goodput_share(book: Book, subject: Subject) -> Fact:
    def compute() -> Fact:
        key = f"far_goodput_share[{subject.key}]"
        radios = _both(book, subject.ids[0], key, "")
        if isinstance(radios, Fact):
            return radios
        near, far = (alone_mbps(book, subject.ids[0], name) for name in radios)
        return derive(key, share_of, far_mbps=far, near_mbps=near)

    return over_options(book, "far_goodput_share", subject, {}, compute, shared=False)
