"""Facts about hops over a wire: what the wire gives, and what could be used behind it."""

from __future__ import annotations

from typing import Any

import numpy as np

from advisor.facts import joins, links, rates, routes
from advisor.facts.book import Book
from advisor.facts.catalogue import fact
from advisor.facts.hops import no_uplink, places_served
from advisor.subjects import Subject
from advisor.trace import Fact, derive, formula, unknown


@fact(
    "wire_mbps", about="hop", unit="Mb/s", digits=0, meaning="link speed of a wired hop (the slower of cable and ports)"
)
def wire_mbps(book: Book, subject: Subject) -> Fact:
    hop = book.hops.get(subject.ids[0])
    key = f"wire_mbps[{subject.key}]"
    if hop is None:
        return no_uplink(book, subject.ids[0], key, "Mb/s")
    if hop.air:
        return unknown(key, "Mb/s", f"nothing: the hop of {hop.node} runs over the air")
    return rates.wire_speed(book, hop.node, hop.parent)._replace(key=key)


@fact(
    "beyond_wire_mbps",
    about="hop",
    unit="Mb/s",
    digits=0,
    meaning="what could be used behind a wired hop: the smaller of the internet line and the fastest client link there",
)
def beyond_wire(book: Book, subject: Subject) -> Fact:
    node = subject.ids[0]
    key = f"beyond_wire_mbps[{subject.key}]"
    line = routes.line_mbps(book, "down")
    if not line.known:
        return unknown(key, "Mb/s", *line.value.missing)  # type: ignore[union-attr]
    reach: list[Fact] = []
    for place in places_served(book, node):
        joined = joins.joined_subject(book, place)
        if joined is not None:
            reach.append(rates.goodput_mbps(book, links.to_place(joined.ids[0], joined.ids[1]), "down", "tcp"))
    known = [entry for entry in reach if entry.known]
    if not known:
        return unknown(key, "Mb/s", f"a place served behind {node}")
    best = max(known, key=lambda entry: float(entry.value.centre))  # type: ignore[union-attr]
    return derive(key, less_of, line_mbps=line, link_mbps=best)


@formula(
    id="hops.less_of_mbps", unit="Mb/s", expr="min(internet line, fastest client link)", source="the smaller limits"
)
def less_of(*, line_mbps: Any, link_mbps: Any) -> Any:
    return np.minimum(line_mbps, link_mbps)
