"""How many clients share one radio."""

from __future__ import annotations

from advisor.facts import everyone, joins
from advisor.facts.book import Book
from advisor.facts.catalogue import fact
from advisor.subjects import Subject
from advisor.trace import Fact, Looked
from advisor.values import CENTRE, Known


@fact(
    "clients_joined",
    about="radio",
    unit="",
    digits=0,
    meaning="active clients that join this radio at typical levels; those of places of which nobody can tell what they "
    "join count at the high end",
)
def clients_joined(book: Book, subject: Subject) -> Fact:
    radio = subject.ids[0]
    here: dict[str, int] = {}
    unresolved: dict[str, int] = {}
    for place in sorted(book.site.places):
        answer, clients = joins.association(book, place), everyone.active(book, place)
        if answer.missing:
            unresolved[place] = clients
        elif radio in answer.radios and answer.joined[CENTRE] == answer.radios.index(radio):
            here[place] = clients
    count = float(sum(here.values()))
    how = "joined: " + (", ".join(f"{place} {clients}" for place, clients in here.items() if clients) or "none")
    how += f"; not known of: {', '.join(unresolved)}" if unresolved else ""
    value = Known(count, count, count + sum(unresolved.values()))
    return Fact(f"clients_joined[{subject.key}]", "", value, Looked(how))
