"""Hops from each node to its parent, and the ways they make."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class Hop:
    """The uplink of `node` as it runs now, or as one option of it."""

    node: str
    parent: str
    over: str
    radio: str | None = None
    """This node's radio, for an air hop."""
    parent_radio: str | None = None
    """The parent's radio it joins, for an air hop."""
    band: str | None = None
    """Band of an air hop."""

    @property
    def air(self) -> bool:
        return self.over == "radio"

    @property
    def option(self) -> str:
        """How this choice is named among the options of an open uplink."""
        return f"to {self.parent} on {self.band} GHz" if self.air else f"to {self.parent} by {self.over}"


def chain(node: str, hops: Mapping[str, Hop]) -> list[Hop]:
    """The hops from `node` up to the node without an uplink; stops where a loop would close."""
    result: list[Hop] = []
    seen = {node}
    while node in hops:
        result.append(hops[node])
        node = hops[node].parent
        if node in seen:
            break
        seen.add(node)
    return result


def between(start: str, end: str, hops: Mapping[str, Hop]) -> tuple[list[Hop], list[Hop]] | None:
    """Hops climbed from `start` and hops climbed from `end` until the two meet; None where they never do."""
    up, down = chain(start, hops), chain(end, hops)
    up_nodes = [start] + [hop.parent for hop in up]
    down_nodes = [end] + [hop.parent for hop in down]
    meeting = next((node for node in up_nodes if node in down_nodes), None)
    if meeting is None:
        return None
    return up[: up_nodes.index(meeting)], down[: down_nodes.index(meeting)]


def below(node: str, hops: Mapping[str, Hop]) -> set[str]:
    """The node and every node whose traffic passes its uplink."""
    return {node} | {name for name in hops if any(node in (hop.node, hop.parent) for hop in chain(name, hops))}
