"""What each place gets: alone, with everyone at once, and whether calls hold there."""

from __future__ import annotations

from typing import Any

import numpy as np

from advisor.facts import alone as by_itself
from advisor.facts import everyone, hearing, joins, routes
from advisor.facts.book import Book
from advisor.facts.catalogue import fact
from advisor.network.graph import chain
from advisor.subjects import Subject
from advisor.trace import Fact, Given, Looked, Solved, formula_of, unknown
from advisor.values import CENTRE, Known, Options, Unknown, constant, from_cases

BOTH_WAYS = {"dir": ("down", "up")}


def over_options(
    book: Book, name: str, subject: Subject, variant: dict[str, str], compute: Any, *, shared: bool = True
) -> Fact:
    """The fact itself, or one answer for each way an uplink left to the equipment may run.

    `shared` where the fact depends on what everybody does: then an open uplink anywhere at the site counts, else only
    one on the place's own route. Where all ways give the same answer, there is but one.
    """
    fact: Fact = compute()
    open_hop = _open_hop(book, subject.ids[0], shared)
    if open_hop is None or not isinstance(fact.value, (Known, Unknown)):
        return fact
    answers: dict[str, Known | Unknown] = {}
    inputs = []
    for option, other in book.variants(open_hop).items():
        answer = other.get(name, subject, **variant)
        if isinstance(answer.value, (Known, Unknown)):
            answers[f"{open_hop} {option}"] = answer.value
            inputs.append(answer)
    if len({told_ends(answer) for answer in answers.values()}) < 2:
        return fact
    how = Looked(f"the uplink of {open_hop} is left to the equipment")
    return Fact(fact.key, fact.unit, Options(answers), how, tuple(inputs))


def told_ends(value: Known | Unknown) -> tuple[Any, ...]:
    """What is told of an answer, to see whether two are the same."""
    if isinstance(value, Unknown):
        return value.missing
    return tuple(
        round(float(end), 1) if isinstance(end, float) else end for end in (value.centre, value.low, value.high)
    )


def _open_hop(book: Book, place: str, shared: bool) -> str | None:
    """The open uplink that decides about a place."""
    joined = joins.joined_subject(book, place)
    return deciding(book, book.inventory.radios[joined.ids[1]].node if joined is not None else None, shared)


def deciding(book: Book, node: str | None, shared: bool) -> str | None:
    """The first node on the way of a node's clients whose uplink is left to the equipment, else (`shared`) the first of
    all."""
    for hop in chain(node, book.hops) if node is not None else ():
        if hop.node in book.open_nodes:
            return hop.node
    return book.open_nodes[0] if book.open_nodes and shared else None


@fact(
    "goodput_mbps",
    about="place",
    unit="Mb/s",
    digits=1,
    variants={**BOTH_WAYS, "transport": ("tcp", "udp")},
    meaning="what one client there gets with nobody else active, end to end",
)
def goodputalone(book: Book, subject: Subject, dir: str, transport: str) -> Fact:
    return over_options(
        book,
        "goodput_mbps",
        subject,
        {"dir": dir, "transport": transport},
        lambda: alone(book, subject, dir, transport),
        shared=False,
    )


def alone(book: Book, subject: Subject, direction: str, transport: str) -> Fact:
    return book.once(
        ("alone", subject, direction, transport), lambda: _compute_alone(book, subject, direction, transport)
    )


def _compute_alone(book: Book, subject: Subject, direction: str, transport: str) -> Fact:
    place = subject.ids[0]
    key = f"goodput_mbps[{subject.key}, dir={direction}, transport={transport}]"
    missing = everyone.missing_inputs(book, place, direction)
    if missing:
        return unknown(key, "Mb/s", *missing)
    answer = joins.association(book, place)
    result = np.zeros(book.draws.size)
    for index in sorted(set(answer.joined.tolist()) - {-1}):
        limits = by_itself.limits_alone(book, place, answer.radios[index], direction, transport)
        result = np.where(answer.joined == index, np.min([limit for _, limit in limits], axis=0), result)
    rests_on = _on_its_way(book, place, direction, transport)
    return Fact(key, "Mb/s", from_cases(result, joint=True), formula_of(by_itself.alone_mbps), rests_on)


def _on_its_way(book: Book, place: str, direction: str, transport: str) -> tuple[Fact, ...]:
    """What speeds at a place rest on, on the way it typically takes: links, who else is on their air, the line."""
    answer = joins.association(book, place)
    index = int(answer.joined[CENTRE])
    if index < 0:
        return ()
    way = routes.route(book, place, answer.radios[index], direction, transport)
    found = [leg.goodput for leg in way.legs] + [
        hearing.busy_fact(book, leg.cell, place if leg is way.legs[0] else None) for leg in way.legs if leg.cell
    ]
    found += by_itself.shared_air(book, way)
    return tuple(found + ([way.line] if way.line is not None else []))


@fact(
    "binds_alone",
    about="place",
    unit="",
    type="class",
    meaning="what limits the place with nobody else active: a hop, the last link, or the internet line (site)",
)
def binds_alone(book: Book, subject: Subject) -> Fact:
    key = f"binds_alone[{subject.key}]"
    missing = everyone.missing_inputs(book, subject.ids[0], "down")
    joined = joins.joined_subject(book, subject.ids[0])
    if missing:
        return unknown(key, "", *missing)
    if joined is None:
        return Fact(key, "", constant(subject.key), Looked("no radio can be joined there"))
    limits = by_itself.limits_alone(book, joined.ids[0], joined.ids[1], "down", "tcp")
    what, _ = min(limits, key=lambda entry: (round(float(np.ravel(entry[1])[CENTRE]), 6), entry[0].key))
    named = _as_cause(what)
    return Fact(key, "", constant(named), Looked("the smallest limit on the route"))


def _as_cause(what: Subject) -> str:
    """The last link counts as the place itself."""
    return f"place={what.ids[0]}" if what.kind == "place-radio" else what.key


@fact(
    "goodput_everyone_mbps",
    about="place",
    unit="Mb/s",
    digits=1,
    variants={**BOTH_WAYS, "timing": ("likely", "best")},
    meaning="what each active client there gets when everyone is active: likely, or at best under perfect timing",
)
def goodput_everyone(book: Book, subject: Subject, dir: str, timing: str) -> Fact:
    return over_options(
        book,
        "goodput_everyone_mbps",
        subject,
        {"dir": dir, "timing": timing},
        lambda: with_everyone(book, subject, dir, timing),
    )


def with_everyone(book: Book, subject: Subject, direction: str, timing: str) -> Fact:
    """What each active client of the place gets, for this one way of running the uplinks."""
    return book.once(
        ("with_everyone", subject, direction, timing), lambda: _compute_with_everyone(book, subject, direction, timing)
    )


def likely(book: Book, place: str, direction: str) -> Known | Unknown:
    """What each active client of the place likely gets, for this one way of running the uplinks."""
    everybody = everyone.crowd(book)
    if (place, direction) in everybody.left_out:
        return Unknown(everybody.left_out[place, direction])
    rate = everybody.rate(place, direction)
    if rate is None:
        return Unknown((f"a client active at {place} (places.{place}.active)",))
    return from_cases(rate, joint=True)


def _compute_with_everyone(book: Book, subject: Subject, direction: str, timing: str) -> Fact:
    place = subject.ids[0]
    key = f"goodput_everyone_mbps[{subject.key}, dir={direction}, timing={timing}]"
    value = likely(book, place, direction)
    if isinstance(value, Unknown):
        return unknown(key, "Mb/s", *value.missing)
    everybody = everyone.crowd(book)
    wanted = everyone.demand(book, place, direction)
    inputs = (wanted, *_on_its_way(book, place, direction, book.site.places[place].transport))
    if timing == "best":
        best = everyone.at_best(book)
        timed = np.where(everybody.dead(place, direction), 0.0, float(wanted.raw) * best.factor)
        method = "every demand times the largest factor perfect timing allows, at least what is likely" + (
            "" if best.centre.exact else " (bound from cliques, can be too high)"
        )
        best_value = from_cases(np.maximum(timed, value.raw), joint=True)
        return Fact(key, "Mb/s", best_value, Solved(method, best.centre.binding), inputs)
    stop = everybody.stopped_by(place, direction)
    by = Solved(
        "senders take turns alike until flows have what they ask for or something they use is full",
        (stop,) if stop else (),
        everybody.slack,
    )
    return Fact(key, "Mb/s", value, by, inputs)


@fact(
    "binds_everyone",
    about="place",
    unit="",
    type="class",
    meaning="what limits the place when everyone is active: the air around a radio (domain), a wired hop, its own last "
    "link, or the internet line (site)",
)
def binds_everyone(book: Book, subject: Subject) -> Fact:
    place = subject.ids[0]
    key = f"binds_everyone[{subject.key}]"
    everybody = everyone.crowd(book)
    joined = joins.joined_subject(book, place)
    gaps = [gap for direction in ("down", "up") for gap in everybody.left_out.get((place, direction), ())]
    if gaps:
        return unknown(key, "", *dict.fromkeys(gaps))
    if joined is None:
        return Fact(key, "", constant(subject.key), Looked("no radio can be joined there"))
    short = [direction for direction in ("down", "up") if _short_of(book, everybody, place, direction)]
    stop = everybody.stopped_by(place, short[0] if short else "down")
    if stop is None:
        told: Fact = binds_alone(book, subject)
        return told._replace(key=key)
    cause = "site" if stop.startswith("line") else stop.split(",")[0]
    if cause.startswith("domain="):
        cause = f"domain={routes.domain_of(book, cause.removeprefix('domain='))}"
    return Fact(key, "", constant(cause), Looked(f"full: {stop}"))


def _short_of(book: Book, everybody: everyone.Crowd, place: str, direction: str) -> bool:
    """Whether the place gets less than it asks for at the centre."""
    rate = everybody.rate(place, direction)
    wanted = float(everyone.demand(book, place, direction).raw)
    return rate is not None and float(rate[CENTRE]) < wanted * (1 - 1e-6)


@fact("need_mbps", about="place", unit="Mb/s", variants=BOTH_WAYS, meaning="what each active client there must get")
def need_mbps(book: Book, subject: Subject, dir: str) -> Fact:
    place = subject.ids[0]
    value = getattr(book.site.places[place], f"{dir}_mbps")
    key = f"need_mbps[{subject.key}, dir={dir}]"
    if value is None:
        return unknown(key, "Mb/s", f"what a client at {place} needs (places.{place}.{dir}_mbps)")
    return Fact(key, "Mb/s", constant(value), Given(book.source.where(f"places.{place}.{dir}_mbps")))


@fact(
    "asks_for_speed",
    about="place",
    unit="",
    type="boolean",
    variants=BOTH_WAYS,
    meaning="true when the file says what a client there must get",
)
def asks_for_speed(book: Book, subject: Subject, dir: str) -> Fact:
    value = getattr(book.site.places[subject.ids[0]], f"{dir}_mbps")
    return Fact(f"asks_for_speed[{subject.key}, dir={dir}]", "", constant(value is not None), Looked("the site file"))


@fact("calls_here", about="place", unit="", digits=0, meaning="voice calls made here at the same time")
def calls_here(book: Book, subject: Subject) -> Fact:
    place = subject.ids[0]
    by = Given(book.source.where(f"places.{place}.calls"))
    return Fact(f"calls_here[{subject.key}]", "", constant(float(book.site.places[place].calls)), by)


@fact(
    "emergency_calls",
    about="place",
    unit="",
    type="boolean",
    meaning="true when calls to emergency services are made from here over this network",
)
def emergency_calls(book: Book, subject: Subject) -> Fact:
    place = subject.ids[0]
    by = Given(book.source.where(f"places.{place}.emergency_calls"))
    return Fact(f"emergency_calls[{subject.key}]", "", constant(book.site.places[place].emergency_calls), by)


@fact("air_hops", about="place", unit="", digits=0, meaning="air hops between its node and the internet line")
def air_hops(book: Book, subject: Subject) -> Fact:
    joined = joins.joined_subject(book, subject.ids[0])
    key = f"air_hops[{subject.key}]"
    if joined is None:
        return unknown(key, "", "a radio that holds there")
    legs = routes.route(book, joined.ids[0], joined.ids[1], "down").legs
    count = sum(1 for leg in legs if leg.what.kind == "hop" and leg.cell is not None)
    return Fact(key, "", constant(float(count)), Looked("the route"))


@fact(
    "route_load_share",
    about="place",
    unit="",
    digits=2,
    meaning="largest share of time wanted of any air, wire or line on its route when everyone gets what they ask",
)
def route_load(book: Book, subject: Subject) -> Fact:
    return over_options(book, "route_load_share", subject, {}, lambda: load_on_route(book, subject))


def load_on_route(book: Book, subject: Subject, only: str = "") -> Fact:
    """The fullest resource on the route of a place, of those whose names begin with `only`."""
    place = subject.ids[0]
    key = f"route_load_share[{subject.key}]"
    everybody = everyone.crowd(book)
    gaps = [gap for direction in ("down", "up") for gap in everybody.left_out.get((place, direction), ())]
    if gaps:
        return unknown(key, "", *dict.fromkeys(gaps))
    waits = everybody.waited_for.get(place)
    if not everyone.active(book, place):
        return unknown(key, "", f"a client active at {place} (places.{place}.active)")
    used = (
        []
        if waits is None
        else [index for index, name in enumerate(everybody.resources) if name.startswith(only) and waits[index].any()]
    )
    if not used or waits is None:
        return Fact(key, "", constant(0.0), Looked("no radio can be joined there"))
    load = np.max(np.where(waits[used], everybody.load[used], 0.0), axis=0)
    centre = np.where(waits[:, CENTRE], everybody.load[:, CENTRE], 0.0)
    fullest = max(used, key=lambda index: (float(centre[index]), everybody.resources[index]))
    by = Solved("demand over what there is, the fullest on the route", (everybody.resources[fullest],))
    return Fact(key, "", from_cases(np.minimum(load, 99.0), joint=True), by)
