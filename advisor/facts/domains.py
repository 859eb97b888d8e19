"""The air around each serving radio: how much of it is wanted when everyone gets what they ask for, and by whom."""

from __future__ import annotations

from typing import Any

import numpy as np

from advisor.facts import everyone, joins, routes
from advisor.facts.book import Book
from advisor.facts.catalogue import fact
from advisor.subjects import Subject
from advisor.trace import Fact, Looked, Solved, unknown
from advisor.values import CENTRE, constant, from_cases


@fact(
    "load_share",
    about="domain",
    unit="",
    digits=2,
    meaning="share of time the air around a radio is wanted when every active client gets what it asks for",
)
def load_share(book: Book, subject: Subject) -> Fact:
    key = f"load_share[{subject.key}]"
    everybody = everyone.crowd(book)
    fullest = fullest_cell(book, subject.ids[0])
    if fullest is None and everybody.left_out:
        gaps = sorted({reason for reasons in everybody.left_out.values() for reason in reasons})
        return unknown(key, "", *gaps)
    if fullest is None:
        return Fact(key, "", constant(0.0), Looked("nobody active uses it"))
    load = everybody.load[everybody.resources.index(f"domain={fullest}")]
    by = Solved("demands over what each link carries, what is heard of other cells, and other people's share", ())
    return Fact(key, "", from_cases(np.minimum(load, 99.0), joint=True), by, _inputs(book, subject))


def _inputs(book: Book, subject: Subject) -> tuple[Fact, ...]:
    return (book.get("busy_share", Subject("radio", subject.ids)),)


def fullest_cell(book: Book, domain: str) -> str | None:
    """The cell of a domain whose air is wanted most at the centre; None where nobody active uses it."""
    everybody = everyone.crowd(book)
    load = everybody.load
    found = [
        (-round(float(load[index, CENTRE]), 6), cell)
        for index, cell in ((index, name.removeprefix("domain=")) for index, name in enumerate(everybody.resources))
        if cell in book.cells and routes.domain_of(book, cell) == domain
    ]
    return min(found)[1] if found else None


def users(book: Book, domain: str) -> dict[str, float]:
    """Share of time each user wants of a domain at the centre: hops, last links (by place), calls, other people."""
    everybody = everyone.crowd(book)
    cell = fullest_cell(book, domain)
    if cell is None:
        return {}
    row = routes.row_shares(book, cell)
    found: dict[str, float] = {}
    for number, flow in enumerate(everybody.flows):
        if everybody.problem.dead[number, CENTRE]:
            continue
        answer = joins.association(book, flow.place)
        way = routes.route(book, flow.place, answer.radios[int(answer.joined[CENTRE])], flow.direction)
        for leg in way.legs:
            if leg.cell in row:
                name = leg.what.key if leg.what.kind == "hop" else f"place={flow.place}"
                time = flow.clients * float(flow.demand.raw) / _centre(leg.goodput.raw)
                found[name] = found.get(name, 0.0) + time * _centre(row[leg.cell])
    index = everybody.resources.index(f"domain={cell}")
    calls, others = float(everybody.calls[index, CENTRE]), float(everybody.others[index, CENTRE])
    plain, taken = sum(found.values()), float(everybody.load[index, CENTRE]) - calls - others
    found = {name: share * max(taken, 0.0) / plain for name, share in found.items()} if plain > 0 else {}
    found["calls"] = calls
    found["neighbours and interference"] = others
    return {
        name: share
        for name, share in sorted(found.items(), key=lambda entry: (-round(entry[1], 4), entry[0]))
        if share >= 0.005
    }


def _centre(raw: Any) -> float:
    return float(np.ravel(raw)[CENTRE])


@fact(
    "wanted_by",
    about="domain",
    unit="",
    type="class",
    meaning="who wants the air around a radio, the most first, in words",
)
def wanted_by(book: Book, subject: Subject) -> Fact:
    shares = users(book, subject.ids[0])
    told = ", ".join(f"{_in_words(name)} {round(100 * share)} %" for name, share in list(shares.items())[:4])
    return Fact(f"wanted_by[{subject.key}]", "", constant(told or "nobody"), Looked("shares at the centre"))


def _in_words(name: str) -> str:
    kind, _, rest = name.partition("=")
    return {"hop": f"the hop of {rest}", "place": f"the clients at {rest}"}.get(kind, name)


@fact("cells", about="domain", unit="", type="class", meaning="the serving radios that share this air, in words")
def cells(book: Book, subject: Subject) -> Fact:
    names = [name for name in sorted(book.cells) if routes.domain_of(book, name) == subject.ids[0]]
    used = [name for name in names if book.get("in_use", Subject("radio", (name,))).raw] or names
    told = ", ".join(used[:4]) + (f" and {len(used) - 4} more" if len(used) > 4 else "")
    return Fact(f"cells[{subject.key}]", "", constant(told), Looked("channels and hearing"))


@fact(
    "most_wanted_by",
    about="domain",
    unit="",
    type="class",
    meaning="key of the hop that wants most of the air around a radio; empty where clients or other people want more",
)
def most_wanted_by(book: Book, subject: Subject) -> Fact:
    shares = users(book, subject.ids[0])
    first = next(iter(shares), "")
    return Fact(
        f"most_wanted_by[{subject.key}]",
        "",
        constant(first if first.startswith("hop=") else ""),
        Looked("shares at the centre"),
    )


@fact(
    "shared_domain",
    about="radio-pair",
    unit="",
    type="class",
    meaning="key of the contention domain both radios belong to; empty where they do not share one",
)
def shared_domain(book: Book, subject: Subject) -> Fact:
    domains = {routes.domain_of(book, name) for name in subject.ids}
    answer = f"domain={min(domains)}" if len(domains) == 1 else ""
    return Fact(f"shared_domain[{subject.key}]", "", constant(answer), Looked("channels and hearing"))
