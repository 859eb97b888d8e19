"""Facts about what a wired uplink is made of: what carries it, how fast the file says it is, how long its cable is."""

from __future__ import annotations

from advisor.facts.book import Book
from advisor.facts.catalogue import fact
from advisor.facts.hops import no_uplink
from advisor.subjects import Subject
from advisor.trace import Fact, Given, Looked, given, unknown
from advisor.values import constant


def _carried_by(book: Book, subject: Subject, name: str, what: str) -> Fact:
    node = subject.ids[0]
    uplink = book.site.nodes[node].uplink
    key = f"{name}[{subject.key}]"
    if uplink is None:
        return no_uplink(book, node, key, "")
    return Fact(key, "", constant(uplink.over == what), Given(book.source.where(f"nodes.{node}.uplink.over")))


@fact("over_ethernet", about="hop", unit="", type="boolean", meaning="true when the hop runs over a network cable")
def over_ethernet(book: Book, subject: Subject) -> Fact:
    return _carried_by(book, subject, "over_ethernet", "ethernet")


@fact("over_powerline", about="hop", unit="", type="boolean", meaning="true when the hop runs over mains wiring")
def over_powerline(book: Book, subject: Subject) -> Fact:
    return _carried_by(book, subject, "over_powerline", "powerline")


@fact("over_coax", about="hop", unit="", type="boolean", meaning="true when the hop runs over aerial cable (coax)")
def over_coax(book: Book, subject: Subject) -> Fact:
    return _carried_by(book, subject, "over_coax", "coax")


@fact(
    "told_speed_mbps",
    about="hop",
    unit="Mb/s",
    digits=0,
    meaning="what the site file says a wired uplink carries, whatever its ports can do",
)
def told_speed_mbps(book: Book, subject: Subject) -> Fact:
    node = subject.ids[0]
    uplink = book.site.nodes[node].uplink
    key = f"told_speed_mbps[{subject.key}]"
    path = f"nodes.{node}.uplink.speed_mbps"
    if uplink is None or uplink.speed_mbps is None:
        return unknown(key, "Mb/s", f"what the hop of {node} really carries ({path})")
    return given(key, "Mb/s", uplink.speed_mbps, book.source.where(path))


@fact(
    "cable_length_told", about="hop", unit="", type="boolean", meaning="true when the file says how long the cable is"
)
def cable_length_told(book: Book, subject: Subject) -> Fact:
    uplink = book.site.nodes[subject.ids[0]].uplink
    told = uplink is not None and uplink.length_m is not None
    return Fact(f"cable_length_told[{subject.key}]", "", constant(told), Looked("the site file"))


@fact("cable_m", about="hop", unit="m", digits=0, meaning="length of the cable of a wired uplink")
def cable_m(book: Book, subject: Subject) -> Fact:
    node = subject.ids[0]
    uplink = book.site.nodes[node].uplink
    key = f"cable_m[{subject.key}]"
    path = f"nodes.{node}.uplink.length_m"
    if uplink is None or uplink.length_m is None:
        return unknown(key, "m", f"how long the cable of {node} is ({path})")
    return given(key, "m", uplink.length_m, book.source.where(path))
