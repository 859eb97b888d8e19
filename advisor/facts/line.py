"""Facts about the internet line: what is asked of it, and how full that makes it."""

from __future__ import annotations

from typing import Any

from advisor.data import catalogue
from advisor.facts import everyone, routes
from advisor.facts.book import Book
from advisor.facts.catalogue import fact
from advisor.facts.equipment import range_entry
from advisor.subjects import Subject
from advisor.trace import Fact, Looked, derive, formula
from advisor.values import constant

BOTH_WAYS = {"dir": ("down", "up")}


def _outside(book: Book) -> list[str]:
    """Places whose traffic goes to the internet."""
    return [place for place, entry in sorted(book.site.places.items()) if entry.to == "internet"]


@fact(
    "line_told",
    about="site",
    unit="",
    type="boolean",
    variants=BOTH_WAYS,
    meaning="true where the file says what the internet line delivers",
)
def line_told(book: Book, subject: Subject, dir: str) -> Fact:
    return Fact(f"line_told[dir={dir}]", "", constant(routes.line_mbps(book, dir).known), Looked("the site file"))


@fact("line_mbps", about="site", unit="Mb/s", digits=0, variants=BOTH_WAYS, meaning="what the internet line delivers")
def line_of_site(book: Book, subject: Subject, dir: str) -> Fact:
    return routes.line_mbps(book, dir)._replace(key=f"line_mbps[dir={dir}]")


@fact("line_mbps", about="hop", unit="Mb/s", digits=0, variants=BOTH_WAYS, meaning="what the internet line delivers")
def line_of_hop(book: Book, subject: Subject, dir: str) -> Fact:
    return routes.line_mbps(book, dir)._replace(key=f"line_mbps[{subject.key}, dir={dir}]")


@fact(
    "asks_of_line",
    about="site",
    unit="",
    type="boolean",
    variants=BOTH_WAYS,
    meaning="true where some place says what its active clients must get to or from the internet",
)
def asks_of_line(book: Book, subject: Subject, dir: str) -> Fact:
    asking = [
        place
        for place in _outside(book)
        if getattr(book.site.places[place], f"{dir}_mbps") is not None and everyone.active(book, place)
    ]
    how = Looked("they do: " + (", ".join(asking) or "none"))
    return Fact(f"asks_of_line[dir={dir}]", "", constant(bool(asking)), how)


def line_demand(book: Book, direction: str) -> Fact:
    """Sum of what active clients and calls ask of the line, wherever they join and whatever holds them up before it."""
    total, inputs, parts = 0.0, [], []
    for place in _outside(book):
        clients, calls = everyone.active(book, place), book.site.places[place].calls
        if clients:
            asked = everyone.demand(book, place, direction)
            total += clients * float(asked.raw)
            inputs.append(asked)
            parts.append(f"{place} {clients} × {float(asked.raw):g}")
        if calls:
            row = catalogue("ranges")["uses"]["calls"]
            each = float(row[f"{direction}_mbps"])
            total += calls * each
            inputs.append(
                range_entry(f"uses.calls.{direction}_mbps", "Mb/s", each, row["source"], f"a call takes {each:g} Mb/s")
            )
            parts.append(f"calls at {place} {calls} × {each:g}")
    key = f"line_demand_mbps[dir={direction}]"
    return Fact(key, "Mb/s", constant(total), Looked("; ".join(parts) or "nobody"), tuple(dict.fromkeys(inputs)))


@fact(
    "line_demand_mbps",
    about="site",
    unit="Mb/s",
    digits=1,
    variants=BOTH_WAYS,
    meaning="sum of what active clients and calls ask of the internet line",
)
def line_demand_fact(book: Book, subject: Subject, dir: str) -> Fact:
    return line_demand(book, dir)


@formula(
    id="line.wanted_share",
    unit="",
    expr="asked of the line / what it delivers",
    source="definition; above 1 somebody must wait",
)
def wanted_share(*, asked_mbps: Any, line_mbps: Any) -> Any:
    return asked_mbps / line_mbps


@fact(
    "line_wanted_share",
    about="site",
    unit="",
    digits=2,
    variants=BOTH_WAYS,
    meaning="share of the internet line wanted when every active client gets what it asks for",
)
def line_wanted_share(book: Book, subject: Subject, dir: str) -> Fact:
    key = f"line_wanted_share[dir={dir}]"
    return derive(key, wanted_share, asked_mbps=line_demand(book, dir), line_mbps=routes.line_mbps(book, dir))
