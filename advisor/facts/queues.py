"""Facts about waiting: the queue on the internet line, how much longer packets take under load, the class of calls."""

from __future__ import annotations

from typing import Any

from advisor.data import catalogue
from advisor.facts.book import Book
from advisor.facts.catalogue import fact
from advisor.facts.equipment import setting
from advisor.facts.places import load_on_route, over_options
from advisor.facts.routes import line_node
from advisor.subjects import Subject
from advisor.trace import Assumed, Fact, Given, Looked, derive, formula, given, unknown
from advisor.values import constant

SPOKEN = ("voice", "video-call")


@fact(
    "calls_made",
    about="site",
    unit="",
    type="boolean",
    meaning="true where calls are made at a place or on a walk, or a need asks for them",
)
def calls_made(book: Book, subject: Subject) -> Fact:
    site = book.site
    found = [f"places.{name}" for name, place in sorted(site.places.items()) if place.calls]
    found += [f"walks.{name}" for name, walk in sorted(site.walks.items()) if walk.traffic in SPOKEN]
    found += [f"needs.{name}" for name, need in sorted(site.needs.items()) if need.calls]
    return Fact("calls_made", "", constant(bool(found)), Looked("calls: " + (", ".join(found) or "none")))


@fact(
    "fair_queue",
    about="site",
    unit="",
    type="boolean",
    meaning="true where small flows do not wait behind large ones on the internet line",
)
def fair_queue(book: Book, subject: Subject) -> Fact:
    declared = book.site.internet.queue
    if declared is not None:
        return given("fair_queue", "", declared == "fair", book.source.where("internet.queue"))
    node = line_node(book)
    if node is None:
        return unknown("fair_queue", "", "the queue on the internet line (internet.queue)")
    usual = setting("queue", "", book.inventory.gear_setting(node, None, "internet.queue", "queue"))
    return Fact("fair_queue", "", constant(usual.raw == "fair"), usual.by)


@fact(
    "loaded_delay_told",
    about="site",
    unit="",
    type="boolean",
    meaning="true where the file gives the round trip under full load",
)
def loaded_delay_told(book: Book, subject: Subject) -> Fact:
    return Fact(
        "loaded_delay_told", "", constant(book.site.internet.loaded_delay_ms is not None), Looked("the site file")
    )


@formula(
    id="queues.delay_rise_ms",
    unit="ms",
    expr="round trip under full load - round trip unloaded",
    source="what is added is time spent in queues (RFC 6349, RFC 8290)",
)
def delay_rise(*, loaded_ms: Any, unloaded_ms: Any) -> Any:
    return loaded_ms - unloaded_ms


@fact(
    "delay_rise_ms",
    about="site",
    unit="ms",
    digits=0,
    meaning="how much longer a round trip over the internet line takes when the line is full",
)
def delay_rise_ms(book: Book, subject: Subject) -> Fact:
    internet = book.site.internet
    if internet.loaded_delay_ms is None:
        what = "the round trip under full load (internet.loaded_delay_ms)"
        return unknown("delay_rise_ms", "ms", what)
    loaded = given("loaded_delay_ms", "ms", internet.loaded_delay_ms, book.source.where("internet.loaded_delay_ms"))
    unloaded = given("delay_ms", "ms", internet.delay_ms, book.source.where("internet.delay_ms"))
    if "delay_ms" not in internet.model_fields_set:
        told = f"an unloaded round trip of {internet.delay_ms:g} ms"
        unloaded = unloaded._replace(by=Assumed(told, "common practice, no source"))
    return derive("delay_rise_ms", delay_rise, loaded_ms=loaded, unloaded_ms=unloaded)


@fact(
    "voice_class",
    about="place",
    unit="",
    type="boolean",
    meaning="true where the packets of calls made here ride in the voice class of Wi-Fi",
)
def voice_class(book: Book, subject: Subject) -> Fact:
    place = subject.ids[0]
    key = f"voice_class[{subject.key}]"
    declared = book.site.places[place].traffic_class
    if declared is not None:
        return Fact(key, "", constant(declared == "voice"), Given(book.source.where(f"places.{place}.traffic_class")))
    name = book.site.places[place].client
    kinds = catalogue("client-kinds")["kinds"]
    like = (book.site.clients[name].like if name in book.site.clients else None) or (
        name if name in kinds else "laptop"
    )
    usual = str(kinds[like]["traffic_class"])
    told = f"calls of a usual {like} ride in the {usual} class"
    return Fact(key, "", constant(usual == "voice"), Assumed(told, str(catalogue("client-kinds")["source"])))


@fact(
    "air_load_share",
    about="place",
    unit="",
    digits=2,
    meaning="largest share of time wanted of any air on its route when everyone gets what they ask; wires and line do "
    "not count",
)
def air_load_share(book: Book, subject: Subject) -> Fact:
    def compute() -> Fact:
        return load_on_route(book, subject, "domain=")._replace(key=f"air_load_share[{subject.key}]")

    return over_options(book, "air_load_share", subject, {}, compute)
