"""Facts about the needs the user wrote down beside those of the places."""

from __future__ import annotations

from advisor.facts.book import Book
from advisor.facts.catalogue import fact
from advisor.subjects import Subject, place
from advisor.trace import Fact, Given, Looked, unknown
from advisor.values import constant

BOTH_WAYS = {"dir": ("down", "up")}


@fact(
    "asks_for_speed", about="need", unit="", type="boolean", variants=BOTH_WAYS, meaning="true when it asks for a speed"
)
def asks_for_speed(book: Book, subject: Subject, dir: str) -> Fact:
    need = book.site.needs[subject.ids[0]]
    asked = need.place is not None and getattr(need, f"{dir}_mbps") is not None
    return Fact(f"asks_for_speed[{subject.key}, dir={dir}]", "", constant(asked), Looked("the site file"))


@fact("need_mbps", about="need", unit="Mb/s", variants=BOTH_WAYS, meaning="the speed it asks for, per active client")
def need_mbps(book: Book, subject: Subject, dir: str) -> Fact:
    value = getattr(book.site.needs[subject.ids[0]], f"{dir}_mbps")
    key = f"need_mbps[{subject.key}, dir={dir}]"
    path = f"needs.{subject.ids[0]}.{dir}_mbps"
    if value is None:
        return unknown(key, "Mb/s", f"the speed it asks for ({path})")
    return Fact(key, "Mb/s", constant(value), Given(book.source.where(path)))


@fact(
    "goodput_mbps",
    about="need",
    unit="Mb/s",
    variants=BOTH_WAYS,
    meaning="what the place gets under the need's conditions",
)
def goodput_mbps(book: Book, subject: Subject, dir: str) -> Fact:
    need = book.site.needs[subject.ids[0]]
    key = f"goodput_mbps[{subject.key}, dir={dir}]"
    if need.place is None:
        return unknown(key, "Mb/s", "a place: this need is about a walk")
    name = "goodput_everyone_mbps" if need.when == "everyone" else "goodput_mbps"
    answer = book.get(name, place(need.place), dir=dir)
    return answer._replace(key=key)


@fact("at_place", about="need", unit="", type="class", meaning="the place it is about")
def at_place(book: Book, subject: Subject) -> Fact:
    need = book.site.needs[subject.ids[0]]
    key = f"at_place[{subject.key}]"
    if need.place is None:
        return unknown(key, "", "a place: this need is about a walk")
    return Fact(key, "", constant(need.place), Given(book.source.where(f"needs.{subject.ids[0]}.place")))


@fact(
    "asked_with",
    about="need",
    unit="",
    type="class",
    meaning="when it must be met: everyone (while all others are active too) or alone",
)
def asked_with(book: Book, subject: Subject) -> Fact:
    by = Given(book.source.where(f"needs.{subject.ids[0]}.when"))
    return Fact(f"asked_with[{subject.key}]", "", constant(book.site.needs[subject.ids[0]].when), by)


@fact(
    "binds",
    about="need",
    unit="",
    type="class",
    meaning="what limits its place under the need's conditions: a hop, its last link, or the internet line (site)",
)
def binds(book: Book, subject: Subject) -> Fact:
    need = book.site.needs[subject.ids[0]]
    key = f"binds[{subject.key}]"
    if need.place is None:
        return unknown(key, "", "a place: this need is about a walk")
    name = "binds_everyone" if need.when == "everyone" else "binds_alone"
    return book.get(name, place(need.place))._replace(key=key)


@fact("asks_for_calls", about="need", unit="", type="boolean", meaning="true when calls must hold at its place")
def asks_for_calls(book: Book, subject: Subject) -> Fact:
    need = book.site.needs[subject.ids[0]]
    return Fact(
        f"asks_for_calls[{subject.key}]", "", constant(need.calls and need.place is not None), Looked("the site file")
    )


@fact(
    "calls_holding",
    about="need",
    unit="",
    digits=0,
    meaning="1 where a call at its place holds while everyone is active, 0 where it does not",
)
def calls_holding(book: Book, subject: Subject) -> Fact:
    need = book.site.needs[subject.ids[0]]
    key = f"calls_holding[{subject.key}]"
    if need.place is None:
        return unknown(key, "", "a place: this need is about a walk")
    return book.get("calls_holding", place(need.place))._replace(key=key)
