"""Rows of the packet simulator, and what the models say to each.

A row says by its columns what was run: links (standard, band, width, streams, MCS, guard; '/' between cells or hops),
transport, who sends to whom, what was offered; words in its name and notes say which settings were changed. Results
are never read for a prediction.
"""

from __future__ import annotations

import csv
import dataclasses
import time
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from pathlib import Path

from advisor.physics.airtime import Link, Transport, goodput_mbps
from advisor.physics.mac import Category, MacSettings, mac_settings
from truth.closed.chain_share import cells_mbps, chain_mbps, uplinks_mbps
from truth.play.cells import cells_sharing, many_clients
from truth.play.partial_load import beside_neighbour, neighbour_alone_mbps
from truth.play.relays import relay_one_channel, relay_two_channels
from truth.play.voice_delay import Load, Queue, voice_delay_ms

Row = dict[str, str]
LAST_DIGIT = {"Mb/s": 0.1, "ms": 0.1, "MOS": 0.01}
"""What the program prints figures to."""
SATURATING = 0.98
"""Offered loads from this share of the first link's capacity on are taken as endless."""


@dataclass(frozen=True, slots=True)
class Prediction:
    """One compared figure: its class, what the simulator found, what the model says."""

    kind: str
    scenario: str
    flow: str
    unit: str
    found: float
    predicted: float
    simulator_s: float
    low: float | None = None
    """The 10 % end of the printed band; None where there is none."""
    high: float | None = None

    @property
    def error(self) -> float:
        """Relative error of a goodput; for a delay how many times too long or too short, less one; of call quality the
        difference."""
        if self.unit == "MOS":
            return abs(self.predicted - self.found)
        ratio = max(self.predicted, LAST_DIGIT[self.unit] / 2.0) / self.found
        return max(ratio, 1.0 / ratio) - 1.0 if self.unit == "ms" else abs(ratio - 1.0)

    @property
    def inside(self) -> bool | None:
        """Whether what the simulator found lies in the band, ends rounded as they are printed; None without a band."""
        if self.low is None or self.high is None:
            return None
        half = LAST_DIGIT[self.unit] / 2.0
        return self.low - half <= self.found <= self.high + half


class NotMapped(Exception):
    """Why a row has no prediction."""


def read(folder: Path) -> dict[str, list[Row]]:
    """All rows of all CSV files of a folder, by scenario; lines that start with # are comments."""
    scenarios: dict[str, list[Row]] = {}
    for path in sorted(folder.glob("*.csv")):
        lines = [line for line in path.read_text(encoding="utf-8").splitlines() if not line.startswith("#")]
        for row in csv.DictReader(lines):
            if "scenario_id" in row and "goodput_mbps" in row:
                scenarios.setdefault(row["scenario_id"], []).append(row)
    return scenarios


def words(row: Row) -> list[str]:
    return row["scenario_id"].split("_")


def settings_of(row: Row, standard: str) -> MacSettings:
    """The simulator's settings with what the row's name changes for one standard."""
    mac = mac_settings("simulator")
    limits = mac.aggregation(standard)
    delayed_ack, reserve = mac.delayed_ack, False
    for word in words(row):
        if word.startswith("ampdu") and word.endswith("k"):
            limits = dataclasses.replace(limits, ampdu_bytes=1024 * int(word[5:-1]) - 1)
        elif word.startswith("aggmax"):
            limits = dataclasses.replace(limits, ampdu_bytes=6_500_631 if standard in ("ax", "be") else 1_048_575)
            if word == "aggmax64":
                limits = dataclasses.replace(limits, ampdu_frames=64, block_ack_bytes=32)
        elif word.startswith("amsdu"):
            limits = dataclasses.replace(limits, amsdu_bytes=int(word[5:]))
        elif word == "noagg":
            limits = dataclasses.replace(limits, ampdu_frames=1)
        elif word == "delack1":
            delayed_ack = 1
        elif word == "rts":
            reserve = True
    kept = tuple((name, values) for name, values in mac.aggregations if name != standard)
    aggregations = (*kept, (standard, limits))
    return dataclasses.replace(mac, aggregations=aggregations, delayed_ack=delayed_ack, reserve=reserve)


def links_of(row: Row) -> list[Link]:
    """The links of a row, in its order; a column with one value holds for all."""
    columns = {name: row[name].split("/") for name in ("standard", "band", "width_mhz", "nss", "mcs", "gi_ns")}
    count = max(len(values) for values in columns.values())
    found = []
    for index in range(count):
        pick = {name: values[index] if len(values) > 1 else values[0] for name, values in columns.items()}
        band = {2: "2.4", 5: "5", 6: "6"}[int(float(pick["band"]))]
        found.append(
            Link(
                pick["standard"],
                band,
                int(pick["width_mhz"]),
                int(pick["mcs"]),
                int(pick["nss"]),
                int(pick["gi_ns"]),
                settings_of(row, pick["standard"]),
            )
        )
    return found


def alone_mbps(link: Link, transport: Transport) -> float:
    return float(
        goodput_mbps(
            standard=link.standard,
            band=link.band,
            width_mhz=link.width_mhz,
            mcs=link.mcs,
            streams=link.streams,
            guard_ns=link.guard_ns,
            transport=transport,
            mac=link.mac,
        )
    )


def offered(row: Row, capacity_mbps: float) -> float | None:
    """The load of a flow, or None where it is endless."""
    if row["offered_mbps"] in ("sat", ""):
        return None
    load = float(row["offered_mbps"])
    return None if load >= SATURATING * capacity_mbps else load


def predict(rows: list[Row]) -> Iterator[Prediction]:
    """Everything the models say about the flows of one scenario; raises NotMapped where they say nothing."""
    table = words(rows[0])[0]
    if table not in TABLES:
        raise NotMapped(f"no model for table {table!r}")
    if any(not row["goodput_mbps"] for row in rows):
        raise NotMapped("no goodput in the row")
    yield from TABLES[table](rows)


def _transport(row: Row) -> Transport:
    if row["transport"] not in ("tcp", "udp"):
        raise NotMapped(f"transport {row['transport']!r}")
    return "tcp" if row["transport"] == "tcp" else "udp"


def _of(row: Row, kind: str, predicted: float, *, column: str = "goodput_mbps", flow: str | None = None) -> Prediction:
    name = row["flow_idx"] if flow is None else flow
    return Prediction(
        kind, row["scenario_id"], name, "Mb/s", float(row[column]), float(predicted), float(row["wall_s"])
    )


def _single(rows: list[Row]) -> Iterator[Prediction]:
    for row in rows:
        transport = _transport(row)
        (link,) = links_of(row)
        plain = link.mac == settings_of({"scenario_id": ""}, link.standard)
        variant = row["notes"].strip() not in ("DL", "UL")
        kind = f"single link {transport.upper()}" + (", variants" if variant or not plain else "")
        load = offered(row, alone_mbps(link, transport))
        best = alone_mbps(link, transport)
        yield _of(row, kind, best if load is None else min(load, best))


def _relay(rows: list[Row]) -> Iterator[Prediction]:
    for row in rows:
        transport, links = _transport(row), links_of(row)
        hops = {2: "relay on one channel", 3: "three hops on one channel"}.get(len(links))
        if hops is None:
            raise NotMapped(f"{len(links)} hops on one channel")
        load = offered(row, alone_mbps(links[0], transport))
        found = relay_one_channel(links, transport, offered_mbps=load)
        yield _of(row, hops, found.total_mbps)
        yield _of(row, f"closed form, {hops}", chain_mbps(links, transport, offered_mbps=load))


def _two_channels(rows: list[Row]) -> Iterator[Prediction]:
    for row in rows:
        transport, links = _transport(row), links_of(row)
        load = offered(row, alone_mbps(links[0], transport))
        yield _of(row, "relay on two channels", relay_two_channels(links, transport, offered_mbps=load))


def _cells(rows: list[Row]) -> Iterator[Prediction]:
    first = rows[0]
    transport, links = _transport(first), links_of(first)
    loads = [offered(row, alone_mbps(link, transport)) for row, link in zip(rows, links, strict=True)]
    found = cells_sharing(links, transport, offered_mbps=loads)
    yield _of(first, "cells sharing: sum", found.total_mbps, column="total_goodput_mbps", flow="sum")
    for row, each in zip(rows, found.each_mbps, strict=True):
        yield _of(row, "cells sharing: each flow", each)
    closed = cells_mbps(links, transport, offered_mbps=loads)
    yield _of(first, "closed form, cells sharing: sum", sum(closed), column="total_goodput_mbps", flow="sum")
    for row, each in zip(rows, closed, strict=True):
        yield _of(row, "closed form, cells sharing: each flow", each)


def _clients(rows: list[Row]) -> Iterator[Prediction]:
    first = rows[0]
    transport, (link,) = _transport(first), links_of(first)
    up = first["flow_dst"] == "A"
    load = offered(first, alone_mbps(link, transport) / len(rows))
    if up and load is None and transport == "udp":
        total = uplinks_mbps(link, len(rows))
    else:
        total = many_clients(link, len(rows), transport, direction="up" if up else "down", offered_mbps=load).total_mbps
    yield _of(first, "many clients: sum", total, column="total_goodput_mbps", flow="sum")


def _partial(rows: list[Row]) -> Iterator[Prediction]:
    own, neighbour = links_of(rows[0])
    capacity = alone_mbps(neighbour, "udp")
    if rows[0]["flow_src"] == "A1":
        load = float(rows[0]["offered_mbps"])
        alone = neighbour_alone_mbps(neighbour, offered_mbps=load, capacity_mbps=capacity)
        yield _of(rows[0], "partial load: the neighbour alone", alone)
        return
    transport = _transport(rows[0])
    load = float(rows[1]["offered_mbps"]) if len(rows) > 1 else 0.0
    found = beside_neighbour(own, neighbour, transport, neighbour_offered_mbps=load)
    yield _of(rows[0], "partial load: the victim", found.own_mbps)
    if len(rows) > 1:
        yield _of(rows[1], "partial load: the neighbour", found.neighbour_mbps)
    if transport == "udp":
        closed = cells_mbps([own, neighbour], offered_mbps=[None, load])
        yield _of(rows[0], "closed form, partial load: the victim", closed[0])


def _voice(rows: list[Row]) -> Iterator[Prediction]:
    links = links_of(rows[0])
    names = words(rows[0])
    category: Category = "voice" if "VO" in names else "best_effort"
    loads = {
        "none": None,
        "tcpdl": Load("down", 1),
        "tcpul": Load("up", 1),
        "tcp2hop": Load("down", 2),
        "tcproot": Load("down", 1),
    }
    queues: dict[str, Queue] = {"def": "fair", "pfifo": "fifo", "mac64": "fair-short"}
    loaded = [word for word in names if word in loads]
    if len(loaded) != 1:
        raise NotMapped("load of the voice row not known")
    queue: Queue = next((queues[word] for word in names if word in queues), "fair")
    one_channel = len({link.band for link in links}) == 1
    kind = "voice delay alone" if loaded == ["none"] else "voice delay under load"
    for row in rows:
        if row["transport"] != "voip":
            continue
        predicted = voice_delay_ms(
            links,
            category=category,
            direction="down" if row["flow_src"] == "A" else "up",
            load=loads[loaded[0]],
            queue=queue,
            one_channel=one_channel,
        )
        wall = float(row["wall_s"])
        yield Prediction(kind, row["scenario_id"], row["flow_idx"], "ms", float(row["d_mean_ms"]), predicted, wall)


TABLES: dict[str, Callable[[list[Row]], Iterator[Prediction]]] = {
    "A": _single,
    "B": _relay,
    "C": _two_channels,
    "D": _relay,
    "E": _cells,
    "E2": _clients,
    "E2dl": _clients,
    "F": _partial,
    "G": _voice,
}
"""First word of a scenario's name: the kind of run."""


@dataclass(frozen=True, slots=True)
class Compared:
    """Predictions for all rows of a folder, scenarios without one and why, and our own seconds by class."""

    predictions: list[Prediction]
    skipped: list[tuple[str, str]]
    seconds: dict[str, float]


def compare(folder: Path) -> Compared:
    """Predict every scenario of a folder."""
    predictions: list[Prediction] = []
    skipped: list[tuple[str, str]] = []
    seconds: dict[str, float] = {}
    for scenario, rows in sorted(read(folder).items()):
        made: list[Prediction] = []
        began = time.perf_counter()
        try:
            for one in predict(rows):
                made.append(one)
                now = time.perf_counter()
                seconds[one.kind] = seconds.get(one.kind, 0.0) + now - began
                began = now
        except (NotMapped, KeyError, ValueError) as problem:
            skipped.append((scenario, f"{type(problem).__name__}: {problem}"))
            continue
        predictions += made
    return Compared(predictions, skipped, seconds)
