"""The way of a walk as levels: the site's own link budget at points along it, for every radio the device may use."""

from __future__ import annotations

from dataclasses import dataclass, replace
from math import ceil, dist
from typing import Any

import numpy as np

from advisor.data import catalogue
from advisor.facts import links, rates
from advisor.facts.book import Book
from advisor.facts.call_waits import queues_assumed, rides_voice_class, waits_of
from advisor.facts.draws import Draws
from advisor.facts.name_use import CALL_TRAFFIC
from advisor.facts.roaming import aid_setting
from advisor.network.graph import chain
from advisor.network.inventory import Altered
from advisor.network.joining import joining
from advisor.site.people import Place
from advisor.values import CENTRE
from advisor.walk.records import Array, Behaviour, OnWay, Trail

MOST_SAMPLES = 300
"""Points of one leg at which levels are computed."""
MOST_S = 600.0
"""How much of a walk is followed: what happens in ten minutes of standing or walking happens on."""


@dataclass(frozen=True)
class _Stretch:
    """One leg or pause: where it begins and ends, how long it takes, and the names of its sampled points."""

    told: str
    seconds: float
    metres: float
    samples: tuple[str, ...]
    at: tuple[tuple[float, float, str] | None, ...]


def behaviour(book: Book, kind: str, traffic_class: str | None) -> Behaviour:
    """How a client kind decides, as the file says or as its catalogue kind does."""
    settings = book.inventory.clients[kind].settings
    return Behaviour(
        look_below_dbm=float(settings["look_below_dbm"].value),
        margin_db=float(settings["margin_db"].value),
        preference=str(settings["band_preference"].value),
        stickiness=str(settings["stickiness"].value),
        k=bool(settings["k"].value),
        v=bool(settings["v"].value),
        r=bool(settings["r"].value),
        voice_class=rides_voice_class(book, kind, traffic_class),
    )


def trail_of_walk(book: Book, walk: str) -> Trail:
    """The way of a walk. Where the file gives positions, levels are computed every metre; else they run straight, in
    dB, between those of its places."""
    entry = book.site.walks[walk]
    points = [(point if isinstance(point, str) else f"({point[0]:g}, {point[1]:g})", point) for point in entry.points]
    made: dict[str, Place] = {}
    assumed: dict[str, None] = {}
    stretches: list[_Stretch] = []
    for number, (name, point) in enumerate(points):
        pause = entry.pauses_s.get(name, 0.0)
        if number + 1 == len(points):
            pause = max(pause, float(catalogue("walking")["steps"]["arrived_s"]["value"]))
        if pause:
            stretches.append(
                _Stretch(
                    f"at {name}",
                    pause,
                    0.0,
                    (_made(book, made, walk, name, point, entry.client),),
                    (_spot(book, point),),
                )
            )
        if number + 1 < len(points):
            stretches.append(
                _leg(book, made, walk, points[number], points[number + 1], entry.client, entry.speed_m_s, assumed)
            )
    if entry.traffic not in CALL_TRAFFIC:
        assumed.setdefault(f"judged as a call; what a walk with traffic {entry.traffic} wants is not judged by itself")
    kept = _first_minutes(stretches, assumed)
    return _trail(book, walk, entry.client, made, kept, tuple(assumed), entry.traffic_class)


def _first_minutes(stretches: list[_Stretch], assumed: dict[str, None]) -> list[_Stretch]:
    """As much of the way as is followed."""
    kept: list[_Stretch] = []
    left_s = MOST_S
    for stretch in stretches:
        share = min(left_s / stretch.seconds, 1.0)
        if share <= 0.0:
            break
        samples = max(round(len(stretch.samples) * share), 1)
        metres = stretch.metres * share
        kept.append(replace(stretch, seconds=stretch.seconds * share, metres=metres, samples=stretch.samples[:samples]))
        left_s -= stretch.seconds
    if sum(stretch.seconds for stretch in stretches) > MOST_S:
        assumed.setdefault(f"only the first {MOST_S / 60:.0f} minutes of the walk are followed")
    return kept


def trail_of_place(book: Book, place: str, seconds: float = 60.0) -> Trail:
    """Somebody on a call who stays at a place."""
    entry = book.site.places[place]
    stretch = _Stretch(f"at {place}", seconds, 0.0, (place,), (_spot(book, place),))
    return _trail(book, f"at {place}", entry.client, {}, [stretch], (), entry.traffic_class, only=entry.network)


def _spot(book: Book, point: Any) -> tuple[float, float, str] | None:
    if not isinstance(point, str):
        return float(point[0]), float(point[1]), str(point[2])
    entry = book.site.places[point]
    if entry.at is None:
        return None
    return float(entry.at[0]), float(entry.at[1]), entry.floor or next(iter(sorted(book.site.floors)), "")


def _made(book: Book, made: dict[str, Place], walk: str, name: str, point: Any, client: str) -> str:
    """A place of the walk's client at a point of the way: where the file has a place, described as that one is."""
    id = f"{walk}~{len(made) + 1:03d}"
    if isinstance(point, str):
        made[id] = book.site.places[point].model_copy(update={"client": client, "network": None})
    else:
        floor = point[2] or None
        made[id] = Place(client=client, at=(point[0], point[1]), floor=floor)
    return id


def _leg(
    book: Book,
    made: dict[str, Place],
    walk: str,
    start: tuple[str, Any],
    end: tuple[str, Any],
    client: str,
    speed_m_s: float,
    assumed: dict[str, None],
) -> _Stretch:
    told = f"{start[0]} to {end[0]}"
    first, last = _spot(book, start[1]), _spot(book, end[1])
    rows = catalogue("walking")["steps"]
    if first is None or last is None:
        metres = max(float(rows["leg_m"]["value"]), _apart_m(book, start[1], end[1]))
        assumed.setdefault(f"{told}: {metres:g} m, levels running straight between the two places")
        both = tuple(_made(book, made, walk, name, point, client) for name, point in (start, end))
        return _Stretch(told, metres / speed_m_s, metres, both, (first, last))
    metres = max(dist(first[:2], last[:2]), 0.1)
    pieces = min(max(ceil(metres / float(rows["sample_m"]["value"])), 1), MOST_SAMPLES)
    if first[2] != last[2]:
        assumed.setdefault(f"{told}: the floor changes half way; stairs are not drawn")
    samples: list[str] = []
    at: list[tuple[float, float, str] | None] = []
    for piece in range(pieces + 1):
        share = piece / pieces
        floor = first[2] if share < float(rows["stair_share"]["value"]) else last[2]
        spot = (first[0] + (last[0] - first[0]) * share, first[1] + (last[1] - first[1]) * share, floor)
        ends = {0: start[1], pieces: end[1]}
        samples.append(_made(book, made, walk, told, ends.get(piece, spot), client))
        at.append(spot)
    return _Stretch(told, metres / speed_m_s, metres, tuple(samples), tuple(at))


def _apart_m(book: Book, first: Any, last: Any) -> float:
    """How far two places are apart at least, by their told distances to the same node; 0 where nothing is told."""
    places = [book.site.places[point] if isinstance(point, str) else None for point in (first, last)]
    if places[0] is None or places[1] is None:
        return 0.0
    one, other = places[0].paths, places[1].paths
    return max((abs(one[node].distance_m - other[node].distance_m) for node in set(one) & set(other)), default=0.0)


def _trail(
    book: Book,
    walk: str,
    client: str,
    made: dict[str, Place],
    stretches: list[_Stretch],
    assumed: tuple[str, ...],
    traffic_class: str | None,
    only: str | None = None,
) -> Trail:
    step_s = float(catalogue("walking")["steps"]["step_s"]["value"])
    site = book.site.model_copy(update={"places": {**book.site.places, **made}})
    before: list[Book] = book.lasting(("along", walk), list)
    ground = before[0] if before else None
    along = Book(Altered(site, book.source), draws=Draws(book.draws.seed, 0), fixed=book.hops, ground=ground)
    before[:] = before or [along]
    rides = behaviour(book, client, traffic_class).voice_class
    radios = _radios(book, client, rides, only)
    times: list[float] = []
    walked: list[float] = []
    told: list[str] = []
    spots: list[tuple[float, float, str] | None] = []
    level: list[Array] = []
    margin: list[Array] = []
    upward: list[Array] = []
    known = {name: _levels(along, name, radios) for stretch in stretches for name in stretch.samples}
    now, metres = 0.0, 0.0
    for stretch in stretches:
        count = max(round(stretch.seconds / step_s), 1)
        shares = np.arange(count) / count
        grid = np.linspace(0.0, 1.0, len(stretch.samples))
        for rows, number in ((level, 0), (margin, 1), (upward, 2)):
            values = np.stack([known[name][number] for name in stretch.samples], axis=1)
            rows.append(
                np.stack([_between(shares, grid, row) for row in values]) if len(radios) else np.zeros((0, count))
            )
        times += [now + step_s * index for index in range(count)]
        walked += (metres + stretch.metres * shares).tolist()
        told += [stretch.told] * count
        nearest = np.rint(shares * (len(stretch.samples) - 1)).astype(int)
        spots += [stretch.at[index] for index in nearest]
        now, metres = now + count * step_s, metres + stretch.metres
    sigma = np.array([_sigma(along, stretches[0].samples[0], radio.name) for radio in radios])
    return Trail(
        walk, step_s, np.array(times), np.array(walked), tuple(told), tuple(spots), radios,
        np.concatenate(level, axis=1), np.concatenate(margin, axis=1), np.concatenate(upward, axis=1), sigma,
        (*assumed, *queues_assumed(book, [radio.name for radio in radios])),
        _missing(book),
    )  # fmt: skip


def _missing(book: Book) -> tuple[str, ...]:
    """What has to be known of the site before calls can be judged at all."""
    found = [] if book.site.networks else ["the networks of the site (networks)"]
    for field in ("down_mbps", "up_mbps"):
        if getattr(book.site.internet, field) is None:
            found.append(f"what the internet line delivers (internet.{field})")
    return tuple(found)


def _between(shares: Array, grid: Array, values: Array) -> Array:
    """Straight in dB between samples; where one of them hears nothing, the nearer one counts."""
    if np.isfinite(values).all():
        return np.interp(shares, grid, values) if len(grid) > 1 else np.full(len(shares), values[0])
    nearest = np.rint(shares * (len(grid) - 1)).astype(int)
    result: Array = values[nearest]
    return result


def _levels(along: Book, name: str, radios: tuple[OnWay, ...]) -> tuple[Array, Array, Array]:
    """Level at the client, margin of the weaker direction, level at the node, of every radio at a point."""
    level, margin, upward = [], [], []
    for radio in radios:
        link = links.to_place(name, radio.name)
        here, answer = links.level_dbm(along, link, "down"), rates.answer_margin_db(along, link)
        both = here.known and answer.known
        level.append(float(np.ravel(here.raw)[CENTRE]) if both else -np.inf)
        margin.append(float(np.ravel(answer.raw)[CENTRE]) if both else -np.inf)
        up = links.level_dbm(along, link, "up")
        upward.append(float(np.ravel(up.raw)[CENTRE]) if both and up.known else -np.inf)
    return np.array(level), np.array(margin), np.array(upward)


def _sigma(along: Book, name: str, radio: str) -> float:
    return links.spread_db(along, links.to_place(name, radio))[0]


def _radios(book: Book, client: str, voice_class: bool, only: str | None) -> tuple[OnWay, ...]:
    """Every radio the device can join under a name for the site's own devices."""
    found = []
    for name, radio in sorted(book.radios.items()):
        answer = joining(book.site, book.inventory.clients[client], radio, only)
        nets = [(key, book.site.networks[key]) for key in answer.networks]
        nets = [(key, net) for key, net in nets if net.purpose == "clients"]
        if not nets:
            continue
        key, net = nets[0]
        way = chain(radio.node, book.hops)
        nodes = [radio.node, *(hop.parent for hop in way)]
        waits = waits_of(book, name, voice_class)
        aids = {aid: bool(aid_setting(book, radio.node, key, aid).value) for aid in ("k", "v", "r")}
        found.append(
            OnWay(
                name=name,
                node=radio.node,
                band=radio.band,
                channel=radio.channel,
                names=frozenset(net.octets for _, net in nets),
                security=str(net.security or "wpa2-personal"),
                k=aids["k"],
                v=aids["v"],
                r=aids["r"],
                router=any(_routes(book, node) for node in nodes),
                hidden=any(book.site.nodes[node].addresses == "hidden" for node in nodes),
                air_hops=sum(hop.air for hop in way),
                drops_below_dbm=_drops_below(book, radio.node, radio.id),
                delay_down_ms=round(float(waits.down.delay_ms[CENTRE]), 3),
                delay_up_ms=round(float(waits.up.delay_ms[CENTRE]), 3),
                loss_down=round(float(waits.down.loss[CENTRE]), 6),
                loss_up=round(float(waits.up.loss[CENTRE]), 6),
                worse=waits.worse,
                delay_why=waits.why,
            )
        )
    return tuple(found)


def _drops_below(book: Book, node: str, radio: str) -> float | None:
    declared = book.site.nodes[node].radios.get(radio)
    return declared.drops_below_dbm if declared is not None else None


def _routes(book: Book, node: str) -> bool:
    entry = book.site.nodes[node]
    return entry.role != "gateway" and entry.mode == "router"
