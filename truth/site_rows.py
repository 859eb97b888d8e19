"""Simulated rows as sites: each row becomes a site file, and its figures are read out of what the program prints.

Results of a row are never read for a site or a prediction; nothing is fitted. Rows whose conditions the file cannot
express are skipped, with the reason.
"""

from __future__ import annotations

import tempfile
import time
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from pathlib import Path

from advisor.data import catalogue
from advisor.physics.call_quality import codec, mos, r_factor
from advisor.walk.speech import usual_limits
from truth import printed
from truth.busy_neighbour import busy_share
from truth.printed import Figure, Refused
from truth.rows import Compared, NotMapped, Prediction, Row, links_of, read, words
from truth.site_files import AIR_QUEUES, ENDLESS_MBPS, LEVEL_DBM, STEP_M, Block, SiteFile, cells, chain, single

SITE = "site: "
"""Before a class of what a site prints, where it stands beside classes of the models."""
AGGREGATION_WORDS = ("ampdu8k", "ampdu16k", "ampdu32k", "aggmax", "aggmax64", "aggmax256", "amsdu7935")
"""Words of rows with limits of an aggregate other than the set's: nothing a file says, but gear may have them."""
OTHER_WORDS = {
    "noagg": "no aggregation",
    "delack1": "every TCP segment acknowledged",
    "rts": "RTS before every frame",
    "macq100": "a short MAC queue",
    "pfifo1000": "a plain queue of 1000 packets",
    "newreno": "another TCP",
}
"""Words of rows with settings the file does not know."""


@dataclass(frozen=True, slots=True)
class Asked:
    """One figure of a row and where the program prints it: `field` of a place, times `count`; the figures of several
    places are added, which the program does not do, so that a sum has no band. A client that asks for less than is
    printed for it gets what it asks for (`offered`)."""

    kind: str
    flow: str
    found: float
    places: tuple[str, ...]
    field: str
    count: int = 1
    unit: str = "Mb/s"
    offered: float = ENDLESS_MBPS

    def read(self, places: dict[str, Block]) -> Figure:
        """The figure out of what is printed about the places."""
        each = [printed.figure(places[name], self.field).up_to(self.offered).times(self.count) for name in self.places]
        return each[0] if len(each) == 1 else Figure(sum(one.centre for one in each), None, None)


@dataclass(frozen=True, slots=True)
class SiteRow:
    """A scenario written as a site file, what is read out of it, and which radio each place is meant to join."""

    scenario: str
    text: str
    asked: tuple[Asked, ...]
    joins: dict[str, str]
    wall_s: float
    walk: str | None = None


@dataclass(frozen=True, slots=True)
class _Made:
    """A file with what is asked of it."""

    file: SiteFile
    asked: list[Asked]
    joins: dict[str, str]
    walk: str | None = None


def site_rows(rows: list[Row]) -> Iterator[SiteRow]:
    """The site files a scenario gives. Raises NotMapped where the file cannot express it."""
    table = words(rows[0])[0]
    if table not in TABLES:
        raise NotMapped(f"no site for table {table!r}")
    if any(not row["goodput_mbps"] for row in rows):
        raise NotMapped("no goodput in the row")
    scenario, wall_s = rows[0]["scenario_id"], float(rows[0]["wall_s"])
    for made in TABLES[table](rows):
        yield SiteRow(scenario, made.file.text(), tuple(made.asked), made.joins, wall_s, made.walk)


def _expressible(row: Row) -> None:
    """Raises NotMapped for settings the file does not know."""
    for word in words(row):
        if word in AGGREGATION_WORDS:
            raise NotMapped(f"the site file does not say limits of an aggregate ({word})")
        if word in OTHER_WORDS:
            raise NotMapped(f"the site file does not say: {OTHER_WORDS[word]} ({word})")


def _wanted(row: Row) -> float:
    return ENDLESS_MBPS if row["offered_mbps"] in ("sat", "") else float(row["offered_mbps"])


def _transport(row: Row) -> str:
    if row["transport"] not in ("tcp", "udp"):
        raise NotMapped(f"transport {row['transport']!r}")
    return row["transport"]


def _demand(row: Row, direction: str = "down") -> Block:
    return {"transport": _transport(row), f"{direction}_mbps": _wanted(row)}


def _flow(row: Row, kind: str, place: str, field: str = "everyone_mbps") -> Asked:
    return Asked(kind, row["flow_idx"], float(row["goodput_mbps"]), (place,), field, offered=_wanted(row))


def _sum(row: Row, kind: str, places: tuple[str, ...], field: str, count: int = 1) -> Asked:
    """The sum over flows that all offer the same."""
    return Asked(kind, "sum", float(row["total_goodput_mbps"]), places, field, count, offered=_wanted(row))


def _up(row: Row) -> bool:
    return row["flow_dst"] == "A"


def _single(rows: list[Row]) -> Iterator[_Made]:
    (row,) = rows
    (link,) = links_of(row)
    transport, up = _transport(row), _up(row)
    field = "alone_up_mbps" if up else "alone_mbps"
    demand = _demand(row, "up" if up else "down")
    name = row["scenario_id"]
    own = [word for word in words(row) if word in (*AGGREGATION_WORDS, *OTHER_WORDS)]
    if all(word in AGGREGATION_WORDS for word in own):
        kind = f"single link {transport.upper()}, gear not known"
        unknown = single(name, link, gear="home-router", **demand)
        yield _Made(unknown, [_flow(row, kind, "c0", field)], {"c0": "a0.r"})
    _expressible(row)
    kind = f"single link {transport.upper()}"
    yield _Made(single(name, link, **demand), [_flow(row, kind, "c0", field)], {"c0": "a0.r"})


def _relay(rows: list[Row]) -> Iterator[_Made]:
    (row,) = rows
    _expressible(row)
    links = links_of(row)
    kind = {2: "relay on one channel", 3: "three hops on one channel"}[len(links)]
    if words(row)[0] == "C":
        kind = "relay on two channels"
    else:
        kind += ", endless UDP" if "sat" in words(row) else f", {_transport(row).upper()}"
    file, radio = chain(row["scenario_id"], links)
    file.place("c0", links[-1], radio, "home", STEP_M * len(links), **_demand(row))
    yield _Made(file, [_flow(row, kind, "c0")], {"c0": radio})


def _cells(rows: list[Row]) -> Iterator[_Made]:
    _expressible(rows[0])
    links = links_of(rows[0])
    places = tuple(f"c{number}" for number in range(len(links)))
    file = cells(rows[0]["scenario_id"], links, [_demand(row) for row in rows])
    asked = [_sum(rows[0], "cells sharing: sum", places, "everyone_mbps")]
    asked += [_flow(row, "cells sharing: each flow", place) for row, place in zip(rows, places, strict=True)]
    yield _Made(file, asked, {place: f"a{number}.r" for number, place in enumerate(places)})


def _clients(rows: list[Row]) -> Iterator[_Made]:
    """Once as one place with so many clients, once as so many places."""
    first = rows[0]
    _expressible(first)
    (link,) = links_of(first)
    up = _up(first)
    way, field = ("up", "everyone_up_mbps") if up else ("down", "everyone_mbps")
    demand = _demand(first, way)
    one = single(first["scenario_id"], link, count=len(rows), **demand)
    kind = f"many clients {way}: sum"
    yield _Made(one, [_sum(first, kind, ("c0",), field, len(rows))], {"c0": "a0.r"})
    many = single(first["scenario_id"], link, **demand)
    places = tuple(f"c{number}" for number in range(len(rows)))
    for place in places[1:]:
        many.place(place, link, "a0.r", "home", STEP_M, **demand)
    yield _Made(many, [_sum(first, f"{kind}, a place each", places, field)], dict.fromkeys(places, "a0.r"))


def _partial(rows: list[Row]) -> Iterator[_Made]:
    """The neighbour as a cell of one's own, then as somebody else's network with a busy share."""
    first = rows[0]
    _expressible(first)
    own, neighbour = links_of(first)
    name = first["scenario_id"]
    if first["flow_src"] == "A1":
        file = single(name, neighbour, **_demand(first))
        yield _Made(file, [_flow(first, "partial load: the neighbour alone", "c0")], {"c0": "a0.r"})
        return
    if len(rows) == 1:
        raise NotMapped("the neighbour is silent: a single link")
    load = rows[1]
    file = cells(name, [own, neighbour], [_demand(first), _demand(load)])
    asked = [_flow(first, "victim of an own cell", "c0"), _flow(load, "partial load: the own neighbour", "c1")]
    yield _Made(file, asked, {"c0": "a0.r", "c1": "a1.r"})
    beside = single(name, own, **_demand(first))
    radio = beside.nodes["a0"]["radios"]["r"]
    beside.neighbours["next-door"] = {
        "band": radio["band"],
        "channel": radio["channel"],
        "width_mhz": neighbour.width_mhz,
        "heard_dbm": {"a0": LEVEL_DBM, "c0": LEVEL_DBM},
        "busy_share": round(busy_share(neighbour, _wanted(load)), 3),
        "rate_mbps": float(load["phy_mbps"].split("/")[-1]),
    }
    yield _Made(beside, [_flow(first, "victim of a busy neighbour", "c0")], {"c0": "a0.r"})


def _voice(rows: list[Row]) -> Iterator[_Made]:
    """A call of somebody who stands still, beside a transfer without end."""
    first, names = rows[0], words(rows[0])
    links = links_of(first)
    queue = next((AIR_QUEUES[word] for word in names if word in AIR_QUEUES), None)
    file, radio = chain(first["scenario_id"], links, queue=queue)
    rides = "voice" if "VO" in names else "best-effort"
    file.place("caller", links[-1], radio, "home", STEP_M * len(links), calls=1, active=0, traffic_class=rides)
    joins = {"caller": radio}
    loads = {"tcpdl": "down", "tcpul": "up", "tcp2hop": "down", "tcproot": "down"}
    loaded = [word for word in names if word in loads]
    if loaded == ["tcproot"]:
        file.network("root", ["a0"], "wpa2-personal")  # not for the caller, who can do `open` alone
        file.place("other", links[0], "a0.r", "root", STEP_M, down_mbps=ENDLESS_MBPS)
        joins["other"] = "a0.r"
    elif loaded:
        demand = {f"{loads[loaded[0]]}_mbps": float(ENDLESS_MBPS)}
        file.place("other", links[-1], radio, "home", STEP_M * len(links), **demand)
        joins["other"] = radio
    elif "none" not in names:
        raise NotMapped("load of the voice row not known")
    file.walks["standing"] = {
        "points": ["caller", "caller"],
        "pauses_s": {"caller": 10},
        "client": "kind-caller",
        "traffic": "voice",
        "traffic_class": rides,
    }
    calls = [row for row in rows if row["transport"] == "voip"]
    asked = [
        Asked(
            "voice delay under load",
            row["flow_idx"],
            float(row["d_mean_ms"]),
            ("caller",),
            "down_ms" if row["flow_src"] == "A" else "up_ms",
            unit="ms",
        )
        for row in (calls if loaded else ())  # alone a packet waits for less than is printed
    ]
    quality = min(simulated_mos(float(row["d_mean_ms"]), float(row["loss"])) for row in calls)
    asked.append(Asked("call quality", "worse", quality, ("caller",), "mos", unit="MOS"))
    yield _Made(file, asked, joins, walk="standing")


def simulated_mos(delay_ms: float, loss: float) -> float:
    """Call quality the E-model gives a simulated call: the project's own codec and jitter buffer."""
    speaks = codec(usual_limits().codec)
    buffer_ms = float(catalogue("walking")["calls"]["jitter_buffer_ms"]["value"])
    mouth_to_ear = delay_ms + speaks.packet_ms + buffer_ms
    rating = r_factor(
        delay_ms=mouth_to_ear, loss_pct=100.0 * loss, burst_ratio=1.0, ie=speaks.ie, bpl=speaks.bpl or 4.3
    )
    return float(mos(r=rating))


TABLES: dict[str, Callable[[list[Row]], Iterator[_Made]]] = {
    "A": _single,
    "B": _relay,
    "C": _relay,
    "D": _relay,
    "E": _cells,
    "E2": _clients,
    "E2dl": _clients,
    "F": _partial,
    "G": _voice,
}


def answer(site: SiteRow, folder: Path) -> list[Prediction]:
    """What the program prints to a site, one prediction for each figure asked. Raises Refused where it does not take
    the site, or a place joins another radio than the row's."""
    path = folder / "site.yaml"
    path.write_text(site.text, encoding="utf-8")
    places = printed.capacity(path)
    for name, radio in site.joins.items():
        if printed.joined(places[name]) != radio:
            raise Refused(f"{name} joins {printed.joined(places[name])}, not {radio}")
    call = printed.call(path, site.walk) if site.walk is not None else None
    found = []
    for asked in site.asked:
        told = asked.read(places) if asked.unit == "Mb/s" else getattr(call, asked.field)
        found.append(
            Prediction(
                asked.kind, site.scenario, asked.flow, asked.unit, asked.found, told.centre, site.wall_s,
                told.low, told.high,
            )
        )  # fmt: skip
    return found


def compare_sites(folder: Path) -> Compared:
    """Every scenario of a folder as sites."""
    predictions: list[Prediction] = []
    skipped: list[tuple[str, str]] = []
    seconds: dict[str, float] = {}
    with tempfile.TemporaryDirectory() as made:
        for scenario, rows in sorted(read(folder).items()):
            try:
                for site in site_rows(rows):
                    began = time.perf_counter()
                    answered = answer(site, Path(made))
                    kind = answered[0].kind
                    seconds[kind] = seconds.get(kind, 0.0) + time.perf_counter() - began
                    predictions += answered
            except (NotMapped, Refused) as problem:
                skipped.append((scenario, f"{problem}"))
    return Compared(predictions, skipped, seconds)
