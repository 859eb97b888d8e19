"""An upper bound on the score of every layout that completes a partial one.

Links are taken at their best channel and over UDP (acknowledgements may ride with data), undecided hops and
everything nobody asks for as free of charge, collisions and partly overlapping channels as harmless. What is left is
certain: cells of which every two hear each other on one channel are never on the air together, so within such a
clique the time every ask needs adds up and may not exceed the largest share other people leave any cell of it; a
wire, and the internet line, likewise. (In a clique a flow stops when the air around its own cell is full; the last
one to stop saw all of the clique's time, so that time is at most the largest free share.) An ask that is met needs
its full time, so asks beyond what fits are not met.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Mapping
from dataclasses import dataclass, field

from advisor.advice.figures import INFINITE, Figures, Flow
from advisor.advice.score import MET
from advisor.facts.book import Tuning
from advisor.facts.routes import line_node
from advisor.network.alternatives import cliques, on_one_channel
from advisor.network.contention import in_common, occupied_mhz, side
from advisor.network.graph import Hop, between

SPARED = 1.05
"""Senders that take turns may waste less than each alone would, since they wait at the same time: relays of the
simulated runs got at most 1.03 of what turns alone would give."""

Needed = dict[str, float]
"""Of each cell and wire, the share of time all clients of a flow need to get what is asked."""


@dataclass
class _Loads:
    wires: dict[str, dict[int, float]] = field(default_factory=lambda: defaultdict(dict))
    alone: list[float] = field(default_factory=list)
    """For each flow, the largest share of its ask a single link lets through."""
    ways: dict[int, list[Needed]] = field(default_factory=dict)
    """For each flow, what it needs of which cell, one for each radio its clients may join."""


def upper_bound(figures: Figures, hops: Mapping[str, Hop], tuned: Mapping[str, Tuning]) -> tuple[int, float]:
    """Most asks met and largest worst share of any layout with these hops, where `tuned` gives the channels of the
    radios decided so far (by the radio that sets the channel)."""
    groups = on_one_channel(figures.book.inventory.radios, hops)
    root_of = {radio: root for root, group in groups.items() for radio in group}
    loads = _loads(figures, hops, tuned, root_of)
    worst = min(loads.alone, default=INFINITE)
    unmet = {number for number, share in enumerate(loads.alone) if share < MET}
    beyond = 0
    for name, wire in loads.wires.items():
        free = 1.0 - figures.calls_on_line(name.removeprefix("line ")) if name.startswith("line ") else 1.0
        worst = min(worst, _share(free, wire))
        beyond = max(beyond, _too_many(wire, free, unmet))
    cells = sorted({cell for ways in loads.ways.values() for way in ways for cell in way})
    for clique in cliques(_conflicts(figures, hops, tuned, root_of, cells)):
        needed = _within(set(clique), loads.ways)
        if needed:
            free = SPARED * max(_free(figures, cell, root_of[cell], tuned) for cell in clique)
            worst = min(worst, _share(free, needed))
            beyond = max(beyond, _too_many(needed, free, unmet))
    return len(figures.flows) - len(unmet) - beyond, round(worst, 3)


def _within(clique: set[str], ways: Mapping[int, list[Needed]]) -> dict[int, float]:
    """Of each flow the time it needs in the cells of a clique at least, whichever radio its clients join."""
    least = {
        number: min(sum(need for cell, need in way.items() if cell in clique) for way in each)
        for number, each in ways.items()
    }
    return {number: need for number, need in least.items() if need > 0.0}


def _share(free: float, needed: Mapping[int, float]) -> float:
    total = sum(needed.values())
    return free / total if total > 0.0 else INFINITE


def _too_many(needed: Mapping[int, float], free: float, unmet: set[int]) -> int:
    """How many of the flows that could be met one by one cannot be met together: the neediest left out first."""
    left = sorted((need for number, need in needed.items() if number not in unmet), reverse=True)
    total, count = sum(left), 0
    while total * MET > free * (1 + 1e-9) and count < len(left):
        total -= left[count]
        count += 1
    return count


def _loads(
    figures: Figures, hops: Mapping[str, Hop], tuned: Mapping[str, Tuning], root_of: Mapping[str, str]
) -> _Loads:
    loads = _Loads()
    joined = {place: figures.joined(place, root_of, tuned) for place in figures.joins}
    for number, flow in enumerate(figures.flows):
        radios = joined[flow.place]
        shares = [_alone(figures, flow, radio, hops, tuned, root_of) for radio in radios]
        loads.alone.append(max(shares, default=0.0))
        if not flow.together or not radios:
            continue
        ways: list[Needed] = []
        for radio in radios:
            way: Needed = defaultdict(float)
            way[radio] += _need(flow, _last(figures, flow, radio, tuned, root_of, "udp"))
            for hop, direction in _way(figures, figures.book.inventory.radios[radio].node, flow, hops):
                need = _need(flow, _hop(figures, hop, direction, tuned, root_of, "udp"))
                way[str(hop.parent_radio) if hop.air else f"{hop.node} {direction}"] += need
            ways.append(way)
        for wire in {cell for way in ways for cell in way if cell not in root_of}:
            loads.wires[wire][number] = min(way.get(wire, 0.0) for way in ways)
        loads.ways[number] = [{cell: need for cell, need in way.items() if cell in root_of} for way in ways]
        if figures.book.site.places[flow.place].to == "internet":
            loads.wires[f"line {flow.direction}"][number] = _need(flow, figures.line[flow.direction])
    return loads


def _need(flow: Flow, speed_mbps: float) -> float:
    """Share of time a link that fast needs for all clients of a flow; nothing where its speed is not known."""
    return flow.clients * flow.mbps / speed_mbps if 0.0 < speed_mbps < INFINITE else 0.0


def _way(figures: Figures, node: str, flow: Flow, hops: Mapping[str, Hop]) -> list[tuple[Hop, str]]:
    """The hops decided so far between a node and where the flow goes, each with the direction it is used in."""
    to = figures.book.site.places[flow.place].to
    target = line_node(figures.book) if to == "internet" else to
    way = between(node, target, hops) if target is not None else None
    other = "up" if flow.direction == "down" else "down"
    if way is not None:
        return [(hop, flow.direction) for hop in way[0]] + [(hop, other) for hop in way[1]]
    if to != "internet" or target is None or target in hops:
        return []
    decided: list[tuple[Hop, str]] = []
    here = node
    while here in hops and len(decided) <= len(hops):
        decided.append((hops[here], flow.direction))
        here = hops[here].parent
    return decided


def _alone(
    figures: Figures,
    flow: Flow,
    radio: str,
    hops: Mapping[str, Hop],
    tuned: Mapping[str, Tuning],
    root_of: Mapping[str, str],
) -> float:
    """Largest share of its ask a flow could get through a radio with nobody else active: its slowest link."""
    free = _free(figures, radio, root_of[radio], tuned)
    speeds = [_last(figures, flow, radio, tuned, root_of) * min(SPARED * free, 1.0)]
    for hop, direction in _way(figures, figures.book.inventory.radios[radio].node, flow, hops):
        speeds.append(_hop(figures, hop, direction, tuned, root_of))
    if figures.book.site.places[flow.place].to == "internet":
        speeds.append(figures.line[flow.direction])
    return min(speeds) / flow.mbps


def _last(
    figures: Figures,
    flow: Flow,
    radio: str,
    tuned: Mapping[str, Tuning],
    root_of: Mapping[str, str],
    transport: str = "tcp",
) -> float:
    root = tuned.get(root_of[radio])
    if root is None:
        return figures.best_last_mbps(flow.place, radio, flow.direction, transport)
    return figures.last_mbps(flow.place, radio, flow.direction, figures.own(radio, root_of[radio], root), transport)


def _hop(
    figures: Figures,
    hop: Hop,
    direction: str,
    tuned: Mapping[str, Tuning],
    root_of: Mapping[str, str],
    transport: str = "tcp",
) -> float:
    name = str(hop.parent_radio)
    root = tuned.get(root_of[name]) if hop.air else None
    if root is None:
        return figures.best_hop_mbps(hop, direction, transport)
    return figures.hop_mbps(hop, direction, figures.own(name, root_of[name], root), transport)


def _free(figures: Figures, cell: str, root: str, tuned: Mapping[str, Tuning]) -> float:
    if root not in tuned:
        return figures.best_free(cell)
    return figures.free(cell, figures.own(cell, root, tuned[root]))


def _conflicts(
    figures: Figures,
    hops: Mapping[str, Hop],
    tuned: Mapping[str, Tuning],
    root_of: Mapping[str, str],
    names: list[str],
) -> dict[str, list[str]]:
    """Of the cells that need time, those of which it is certain that they are never on the air together."""
    members = {cell: [cell] for cell in names}
    for hop in hops.values():
        if hop.air and hop.parent_radio in members:
            members[hop.parent_radio].append(str(hop.radio))
    found: dict[str, list[str]] = {name: [] for name in names}
    for index, cell in enumerate(names):
        for other in names[index + 1 :]:
            if _one_channel(figures, cell, other, tuned, root_of) and any(
                _hears(figures, min(one, two), max(one, two), tuned, root_of)
                for one in members[cell]
                for two in members[other]
            ):
                found[cell].append(other)
    return found


def _hears(figures: Figures, first: str, second: str, tuned: Mapping[str, Tuning], root_of: Mapping[str, str]) -> bool:
    """Whether two radios hear each other on the channels decided, or on every one they may share."""
    radios = figures.book.inventory.radios
    if radios[first].node == radios[second].node:
        return True
    roots = root_of[first], root_of[second]
    if roots[0] not in tuned or roots[1] not in tuned:
        return figures.surely_hears(first, second)
    own = [figures.own(name, root, tuned[root]) for name, root in zip((first, second), roots, strict=True)]
    return figures.hears_on(first, own[0], second, own[1])


def _one_channel(
    figures: Figures, cell: str, other: str, tuned: Mapping[str, Tuning], root_of: Mapping[str, str]
) -> bool:
    """Whether two cells surely share a channel wholly: joined by uplinks, or tuned so."""
    radios = figures.book.inventory.radios
    if radios[cell].band != radios[other].band:
        return False
    roots = root_of[cell], root_of[other]
    if roots[0] == roots[1]:
        choices = [tuned[roots[0]]] if roots[0] in tuned else figures.tunings[roots[0]]
        return all(tuning.channel is not None for tuning in choices)
    spans = []
    for name, root in zip((cell, other), roots, strict=True):
        if root not in tuned or tuned[root].channel is None:
            return False
        own = figures.own(name, root, tuned[root])
        channel = int(tuned[root].channel or 0)
        spans.append(occupied_mhz(radios[name].band, channel, own.width_mhz, side(tuned[root].secondary, channel)))
    return in_common(*spans) >= 1.0
