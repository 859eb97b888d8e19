"""The capacity tables as text: what each hop carries and what each place gets."""

from __future__ import annotations

from collections.abc import Iterator
from typing import TYPE_CHECKING

from rich.text import Text

from advisor.facts.book import Book
from advisor.report import say
from advisor.report.text import heading, plain_table
from advisor.site.load import LoadedSite
from advisor.tables import hop_rows, place_rows
from advisor.units import inert

if TYPE_CHECKING:
    from rich.console import RenderableType


def capacity(book: Book, loaded: LoadedSite) -> Iterator[RenderableType]:
    """Hops, then places; numbers are centre and, in brackets, the 10 and 90 % points."""
    yield heading(loaded)
    hops, places = hop_rows(book), place_rows(book)
    if hops:
        yield Text()
        table = plain_table(title="What each hop carries, Mb/s")
        for column in ("hop", "over", "level dBm", "rate down/up", "alone", "to the places behind", "asked of it"):
            table.add_column(column)
        for hop in hops:
            table.add_row(
                Text(inert(f"{hop.node} to {hop.parent}" + (", if it so chooses" if hop.open else ""))),
                Text(hop.over),
                say.short(hop.level, "–"),
                f"{say.centre(hop.rate_down, '–')}/{say.centre(hop.rate_up, '–')}",
                say.short(hop.alone),
                say.short(hop.serving, "–"),
                say.short(hop.demand),
            )
        yield table
    if places:
        yield Text()
        table = plain_table(title="What each client gets at each place, Mb/s")
        for column in ("place", "client", "joins", "alone", "everyone down", "everyone up", "limited by"):
            table.add_column(column)
        for row in places:
            table.add_row(
                Text(inert(row.place)),
                Text(inert(row.client)),
                Text(say.centre(row.joined)),
                say.short(row.alone),
                say.short(row.everyone),
                say.short(row.everyone_up),
                Text(limited_by(say.centre(row.binds))),
            )
        yield table
    yield Text()
    yield Text(LEGEND, style="dim")


LEGEND = (
    "In brackets the 10 and 90 % points. Alone: nobody else active. To the places behind: what reaches them all the "
    "way, with the air they share. Everyone: each active client, when all take what they need and then "
    "what is left. "
    "Strokes: depends on how an uplink left to the equipment runs. ?: not known, `advisor why` says what is missing."
)


def limited_by(cause: str) -> str:
    """The subject key that binds, in words."""
    if cause == "site":
        return "the internet line"
    kind, _, name = cause.partition("=")
    words = {"hop": f"the hop of {name}", "place": "its own last link", "domain": f"the air around {name}"}
    return words.get(kind, cause)
