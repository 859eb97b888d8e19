"""How one number came about: the tree of its inputs, and what moves it most."""

from __future__ import annotations

from collections.abc import Iterator
from typing import TYPE_CHECKING

from rich.text import Text

from advisor.facts.explain import movers
from advisor.report import say
from advisor.trace import Fact, walk
from advisor.units import inert

if TYPE_CHECKING:
    from rich.console import RenderableType

DEEPEST = 12


def why(fact: Fact) -> Iterator[RenderableType]:
    """The tree of the centre evaluation; a number met before is named and not opened again."""
    seen: set[int] = set()
    for depth, entry in walk(fact):
        if depth > DEEPEST:
            continue
        again = id(entry) in seen
        seen.add(id(entry))
        yield _line(depth, entry, again)
    yield from _moved_by(fact)


def _line(depth: int, entry: Fact, again: bool) -> Text:
    indent = "  " * depth
    text = Text(f"{indent}{inert(entry.key)} = ", overflow="fold").append(say.value(entry), style="bold")
    if again and entry.inputs:
        return text.append("   (as above)", style="dim")
    return text.append(f"   [{say.origin(entry.by)}]", style="dim")


def _moved_by(fact: Fact) -> Iterator[RenderableType]:
    found = movers(fact)
    if not found:
        return
    yield Text()
    yield Text("What moves it most (share of its spread)", style="bold")
    for mover in found:
        yield Text(f"  {round(100 * mover.share):3d} %  {inert(mover.fact.key)}: {say.value(mover.fact)}").append(
            f"   [{say.origin(mover.fact.by)}]", style="dim"
        )
