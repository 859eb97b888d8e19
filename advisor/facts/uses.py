"""Whether calls, video and browsing work at a place while everyone is active."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import numpy as np

from advisor.data import catalogue
from advisor.facts import joins, links
from advisor.facts.book import Book
from advisor.facts.call_waits import Waits, air_queue, rides_voice_class, waits_of
from advisor.facts.catalogue import fact
from advisor.facts.equipment import setting
from advisor.facts.everyone import active, crowd, demand
from advisor.facts.places import alone, load_on_route, over_options, with_everyone
from advisor.facts.rates import answer_margin_db
from advisor.subjects import Subject
from advisor.trace import Assumed, Fact, Looked, derive, formula, formula_of, unknown
from advisor.values import CENTRE, Cases, constant, from_cases


@formula(
    id="places.call_holds",
    unit="",
    expr="level at the place >= call level, both ends answer, call quality by waits and queues >= what calls want, "
    "0.1 Mb/s each way",
    source="deployment guides design calls for -67 to -70 dBm; quality: ITU-T G.107",
)
def call_holds(
    *,
    level_dbm: Any,
    answer_margin_db: Any,
    mos: Any,
    down_mbps: Any,
    up_mbps: Any,
    call_level_dbm: float,
    call_mos: float,
    call_mbps: float,
) -> Any:
    return (
        (level_dbm >= call_level_dbm)
        & (answer_margin_db >= 0.0)
        & (mos >= call_mos)
        & (down_mbps >= call_mbps)
        & (up_mbps >= call_mbps)
    )


@fact(
    "call_holds",
    about="place",
    unit="",
    type="boolean",
    meaning="true when a call at the place holds while everyone is active (standing still)",
)
def call_holds_fact(book: Book, subject: Subject) -> Fact:
    return over_options(book, "call_holds", subject, {}, lambda: holds_call(book, subject))


@fact(
    "calls_holding",
    about="place",
    unit="",
    digits=0,
    meaning="1 where a call at the place holds while everyone is active, else 0; judged by its probability",
)
def calls_holding(book: Book, subject: Subject) -> Fact:
    def compute() -> Fact:
        return derive(f"calls_holding[{subject.key}]", one_or_nothing, holds=holds_call(book, subject))

    return over_options(book, "calls_holding", subject, {}, compute)


@formula(id="places.calls_holding", unit="", expr="1 where a call holds, else 0", source="definition")
def one_or_nothing(*, holds: Any) -> Any:
    return np.asarray(holds, dtype=float)[()]


def holds_call(book: Book, subject: Subject) -> Fact:
    """Whether a call at the place holds, for this one way of running the uplinks."""
    return book.once(("call_holds", subject), lambda: _compute_call_holds(book, subject))


def _compute_call_holds(book: Book, subject: Subject) -> Fact:
    place = subject.ids[0]
    key = f"call_holds[{subject.key}]"
    answer = joins.association(book, place)
    missing = missing_for_calls(book, place)
    if missing:
        return unknown(key, "", *missing)
    size = book.draws.size
    rates = [with_everyone(book, subject, direction, "likely") for direction in ("down", "up")]
    level, margin = np.full(size, -200.0), np.full(size, -200.0)
    quality = call_mos(book, subject)
    inputs: list[Fact] = [quality, *rates]
    for index, name in enumerate(answer.radios):
        link = links.to_place(place, name)
        here = answer.joined == index
        level = np.where(here, links.level_dbm(book, link, "down").raw, level)
        margin = np.where(here, answer_margin_db(book, link).raw, margin)
        if here[CENTRE]:
            inputs.append(links.level_dbm(book, link, "down"))
    uses = catalogue("ranges")["uses"]
    holds = call_holds(
        level_dbm=level,
        answer_margin_db=margin,
        mos=quality.raw,
        down_mbps=rates[0].raw,
        up_mbps=rates[1].raw,
        call_level_dbm=float(uses["call_level_dbm"]["value"]),
        call_mos=wanted_mos(book),
        call_mbps=float(uses["calls"]["down_mbps"]),
    )
    return Fact(key, "", from_cases(holds, joint=True), formula_of(call_holds), tuple(inputs))


def missing_for_calls(book: Book, place: str) -> tuple[str, ...]:
    """What the file would have to give before a call at a place can be judged beside everyone."""
    left_out = crowd(book).left_out
    gaps = [gap for direction in ("down", "up") for gap in left_out.get((place, direction), ())]
    if not gaps and not active(book, place):
        gaps = [f"a client active at {place} (places.{place}.active)"]
    return tuple(dict.fromkeys(gaps))


def wanted_mos(book: Book) -> float:
    """The call quality under which a call counts as disturbed: as the file says, else as usual."""
    told = book.site.calls.mos
    return float(catalogue("walking")["calls"]["mos"]["value"]) if told is None else float(told)


@fact(
    "call_mos",
    about="place",
    unit="",
    digits=1,
    meaning="quality (MOS) of a call at the place by waits and losses in queues alone, in its worse direction, while "
    "everyone is active",
)
def call_mos_fact(book: Book, subject: Subject) -> Fact:
    return over_options(book, "call_mos", subject, {}, lambda: call_mos(book, subject))


def call_mos(book: Book, subject: Subject) -> Fact:
    """Call quality of the worse direction at the place, for this one way of running the uplinks."""

    def worse(waits: Waits) -> Cases:
        return np.minimum(waits.mos["down"], waits.mos["up"])

    delays = (call_delay_ms(book, subject, direction) for direction in ("down", "up"))
    return _of_waits(book, subject, f"call_mos[{subject.key}]", "", worse, 1.0, tuple(delays))


@fact(
    "call_delay_ms",
    about="place",
    unit="ms",
    digits=0,
    variants={"dir": ("down", "up")},
    meaning="how long a packet of a call takes between the place and the next host outside, while everyone is active",
)
def call_delay_fact(book: Book, subject: Subject, dir: str) -> Fact:
    return over_options(book, "call_delay_ms", subject, {"dir": dir}, lambda: call_delay_ms(book, subject, dir))


def call_delay_ms(book: Book, subject: Subject, direction: str) -> Fact:
    """One-way delay of a call's packets at the place, for this one way of running the uplinks."""
    key = f"call_delay_ms[{subject.key}, dir={direction}]"
    joined = joins.joined_subject(book, subject.ids[0])
    queue = (
        () if joined is None else (setting(f"air_queue[radio={joined.ids[1]}]", "", air_queue(book, joined.ids[1])),)
    )
    return _of_waits(book, subject, key, "ms", lambda waits: getattr(waits, direction).delay_ms, 0.0, queue)


def _of_waits(
    book: Book,
    subject: Subject,
    key: str,
    unit: str,
    pick: Callable[[Waits], Cases],
    without: float,
    inputs: tuple[Fact, ...],
) -> Fact:
    """A figure of the waits through the radio joined, in every case; `without` where nothing can be joined."""
    place = subject.ids[0]
    entry, answer = book.site.places[place], joins.association(book, place)
    missing = missing_for_calls(book, place)
    if missing:
        return unknown(key, unit, *missing)
    found = np.full(book.draws.size, without)
    parts: list[str] = []
    for index, name in enumerate(answer.radios):
        here = answer.joined == index
        if here.any():
            waits = waits_of(book, name, rides_voice_class(book, entry.client, entry.traffic_class))
            found = np.where(here, pick(waits), found)
            if here[CENTRE]:
                parts = [
                    f"{what} {down[CENTRE]:.1f} ms down, {up[CENTRE]:.1f} ms up"
                    for (what, down), (_, up) in zip(waits.down.parts, waits.up.parts, strict=True)
                ]
    how = Looked("; ".join(parts) or "no radio can be joined there")
    return Fact(key, unit, from_cases(found, joint=True), how, inputs)


@fact(
    "use_holds",
    about="place",
    unit="",
    type="boolean",
    variants={"use": ("calls", "video", "browsing")},
    meaning="true when that use works at the place while everyone is active",
)
def use_holds(book: Book, subject: Subject, use: str) -> Fact:
    return over_options(book, "use_holds", subject, {"use": use}, lambda: _use_holds(book, subject, use))


@formula(
    id="places.use_holds",
    unit="",
    expr="down and up reach what the use needs",
    source="common practice, no source (data/ranges.yaml: uses)",
)
def fast_enough(*, down_mbps: Any, up_mbps: Any, need_down_mbps: float, need_up_mbps: float) -> Any:
    return (down_mbps >= need_down_mbps) & (up_mbps >= need_up_mbps)


@formula(
    id="uses.to_be_had_mbps",
    unit="Mb/s",
    expr="max(what each gets with everyone active, what it asks + the share of time left × its speed alone); that "
    "while everyone gets what they ask",
    source="shared air is shared time; what is left over goes to whoever asks for it",
)
def to_be_had(*, everyone_mbps: Any, asked_mbps: Any, load_share: Any, alone_mbps: Any) -> Any:
    left = asked_mbps + (1.0 - load_share) * alone_mbps
    return np.where(
        np.asarray(load_share) < 1.0, np.maximum(everyone_mbps, np.minimum(left, alone_mbps)), everyone_mbps
    )


def _to_be_had(book: Book, subject: Subject, direction: str) -> Fact:
    """The speed a client there would get if it asked for more than the file says, the others asking what it says."""
    return derive(
        f"to_be_had_mbps[{subject.key}, dir={direction}]",
        to_be_had,
        everyone_mbps=with_everyone(book, subject, direction, "likely"),
        asked_mbps=demand(book, subject.ids[0], direction),
        load_share=load_on_route(book, subject),
        alone_mbps=alone(book, subject, direction, "tcp"),
    )


def _use_holds(book: Book, subject: Subject, use: str) -> Fact:
    if use == "calls":
        return holds_call(book, subject)._replace(key=f"use_holds[{subject.key}, use=calls]")
    row = catalogue("ranges")["uses"][use]
    facts = {f"{direction}_mbps": _to_be_had(book, subject, direction) for direction in ("down", "up")}
    needs = {
        f"need_{direction}_mbps": Fact(
            f"uses.{use}.{direction}_mbps",
            "Mb/s",
            constant(float(row[f"{direction}_mbps"])),
            Assumed(f"{use} needs {row[f'{direction}_mbps']:g} Mb/s {direction}", row["source"]),
        )
        for direction in ("down", "up")
    }
    return derive(f"use_holds[{subject.key}, use={use}]", fast_enough, **facts, **needs)
