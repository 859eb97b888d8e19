"""The capacity tables as text: what each hop carries and what each place gets."""

from __future__ import annotations

from collections.abc import Iterator
from typing import TYPE_CHECKING

from rich.text import Text

from advisor.assess import hop_rows, place_rows
from advisor.facts.book import Book
from advisor.report import say
from advisor.report.text import heading, plain_table
from advisor.site.load import LoadedSite
from advisor.units import inert

if TYPE_CHECKING:
    from rich.console import RenderableType


def capacity(book: Book, loaded: LoadedSite) -> Iterator[RenderableType]:
    """Hops, then places; numbers are centre and, in brackets, the 10 and 90 % points."""
    yield heading(loaded)
    hops, places = hop_rows(book), place_rows(book)
    if hops:
        yield Text()
        table = plain_table(title="What each hop carries (Mb/s; in brackets the 10 and 90 % points)")
        for column in ("hop", "to", "over", "level dBm", "rate down/up", "alone", "while serving", "asked of it"):
            table.add_column(column)
        for hop in hops:
            table.add_row(
                *(Text(inert(cell)) for cell in (hop.node, hop.parent, hop.over)), say.short(hop.level, "–"),
                f"{_centre(hop.rate_down)}/{_centre(hop.rate_up)}", say.short(hop.alone), say.short(hop.serving, "–"),
                say.short(hop.demand),
            )
        yield table
    if places:
        yield Text()
        table = plain_table(title="What each client gets at each place (Mb/s down; everyone: each active client)")
        for column in ("place", "client", "joins", "alone", "everyone, likely", "up", "limited by"):
            table.add_column(column)
        for row in places:
            table.add_row(
                Text(inert(row.place)), Text(inert(row.client)), Text(_centre(row.joined)), say.short(row.alone),
                say.short(row.everyone), say.short(row.everyone_up), Text(limited_by(say.short(row.binds))),
            )
        yield table
    unknown = [row.place for row in places if say.short(row.alone) == "?"]
    if unknown:
        yield Text()
        yield Text(f"? not known: {', '.join(inert(name) for name in unknown)} (`advisor why` says what is missing)")


def _centre(fact: object) -> str:
    from advisor.trace import Fact
    from advisor.units import number
    from advisor.values import Known

    assert isinstance(fact, Fact)
    if isinstance(fact.value, Known):
        return inert(number(fact.value.centre, say.digits_of(fact)))
    return say.short(fact, "–")


def limited_by(cause: str) -> str:
    """The subject key that binds, in words."""
    if cause == "site":
        return "the internet line"
    kind, _, name = cause.partition("=")
    words = {"hop": f"the hop of {name}", "place": "its own last link", "domain": f"the air around {name}"}
    return words.get(kind, cause)
