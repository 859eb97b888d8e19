"""Facts about hops: the uplink of each node, alone and while it serves."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from typing import Any

import numpy as np

from advisor.facts import everyone, hearing, joins, links, rates, receiving, routes
from advisor.facts.alone import limits_together
from advisor.facts.book import Book
from advisor.facts.catalogue import fact
from advisor.network.graph import Hop, below, chain
from advisor.subjects import Subject
from advisor.trace import Fact, Given, Looked, Solved, derive, formula, unknown
from advisor.values import CENTRE, Known, Options, Unknown, constant, from_cases

BOTH_WAYS = {"dir": ("down", "up")}
WITH_TRANSPORT = {"dir": ("down", "up"), "transport": ("tcp", "udp")}


def no_uplink(book: Book, node: str, key: str, unit: str) -> Fact:
    if not ends_can_meet(book, node):
        return unknown(key, unit, f"a band and channel that both ends of the uplink of {node} have")
    if node in book.options:
        return unknown(key, unit, f"a parent within reach of {node} (nodes.{node}: position or paths)")
    return unknown(key, unit, f"how {node} reaches the rest of the site (nodes.{node}.uplink)")


def per_option(book: Book, subject: Subject, key: str, unit: str, compute: Callable[[Hop], Fact]) -> Fact:
    """The answer for the node's hop; for an uplink left to the equipment one answer for each way it may run."""
    node = subject.ids[0]
    hop = book.hops.get(node)
    if hop is None:
        return no_uplink(book, node, key, unit)
    choices = book.options.get(node, []) if node not in book.fixed else []
    if len(choices) < 2:
        return compute(hop)._replace(key=key)
    found = {choice.option: compute(choice) for choice in choices}
    answers: dict[str, Known | Unknown] = {
        name: entry.value for name, entry in found.items() if isinstance(entry.value, (Known, Unknown))
    }
    how = Looked(f"the uplink of {node} is left to the equipment")
    return Fact(key, unit, Options(answers), how, tuple(found.values()))


def _link(hop: Hop) -> links.Link:
    return links.to_radio(str(hop.radio), str(hop.parent_radio))


def _air_only(book: Book, subject: Subject, key: str, unit: str, compute: Callable[[links.Link], Fact]) -> Fact:
    def of(hop: Hop) -> Fact:
        if not hop.air:
            return unknown(key, unit, f"nothing: the hop of {hop.node} is a wire")
        return compute(_link(hop))

    return per_option(book, subject, key, unit, of)


def ends_can_meet(book: Book, node: str) -> bool:
    """False where a fixed air uplink joins two nodes that have no band, or no channel of it, in common."""
    uplink = book.site.nodes[node].uplink
    if uplink is None or uplink.over != "radio" or uplink.to is None:
        return True
    return node in book.hops or node in book.options


@fact(
    "ends_can_meet",
    about="hop",
    unit="",
    type="boolean",
    meaning="false when the two ends of an air uplink have no band or no channel in common",
)
def ends_can_meet_fact(book: Book, subject: Subject) -> Fact:
    node = subject.ids[0]
    uplink = book.site.nodes[node].uplink
    ends = (node, uplink.to if uplink else None)
    radios = [radio for radio in book.inventory.radios.values() if radio.node in ends]
    how = "; ".join(f"{radio.name}: {radio.band} GHz, channel {radio.channel or 'auto'}" for radio in radios)
    wanted = f"; the uplink is to use {uplink.band} GHz" if uplink and uplink.band else ""
    return Fact(f"ends_can_meet[{subject.key}]", "", constant(ends_can_meet(book, node)), Looked(how + wanted))


@fact("radios_of_both_ends", about="hop", unit="", type="class", meaning="bands and channels of both ends, in words")
def radios_of_both_ends(book: Book, subject: Subject) -> Fact:
    how = ends_can_meet_fact(book, subject)
    answer = how.by.how if isinstance(how.by, Looked) else ""
    return Fact(f"radios_of_both_ends[{subject.key}]", "", constant(answer), Looked("the site file"))


@fact("over_air", about="hop", unit="", type="boolean", meaning="true when the hop runs over the air")
def over_air(book: Book, subject: Subject) -> Fact:
    node = subject.ids[0]
    uplink = book.site.nodes[node].uplink
    key = f"over_air[{subject.key}]"
    if uplink is None:
        return no_uplink(book, node, key, "")
    return Fact(key, "", constant(uplink.over == "radio"), Given(book.source.where(f"nodes.{node}.uplink.over")))


@fact(
    "level_dbm",
    about="hop",
    unit="dBm",
    digits=0,
    variants=BOTH_WAYS,
    meaning="level received: at the node for down, at its parent for up",
)
def level_dbm(book: Book, subject: Subject, dir: str) -> Fact:
    key = f"level_dbm[{subject.key}, dir={dir}]"
    return _air_only(book, subject, key, "dBm", lambda link: links.level_dbm(book, link, dir))


@fact(
    "margin_db",
    about="hop",
    unit="dB",
    digits=0,
    variants=BOTH_WAYS,
    meaning="how far the level lies above what the slowest rate needs",
)
def margin_db(book: Book, subject: Subject, dir: str) -> Fact:
    key = f"margin_db[{subject.key}, dir={dir}]"
    return _air_only(book, subject, key, "dB", lambda link: receiving.margin_db(book, link, dir))


@fact("distance_m", about="hop", unit="m", meaning="straight distance to the parent")
def distance_m(book: Book, subject: Subject) -> Fact:
    return _air_only(book, subject, f"distance_m[{subject.key}]", "m", lambda link: links.distance_m(book, link))


@fact("path_loss_db", about="hop", unit="dB", digits=0, meaning="loss from antenna to antenna without shadowing")
def path_loss_db(book: Book, subject: Subject) -> Fact:
    return _air_only(book, subject, f"path_loss_db[{subject.key}]", "dB", lambda link: links.path_loss_db(book, link))


@fact("phy_rate_mbps", about="hop", unit="Mb/s", digits=0, variants=BOTH_WAYS, meaning="rate on the air")
def phy_rate_mbps(book: Book, subject: Subject, dir: str) -> Fact:
    key = f"phy_rate_mbps[{subject.key}, dir={dir}]"
    return _air_only(book, subject, key, "Mb/s", lambda link: rates.phy_rate_mbps(book, link, dir))


@fact(
    "goodput_mbps",
    about="hop",
    unit="Mb/s",
    digits=1,
    variants=WITH_TRANSPORT,
    meaning="what the hop carries alone: nobody served meanwhile, neighbours' share of the air taken off",
)
def goodput_mbps(book: Book, subject: Subject, dir: str, transport: str) -> Fact:
    key = f"goodput_mbps[{subject.key}, dir={dir}, transport={transport}]"

    def of(hop: Hop) -> Fact:
        raw = routes.hop_goodput(book, hop, dir, transport)
        if not hop.air:
            return raw
        busy = hearing.busy_fact(book, str(hop.parent_radio))
        return derive(key, less_busy, goodput_mbps=raw, busy_share=busy)

    return per_option(book, subject, key, "Mb/s", of)


@formula(
    id="hops.less_busy_mbps",
    unit="Mb/s",
    expr="goodput × (1 - busy share)",
    source="time taken by others is lost to the hop; common practice, no source",
)
def less_busy(*, goodput_mbps: Any, busy_share: Any) -> Any:
    return goodput_mbps * (1.0 - busy_share)


@fact(
    "shares_radio",
    about="hop",
    unit="",
    type="boolean",
    meaning="true when the node serves clients or child nodes on the channel it receives on",
)
def shares_radio(book: Book, subject: Subject) -> Fact:
    key = f"shares_radio[{subject.key}]"

    def of(hop: Hop) -> Fact:
        if not hop.air:
            return Fact(key, "", constant(False), Looked("the hop is a wire"))
        mine = book.radios[str(hop.radio)]
        cell = book.cells[mine.name]
        same = [
            unit.name
            for unit in [r for r in book.radios.values() if r.node == hop.node and r.band == mine.band]
            if (unit.serves_clients or len(cell.members) > 1) and routes.channel_known_apart(mine, unit) is False
        ]
        how = "serving on the uplink's channel: " + (", ".join(same) or "none")
        return Fact(key, "", constant(bool(same)), Looked(how))

    return per_option(book, subject, key, "", of)


@fact(
    "serving_mbps",
    about="hop",
    unit="Mb/s",
    digits=1,
    variants=BOTH_WAYS,
    meaning="what gets through the hop to the places behind it while air shared with them is taken into account, "
    "nobody else active",
)
def serving_mbps(book: Book, subject: Subject, dir: str) -> Fact:
    key = f"serving_mbps[{subject.key}, dir={dir}]"
    node = subject.ids[0]
    if node not in book.hops:
        return no_uplink(book, node, key, "Mb/s")
    if node in book.options and node not in book.fixed and len(book.options[node]) > 1:
        found = {name: other.get("serving_mbps", subject, dir=dir) for name, other in book.variants(node).items()}
        answers = {name: entry.value for name, entry in found.items() if isinstance(entry.value, (Known, Unknown))}
        return Fact(
            key,
            "Mb/s",
            Options(answers),
            Looked(f"the uplink of {node} is left to the equipment"),
            tuple(found.values()),
        )
    return _serving(book, key, node, dir)


def places_served(book: Book, node: str) -> list[str]:
    """Places whose client joins the node or one below it, at the centre, and which are active."""
    nodes = below(node, book.hops)
    found = []
    for place in sorted(book.site.places):
        joined = joins.joined_subject(book, place)
        if joined is not None and book.radios[joined.ids[1]].node in nodes and everyone.active(book, place):
            found.append(place)
    return found


def _serving(book: Book, key: str, node: str, direction: str) -> Fact:
    """Scale the demands of the places behind the hop together until something on their routes is full."""
    places = [place for place in places_served(book, node) if not everyone.missing_inputs(book, place, direction)]
    if not places:
        return unknown(key, "Mb/s", f"a place served behind {node}")
    inputs: list[Fact] = [everyone.demand(book, place, direction) for place in places]
    ways = []
    for place in places:
        joined = joins.joined_subject(book, place)
        assert joined is not None
        way = routes.route(book, joined.ids[0], joined.ids[1], direction)
        inputs += [leg.goodput for leg in way.legs if leg.what.kind == "hop" and leg.what.ids[0] == node]
        asked = float(everyone.demand(book, place, direction).raw)
        ways.append((replace(way, line=None), direction, everyone.active(book, place), asked))
    resources, limits = limits_together(book, ways)
    result = limits.min(axis=0)
    number = min(range(len(resources)), key=lambda index: (float(limits[index, CENTRE]), resources[index]))
    binding = resources[number]
    by = Solved("the demands behind the hop scaled together until something on their routes is full", (binding,))
    return Fact(key, "Mb/s", from_cases(result, joint=True), by, tuple(dict.fromkeys(inputs)))


@fact(
    "binds_serving",
    about="hop",
    unit="",
    type="class",
    variants=BOTH_WAYS,
    meaning="what holds back the places behind the hop: this hop, one further up or down, or a place's last link",
)
def binds_serving(book: Book, subject: Subject, dir: str) -> Fact:
    key = f"binds_serving[{subject.key}, dir={dir}]"
    node = subject.ids[0]
    if node not in book.hops:
        return no_uplink(book, node, key, "")
    served = _serving(book, key, node, dir)
    if not isinstance(served.by, Solved):
        return served._replace(unit="")
    full = served.by.binding[0]
    time: dict[Subject, float] = {}
    for place in places_served(book, node):
        joined = joins.joined_subject(book, place)
        if joined is None or everyone.missing_inputs(book, place, dir):
            continue
        amount = everyone.active(book, place) * float(everyone.demand(book, place, dir).raw)
        for leg in routes.route(book, joined.ids[0], joined.ids[1], dir).legs:
            if leg.cell is None:
                takes = f"{leg.what.key},dir={leg.direction}" == full
            else:
                takes = full in {f"domain={cell}" for cell in routes.column_shares(book, leg.cell)}
            if takes:
                goodput = max(float(np.ravel(leg.goodput.raw)[CENTRE]), 1e-6)
                time[leg.what] = time.get(leg.what, 0.0) + amount / goodput
    heaviest = min(time, key=lambda what: (-round(time[what], 9), what.kind != "hop", what.key))
    named = heaviest.key if heaviest.kind == "hop" else f"place={heaviest.ids[0]}"
    how = Looked(f"of what is full ({full}), the link that takes most of its time")
    return Fact(key, "", constant(named), how, (served,))


@fact(
    "demand_mbps",
    about="hop",
    unit="Mb/s",
    digits=1,
    variants=BOTH_WAYS,
    meaning="sum of what the active clients behind the hop ask for",
)
def demand_mbps(book: Book, subject: Subject, dir: str) -> Fact:
    key = f"demand_mbps[{subject.key}, dir={dir}]"
    places = places_served(book, subject.ids[0])
    wanted = [everyone.demand(book, place, dir) for place in places]
    total = sum(everyone.active(book, place) * float(entry.raw) for place, entry in zip(places, wanted, strict=True))
    how = Looked("places behind it: " + (", ".join(places) or "none"))
    return Fact(key, "Mb/s", constant(float(total)), how, tuple(wanted))


@fact("places_behind", about="hop", unit="", digits=0, meaning="places whose traffic passes the hop")
def places_behind(book: Book, subject: Subject) -> Fact:
    places = places_served(book, subject.ids[0])
    how = Looked("places: " + (", ".join(places) or "none"))
    return Fact(f"places_behind[{subject.key}]", "", constant(float(len(places))), how)


@fact(
    "air_hops",
    about="hop",
    unit="",
    digits=0,
    meaning="air hops from the node up to the internet line, this one included",
)
def air_hops(book: Book, subject: Subject) -> Fact:
    node = subject.ids[0]
    key = f"air_hops[{subject.key}]"
    if node not in book.hops:
        return no_uplink(book, node, key, "")
    way = chain(node, book.hops)
    how = Looked(" → ".join([node, *(hop.parent for hop in way)]))
    return Fact(key, "", constant(float(sum(1 for hop in way if hop.air))), how)


@fact(
    "options",
    about="hop",
    unit="",
    digits=0,
    meaning="ways the uplink may run when it is left to the equipment (1: fixed)",
)
def options(book: Book, subject: Subject) -> Fact:
    node = subject.ids[0]
    key = f"options[{subject.key}]"
    if node not in book.hops:
        return no_uplink(book, node, key, "")
    names = [hop.option for hop in book.options.get(node, [])]
    return Fact(key, "", constant(float(max(len(names), 1))), Looked("; ".join(names) or "fixed"))


@formula(id="hops.options_ratio", unit="", expr="best option / worst option", source="comparison of the options")
def ratio(*, best: float, worst: float) -> float:
    return best / worst if worst > 0 else 99.0


@fact(
    "options_ratio", about="hop", unit="", digits=1, meaning="best over worst goodput among the ways the uplink may run"
)
def options_ratio(book: Book, subject: Subject) -> Fact:
    key = f"options_ratio[{subject.key}]"
    if subject.ids[0] not in book.hops:
        return no_uplink(book, subject.ids[0], key, "")
    alone = book.get("serving_mbps", subject)
    if not isinstance(alone.value, Options):
        alone = book.get("goodput_mbps", subject)
    if not isinstance(alone.value, Options):
        return Fact(key, "", constant(1.0), Looked("the uplink is fixed"))
    centres = [float(answer.centre) for answer in alone.value.answers.values() if isinstance(answer, Known)]
    if not centres:
        return unknown(key, "", "the goodput of the options")
    return Fact(key, "", constant(ratio(best=max(centres), worst=min(centres))), Looked("options compared"), (alone,))
