"""What works where, also between the places: calls, video and browsing for one kind of client at many points.

At each point the site's own computation is made for one more client of that kind: which radio it joins, what it would
get alone, how full its way is while everyone is active, and from that whether each use works, judged like a place. The
visitor takes no air from others. Its level differs from point to point by the described way and, from what that gives,
by one random term a node: neighbouring points are lucky or unlucky together.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from advisor.data import catalogue
from advisor.facts import everyone, joins, links, places, rates, reach, routes
from advisor.facts.book import Book
from advisor.facts.call_waits import rides_voice_class, waits_of
from advisor.facts.one_more import OneMore, rates_of_one_more
from advisor.facts.uses import call_holds, fast_enough, to_be_had, wanted_mos
from advisor.facts.visitor import VISITOR, Alike, Everywhere, VisitorBook, with_visitor
from advisor.network.inventory import Altered
from advisor.network.joining import joining
from advisor.site.people import Place
from advisor.subjects import Subject
from advisor.trace import Fact, Looked
from advisor.values import CENTRE, Cases, Known, Options, Unknown, Value, from_cases

USES = ("calls", "video", "browsing")
MOST_OPEN = 4
"""Nodes whose open uplinks are followed way by way; of more, only the strongest way of each."""
SUBJECT = Subject("place", (VISITOR,))
OUT_OF_HEARING_DB = 300.0
FROM_EACH_POINT = Looked("the described way from each point")


@dataclass(frozen=True, slots=True)
class Spot:
    """A point of a floor, or a room whose inside is not told further."""

    at: tuple[float, float] | None
    floor: str | None
    room: str | None = None


@dataclass(frozen=True, slots=True)
class Outcome:
    """What works at one point: a yes or no for each use, with its cases, and the radio joined typically."""

    uses: dict[str, Value]
    joins: str
    """Empty where nothing can be joined."""


def outcomes(
    book: Book,
    kind: str,
    spots: Sequence[Spot],
    *,
    network: str | None = None,
    stands_for: str = "",
    asks_mbps: tuple[float, float] | None = None,
) -> tuple[Outcome, ...]:
    """What works at each point for one client of a kind, while everyone is active.

    `network` is the one it uses (any it can join, unless told), `stands_for` gives it the random terms of a place, and
    `asks_mbps` is what it asks for, towards it and from it (browsing, unless told). An uplink left to the equipment
    gives an answer for each way it may run, as for places.
    """
    if not spots:
        return ()
    asks = asks_mbps or (everyone.browsing_mbps("down"), everyone.browsing_mbps("up"))
    visit = _visit(book, Place(client=kind, network=network), spots, stands_for)
    now, joined = _uses(visit, asks)
    ways = {}
    for node in book.open_nodes if ways_followed(book) else ():
        others = {
            option: VisitorBook(other, visit.source, visit.draws, like=visit)
            for option, other in book.variants(node).items()
        }
        ways[node] = {f"{node} {option}": _uses(other, asks)[0] for option, other in others.items()}
    return tuple(_outcome(visit, number, now, joined, ways) for number in range(len(spots)))


def ways_followed(book: Book) -> bool:
    """Whether uplinks left to the equipment are followed way by way: they are where there are few of them."""
    return len(book.open_nodes) <= MOST_OPEN


class _Visit(VisitorBook):
    source: Altered
    draws: Everywhere
    gaps: dict[int, list[str]]
    """Per point, what would have to be told before every radio near it can be judged."""


def _visit(book: Book, who: Place, spots: Sequence[Spot], stands_for: str) -> _Visit:
    """The book of a visitor at the points, with its levels from every radio it could join there."""
    source, alike = with_visitor(book.source, who), Alike(book.draws, stands_for)
    visit = _Visit(book, source, Everywhere(alike, len(spots)))
    visit.gaps = {}
    ends = {
        f"{VISITOR}{number}": who.model_copy(update={"at": spot.at, "floor": spot.floor, "room": spot.room})
        for number, spot in enumerate(spots)
    }
    site = book.site.model_copy(update={"places": ends})
    along = Book(Altered(site, book.source), draws=alike, fixed=book.hops)
    for name, heard in _heard(visit, along, who, list(ends)).items():
        _set_levels(visit, along, name, list(ends), heard)
    return visit


def _heard(visit: _Visit, along: Book, who: Place, ends: Sequence[str]) -> dict[str, set[str]]:
    """The radios the visitor could join, with the points at which each is among the strongest few of its band, as it
    is for places."""
    client = visit.inventory.clients[who.client]
    fit = [
        name
        for name, radio in visit.inventory.radios.items()
        if joining(visit.site, client, radio, who.network).networks
    ]
    found: dict[str, set[str]] = {}
    for end in ends:
        ranked: dict[str, list[tuple[float, str]]] = {}
        for name in fit:
            level = reach.best_case_dbm(along, links.to_place(end, name))
            if level >= reach.JOINING_DBM:
                ranked.setdefault(visit.inventory.radios[name].band, []).append((-level, name))
        for strongest in ranked.values():
            for _, name in sorted(strongest)[: reach.MOST_RADIOS]:
                found.setdefault(name, set()).add(end)
    known: dict[str, set[str]] = {}
    for name, heard in found.items():
        for end in sorted(heard):
            loss = links.path_loss_db(along, links.to_place(end, name)).value
            if isinstance(loss, Unknown):
                visit.gaps.setdefault(int(end.removeprefix(VISITOR)), []).extend(loss.missing)
            else:
                known.setdefault(name, set()).add(end)
    visit.lasting(("reachable", VISITOR), lambda: sorted(known))
    return known


def _set_levels(visit: _Visit, along: Book, radio: str, ends: Sequence[str], heard: set[str]) -> None:
    """Give the visitor its path loss and shadowing from a radio at every point; none gets through where others are
    so much stronger that nobody would join it."""
    link = links.to_place(VISITOR, radio)
    for kind, compute, unheard in (
        ("path_loss", links.path_loss_db, OUT_OF_HEARING_DB),
        ("shadow", links.shadow_db, 0.0),
    ):
        told = [compute(along, links.to_place(end, radio)).raw if end in heard else unheard for end in ends]
        rows = [np.broadcast_to(np.asarray(entry, dtype=float), (along.draws.size,)) for entry in told]
        fact = Fact(f"{kind}_db[{link.key}]", "dB", from_cases(visit.wide.joined(rows), joint=True), FROM_EACH_POINT)
        visit.lasting((kind, link), lambda fact=fact: fact)  # type: ignore[misc]


def _uses(visit: _Visit | VisitorBook, asks: tuple[float, float]) -> tuple[dict[str, Cases | tuple[str, ...]], Cases]:
    """For each use a yes or no (or what is missing), and the index of the radio joined: points × cases."""
    missing = tuple(
        dict.fromkeys(gap for way in ("down", "up") for gap in everyone.missing_inputs(visit, VISITOR, way))
    )
    answer = joins.association(visit, VISITOR)
    if missing:
        return dict.fromkeys(USES, missing), visit.wide.apart(answer.joined)
    size = visit.draws.size
    alone = {way: places.alone(visit, SUBJECT, way, "tcp").raw for way in ("down", "up")}
    share, load = _waiting(visit, answer.radios, asks)
    level, margin, used, quality = np.full(size, -200.0), np.full(size, -200.0), np.zeros(size), np.ones(size)
    voice_class = rides_voice_class(visit.base, visit.site.places[VISITOR].client, None)
    gets = {"down": np.zeros(size), "up": np.zeros(size)}
    for index, name in enumerate(answer.radios):
        link, here = links.to_place(VISITOR, name), answer.joined == index
        if not here.any():
            continue
        level = np.where(here, links.level_dbm(visit, link, "down").raw, level)
        margin = np.where(here, rates.answer_margin_db(visit, link).raw, margin)
        used = np.where(here, visit.wide.wide(load[index]), used)
        waits = waits_of(visit.base, name, voice_class)
        quality = np.where(here, visit.wide.wide(np.minimum(waits.mos["down"], waits.mos["up"])), quality)
        for way in gets:
            gets[way] = np.where(here, np.minimum(visit.wide.wide(share[way][index]), alone[way]), gets[way])
    rows = catalogue("ranges")["uses"]
    found: dict[str, Cases] = {
        "calls": call_holds(
            level_dbm=level,
            answer_margin_db=margin,
            mos=quality,
            down_mbps=gets["down"],
            up_mbps=gets["up"],
            call_level_dbm=float(rows["call_level_dbm"]["value"]),
            call_mos=wanted_mos(visit.base),
            call_mbps=float(rows["calls"]["down_mbps"]),
        )
    }
    had = {
        way: to_be_had(everyone_mbps=gets[way], asked_mbps=asked, load_share=used, alone_mbps=alone[way])
        for way, asked in zip(("down", "up"), asks, strict=True)
    }
    for use in ("video", "browsing"):
        found[use] = fast_enough(
            down_mbps=had["down"],
            up_mbps=had["up"],
            need_down_mbps=float(rows[use]["down_mbps"]),
            need_up_mbps=float(rows[use]["up_mbps"]),
        )
    return {use: visit.wide.apart(cases) for use, cases in found.items()}, visit.wide.apart(answer.joined)


def _waiting(
    visit: _Visit | VisitorBook, radios: Sequence[str], asks: tuple[float, float]
) -> tuple[dict[str, Cases], Cases]:
    """Per radio: what one more client there gets in each direction while everyone is active, and the load of the
    fullest resource on its way (radios × the site's cases)."""
    book = visit.base
    crowd = everyone.crowd(book)
    number = {name: index for index, name in enumerate(crowd.resources)}
    load = np.zeros((len(radios), book.draws.size))
    flows: list[OneMore] = []
    for index, radio in enumerate(radios):
        for way, asked in zip(("down", "up"), asks, strict=True):
            used, senders = _taken(visit, radio, way)
            there = tuple(number[name] for name in used if name in number)
            flows.append(OneMore(there, senders, asked))
            for name in used:
                busy = routes.busy_at(book, name.removeprefix("domain=")) if name.startswith("domain=") else 0.0
                load[index] = np.maximum(load[index], crowd.load[number[name]] if name in number else busy)
    rate = rates_of_one_more(crowd.problem, flows)
    return {"down": rate[0::2], "up": rate[1::2]}, np.minimum(load, 99.0)


def _taken(visit: _Visit | VisitorBook, radio: str, way: str) -> tuple[list[str], tuple[str, ...]]:
    """What the traffic of a client of a radio waits for, and who sends it."""
    route = routes.route(visit, VISITOR, radio, way)
    used = [
        f"domain={leg.cell}" if leg.cell is not None else f"{leg.what.key},dir={leg.direction}" for leg in route.legs
    ]
    me = f"place={visit.wide.each.stands_for}"
    senders = [routes.ends_of(visit, leg)[0] for leg in route.legs if leg.cell is not None]
    senders = [me if name == f"place={VISITOR}" else name for name in senders]
    return list(dict.fromkeys(used + ([f"line,dir={way}"] if route.line is not None else []))), tuple(senders)


def _outcome(
    visit: _Visit,
    number: int,
    now: dict[str, Cases | tuple[str, ...]],
    joined: Cases,
    ways: dict[str, dict[str, dict[str, Cases | tuple[str, ...]]]],
) -> Outcome:
    """One point's answers; where an uplink left to the equipment decides, one for each of its ways."""
    answer = joins.association(visit, VISITOR)
    index = int(joined[number, CENTRE])
    radio = answer.radios[index] if index >= 0 else ""
    if number in visit.gaps and not np.any(joined[number] >= 0):
        return Outcome(dict.fromkeys(USES, Unknown(tuple(dict.fromkeys(visit.gaps[number])))), "")
    open_node = places.deciding(visit.base, visit.radios[radio].node if radio else None, shared=True) if ways else None
    found: dict[str, Value] = {}
    for use in USES:
        found[use] = _value(visit, now[use], number)
        if open_node is not None:
            answers = {name: _value(visit, uses[use], number) for name, uses in ways[open_node].items()}
            if len({places.told_ends(entry) for entry in answers.values()}) > 1:
                found[use] = Options(answers)
    return Outcome(found, radio)


def _value(visit: _Visit, cases: Cases | tuple[str, ...], number: int) -> Known | Unknown:
    if isinstance(cases, tuple):
        return Unknown(cases)
    return from_cases(cases[number], joint=True)
