"""The whole way from a node up to the internet line, its hops alone, and the best other way a fixed air uplink could
take.

Another parent is judged with the levels and rates of the pair as for any hop; the node's radio is taken to follow that
parent's channel, as uplink radios do.
"""

from __future__ import annotations

from collections.abc import Callable, Collection, Mapping, Sequence
from dataclasses import dataclass
from functools import reduce
from math import inf
from typing import Any

import numpy as np

from advisor.facts import hearing, links, routes
from advisor.facts.book import Book
from advisor.facts.catalogue import fact
from advisor.facts.hops import less_busy, no_uplink, per_option
from advisor.facts.reach import HEARING_DBM, best_case_dbm
from advisor.network.contention import channel_overlap
from advisor.network.graph import Hop, below, chain
from advisor.subjects import Subject
from advisor.trace import Fact, Looked, derive, formula, unknown
from advisor.values import Known, Options, Unknown, Value, constant

BOTH_WAYS = {"dir": ("down", "up")}
MOST_TRIED = 12
"""Other ways computed for one uplink, those with the fastest rest of the way first."""
NO_COMPARISON = 99.0
"""Stands for 'many times' where the present way gives nothing."""


def over_ways(
    book: Book,
    key: str,
    unit: str,
    compute: Callable[[Mapping[str, Hop]], Fact],
    among: Collection[str] | None = None,
) -> Fact:
    """The answer for the uplinks as this book reads them; where an uplink left to the equipment (of the nodes `among`,
    else of any) changes it, an answer for each of its ways."""
    found = compute(book.hops)
    for node, ways in sorted(book.options.items()):
        if node in book.fixed or len(ways) < 2 or (among is not None and node not in among):
            continue
        each = {f"{node} {hop.option}": compute({**book.hops, node: hop}) for hop in ways}
        answers = {name: entry.value for name, entry in each.items() if isinstance(entry.value, (Known, Unknown))}
        if len({_told(value) for value in answers.values()}) > 1:
            how = Looked(f"the uplink of {node} is left to the equipment")
            return Fact(key, unit, Options(answers), how, tuple(each.values()))
    return found._replace(key=key)


def _told(value: Value) -> tuple[Any, ...]:
    if isinstance(value, Known):
        return value.centre, value.low, value.high
    return value.missing if isinstance(value, Unknown) else ()


@formula(
    id="ways.turns_mbps",
    unit="Mb/s",
    expr="1 / sum over the hops of 1/goodput",
    source="hops of a chain in one another's hearing take turns, so the times they need for a bit add up "
    "(Li, Blake, De Couto, Lee, Morris, MobiCom 2001: chains in one collision domain)",
)
def turns_mbps(**hops_mbps: Any) -> Any:
    """What hops on one channel pass on together: each bit takes its time on every one of them, one after the other."""
    with np.errstate(divide="ignore"):
        time: Any = sum(1.0 / np.asarray(mbps, dtype=float) for mbps in hops_mbps.values())
        return (1.0 / time)[()]


@formula(
    id="ways.chain_mbps",
    unit="Mb/s",
    expr="min over the stages; air hops whose channels overlap are one stage (1 / sum of 1/goodput), a wire is its own",
    source="hops on one channel take turns (Li et al., MobiCom 2001); stages that can work at the same time pass on "
    "what the slowest of them does: arithmetic",
)
def chain_mbps(**stages_mbps: Any) -> Any:
    """What gets through a chain of hops with nobody else active.

    Every hop of the chain is taken to hear every other on its channel, which is so up to three or four hops; beyond
    that the true figure is higher. Collisions among the hops are left out: they take the same from all ways compared.
    """
    return reduce(np.minimum, stages_mbps.values())


def at_line(book: Book, node: str) -> bool:
    """Whether the internet line ends at this node."""
    return book.site.nodes[node].role == "gateway" or node == routes.line_node(book)


def way_up(book: Book, node: str, hops: Mapping[str, Hop]) -> list[Hop] | None:
    """The hops from a node to the internet line; None where the way ends elsewhere."""
    way = chain(node, hops)
    return way if at_line(book, way[-1].parent if way else node) else None


def _stranded(book: Book, node: str, hops: Mapping[str, Hop]) -> str:
    way = chain(node, hops)
    end = way[-1].parent if way else node
    return f"how {end} reaches the rest of the site (nodes.{end}.uplink)"


def hop_mbps(book: Book, hop: Hop, direction: str) -> Fact:
    """What a hop carries alone, whether it is there or only thought of: neighbours' share of the air taken off."""
    raw = routes.hop_goodput(book, hop, direction, "tcp")
    if not hop.air:
        return raw
    busy = hearing.busy_fact(book, str(hop.parent_radio), hop.node)
    key = f"hop_mbps[node={hop.node}, {hop.option}, dir={direction}]"
    return derive(key, less_busy, goodput_mbps=raw, busy_share=busy)


def chain_fact(book: Book, way: Sequence[Hop], direction: str, key: str) -> Fact:
    """What gets through a chain of hops, with each stage as an input."""
    carried = [hop_mbps(book, hop, direction) for hop in way]
    stages: dict[str, Fact] = {}
    for hop in way:
        together = [number for number, other in enumerate(way) if _take_turns(book, hop, other)]
        name = " + ".join(way[number].node for number in together)
        if name not in stages:
            parts = {way[number].node: carried[number] for number in together}
            alone = carried[together[0]]
            stages[name] = alone if len(together) == 1 else derive(f"turns_mbps[hops={name}]", turns_mbps, **parts)
    return derive(key, chain_mbps, **stages)


def _take_turns(book: Book, hop: Hop, other: Hop) -> bool:
    if hop == other or not (hop.air and other.air):
        return hop == other
    mine, theirs = (book.radios[str(entry.parent_radio)] for entry in (hop, other))
    return mine.name == theirs.name or channel_overlap(mine, theirs) > 0.0


def _chain(book: Book, node: str, hops: Mapping[str, Hop], direction: str, key: str) -> Fact:
    way = way_up(book, node, hops)
    if way is None:
        return unknown(key, "Mb/s", _stranded(book, node, hops))
    return chain_fact(book, way, direction, key)


@fact(
    "chain_mbps",
    about="hop",
    unit="Mb/s",
    digits=1,
    variants=BOTH_WAYS,
    meaning="what gets through all hops from the node up to the internet line with nobody else active; the line itself "
    "does not count",
)
def chain_of_node(book: Book, subject: Subject, dir: str) -> Fact:
    node = subject.ids[0]
    key = f"chain_mbps[{subject.key}, dir={dir}]"
    if node not in book.hops:
        return no_uplink(book, node, key, "Mb/s")
    on_way = {hop.node for hop in chain(node, book.hops)}
    return over_ways(book, key, "Mb/s", lambda hops: _chain(book, node, hops, dir, key), on_way)


@dataclass(frozen=True)
class OtherWays:
    """What else a node's uplink could do."""

    present: Fact
    best: tuple[Hop, Fact] | None
    """The fastest other way computed, with what gets through it; None where no other could be faster."""
    unseen: tuple[str, ...]
    """What is missing to judge further ways that could be faster."""


def other_ways(book: Book, node: str) -> OtherWays:
    return book.once(("other_ways", node), lambda: _other_ways(book, node))


def _centre(entry: Fact) -> float:
    return float(entry.value.centre) if isinstance(entry.value, Known) else 0.0


def _other_ways(book: Book, node: str) -> OtherWays:
    """Try the parents with the fastest rest of the way first; a way is never faster than its rest, so stop there."""
    present = _chain(book, node, book.hops, "down", f"chain_mbps[hop={node}, dir=down]")
    best: tuple[Hop, Fact] | None = None
    unseen: list[str] = []
    tried = 0
    for rest_mbps, hop in _candidates(book, node):
        fastest = max(_centre(present), _centre(best[1]) if best else 0.0)
        if rest_mbps <= fastest or tried >= MOST_TRIED:
            break
        link = links.to_radio(str(hop.radio), str(hop.parent_radio))
        reach = best_case_dbm(book, link)
        if reach == inf:
            unseen += links.distance_m(book, link).value.missing  # type: ignore[union-attr]
            continue
        if reach < HEARING_DBM:
            continue
        tried += 1
        way = [hop, *(way_up(book, hop.parent, book.hops) or [])]
        found = chain_fact(book, way, "down", f"chain_mbps[hop={node}, {hop.option}, dir=down]")
        if found.known and _centre(found) > fastest:
            best = hop, found
    return OtherWays(present, best, tuple(dict.fromkeys(unseen)))


def _candidates(book: Book, node: str) -> list[tuple[float, Hop]]:
    """Every other way with what the rest of it carries, the fastest first: any node that is not below this one and
    reaches the line, on every band both have. The present parent on another band is one too."""
    under = below(node, book.hops)
    found = []
    for parent in sorted(book.site.nodes):
        if parent in under or way_up(book, parent, book.hops) is None:
            continue
        rest = _rest_mbps(book, parent)
        for lower in book.inventory.radios_of(node):
            for upper in book.inventory.radios_of(parent, lower.band):
                hop = Hop(node, parent, "radio", lower.name, upper.name, lower.band)
                if hop != book.hops.get(node):
                    found.append((rest, hop))
    return sorted(found, key=lambda entry: (-round(entry[0], 6), entry[1].option, str(entry[1].radio)))


def _rest_mbps(book: Book, parent: str) -> float:
    """What gets through from a possible parent up to the line, at the centre."""
    if at_line(book, parent):
        return inf
    return book.once(("rest_mbps", parent), lambda: _centre(_chain(book, parent, book.hops, "down", f"rest[{parent}]")))


@fact(
    "best_other_way",
    about="hop",
    unit="",
    type="class",
    meaning="the fastest other way the uplink could run, over the air, in words; none where no other could be faster",
)
def best_other_way(book: Book, subject: Subject) -> Fact:
    node = subject.ids[0]
    key = f"best_other_way[{subject.key}]"
    if node not in book.hops:
        return no_uplink(book, node, key, "")
    best = other_ways(book, node).best
    if best is None:
        return Fact(key, "", constant("none"), Looked("no other node within reach gets more through"))
    return Fact(key, "", constant(best[0].option), Looked("other parents and bands compared"), (best[1],))


@fact(
    "best_other_mbps",
    about="hop",
    unit="Mb/s",
    digits=1,
    meaning="what would get through the fastest other way up to the internet line; 0 where no other could be faster",
)
def best_other_mbps(book: Book, subject: Subject) -> Fact:
    node = subject.ids[0]
    key = f"best_other_mbps[{subject.key}]"
    if node not in book.hops:
        return no_uplink(book, node, key, "Mb/s")
    best = other_ways(book, node).best
    if best is None:
        return Fact(key, "Mb/s", constant(0.0), Looked("no other node within reach gets more through"))
    return best[1]._replace(key=key)


@formula(
    id="ways.gain", unit="", expr="other way / present way, each at its typical figure", source="comparison of the ways"
)
def gain_of(*, other_mbps: float, present_mbps: float) -> float:
    return other_mbps / present_mbps if present_mbps > 0 else NO_COMPARISON


@fact(
    "way_gain",
    about="hop",
    unit="",
    digits=2,
    meaning="what the fastest other way up to the internet line would give over what gets through now, at typical "
    "figures (1: no other is faster)",
)
def way_gain(book: Book, subject: Subject) -> Fact:
    node = subject.ids[0]
    key = f"way_gain[{subject.key}]"
    if node not in book.hops:
        return no_uplink(book, node, key, "")
    ways = other_ways(book, node)
    if not ways.present.known:
        return unknown(key, "", *ways.present.value.missing)  # type: ignore[union-attr]
    if ways.best is None:
        return Fact(key, "", constant(1.0), Looked("no other node within reach gets more through"), (ways.present,))
    gain = gain_of(other_mbps=_centre(ways.best[1]), present_mbps=_centre(ways.present))
    how = Looked(f"{ways.best[0].option} compared with how it runs now, typical figures")
    return Fact(key, "", constant(gain), how, (ways.best[1], ways.present))


@fact(
    "unseen_way_gain",
    about="hop",
    unit="",
    digits=2,
    meaning="the same for nodes nobody can tell the distance of: 1 where there are none that could be faster, else not "
    "known",
)
def unseen_way_gain(book: Book, subject: Subject) -> Fact:
    node = subject.ids[0]
    key = f"unseen_way_gain[{subject.key}]"
    if node not in book.hops:
        return no_uplink(book, node, key, "")
    unseen = other_ways(book, node).unseen
    if unseen:
        return unknown(key, "", *unseen)
    return Fact(key, "", constant(1.0), Looked("the distance to every node that could be faster is known"))


@fact("nodes_behind", about="hop", unit="", digits=0, meaning="nodes whose way leads over this hop, the node included")
def nodes_behind(book: Book, subject: Subject) -> Fact:
    node = subject.ids[0]
    key = f"nodes_behind[{subject.key}]"

    def count(hops: Mapping[str, Hop]) -> Fact:
        nodes = sorted(below(node, hops))
        return Fact(key, "", constant(float(len(nodes))), Looked("nodes: " + ", ".join(nodes)))

    return over_ways(book, key, "", count)


@fact(
    "on_radar_channel",
    about="hop",
    unit="",
    type="boolean",
    meaning="true where an air uplink runs on a channel on which radar must be watched for",
)
def on_radar_channel(book: Book, subject: Subject) -> Fact:
    key = f"on_radar_channel[{subject.key}]"

    def of(hop: Hop) -> Fact:
        if not hop.air:
            return Fact(key, "", constant(False), Looked("the hop is a wire"))
        found: Fact = book.get("watches_for_radar", Subject("radio", (str(hop.parent_radio),)))
        return found

    return per_option(book, subject, key, "", of)
