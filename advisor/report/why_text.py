"""How one number came about: the tree of its inputs, and what moves it most."""

from __future__ import annotations

from collections.abc import Iterator
from typing import TYPE_CHECKING

from rich.padding import Padding
from rich.text import Text

from advisor.facts.explain import movers
from advisor.report import say
from advisor.trace import Fact, walk
from advisor.units import inert

if TYPE_CHECKING:
    from rich.console import RenderableType

USUAL_DEPTH = 3


def why(fact: Fact, meaning: str, deepest: int = USUAL_DEPTH) -> Iterator[RenderableType]:
    """What it means, then the tree of the centre evaluation; a number met before is named and not opened again."""
    yield Text(f"{meaning[0].upper()}{meaning[1:]}.".replace("..", "."), style="italic")
    seen: set[int] = set()
    hidden = 0
    for depth, entry in walk(fact):
        if depth > deepest:
            hidden += 1
            continue
        again = id(entry) in seen
        seen.add(id(entry))
        yield from _lines(depth, entry, again)
    if hidden:
        yield Text(f"{hidden} numbers further down are not shown; --depth {deepest + 3} shows more", style="dim")
    yield from _moved_by(fact)


def _lines(depth: int, entry: Fact, again: bool) -> Iterator[RenderableType]:
    """The number, and under it where it comes from."""
    text = Text(f"{inert(entry.key)} = ").append(say.value(entry), style="bold")
    if again and entry.inputs:
        yield Padding(text.append("   as above", style="dim"), (0, 0, 0, 2 * depth))
        return
    yield Padding(text, (0, 0, 0, 2 * depth))
    yield Padding(Text(say.origin(entry.by), style="dim"), (0, 0, 0, 2 * depth + 6))


def _moved_by(fact: Fact) -> Iterator[RenderableType]:
    found = [mover for mover in movers(fact) if mover.fact.key != fact.key]
    if not found:
        return
    yield Text()
    yield Text("What moves it most (share of its spread)", style="bold")
    for mover in found:
        yield Text(f"  {round(100 * mover.share):3d} %  {inert(mover.fact.key)} = {say.value(mover.fact)}")
        yield Padding(Text(say.origin(mover.fact.by), style="dim"), (0, 0, 0, 9))
