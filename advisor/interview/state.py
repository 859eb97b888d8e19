"""What is known so far: the site as it would stand in the file, and which questions are behind us."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field, replace
from typing import Any

UNNAMED = "Unnamed site"
"""Stands where the person gave no name; the site file asks for one."""

GROUND = "ground"


@dataclass(frozen=True)
class State:
    """`site` is never changed in place. `base` is what stood in a file the interview did not write as it is."""

    site: Mapping[str, Any]
    left_open: tuple[str, ...] = ()
    """Keys of the questions that got no answer."""
    done: tuple[str, ...] = ()
    """Keys of questions whose answer leaves no trace of its own: a list that is complete, "none"."""
    base: Mapping[str, Any] = field(default_factory=dict)
    remembers: bool = False
    """True where the interview wrote that file, and somebody changed it afterwards."""

    @property
    def foreign(self) -> Mapping[str, Any]:
        """What stood in a file the interview had nothing to do with."""
        return {} if self.remembers else self.base

    def asked(self, key: str) -> bool:
        return key in self.left_open or key in self.done

    def entries(self, section: str) -> Mapping[str, Any]:
        """The entries of a section, none where it is missing."""
        return dict(self.site.get(section) or {})

    def ours(self, section: str, name: str) -> bool:
        """True for an entry made in this sitting, which may still be changed."""
        return name not in (self.base.get(section) or {})


def beginning() -> State:
    """The least a site file may hold: there is always a box at the internet line."""
    return State({"site": {"name": UNNAMED}, "nodes": {"gateway": {"role": "gateway"}}})


def put(state: State, path: tuple[str, ...], value: Any) -> State:
    """The state with one more value; blocks on the way are made."""
    return replace(state, site=_with(state.site, path, value))


def _with(block: Mapping[str, Any], path: tuple[str, ...], value: Any) -> dict[str, Any]:
    first, rest = path[0], path[1:]
    return dict(block) | {first: _with(block.get(first) or {}, rest, value) if rest else value}


def finished(state: State, key: str) -> State:
    return replace(state, done=(*state.done, key)) if key not in state.done else state


def passed_over(state: State, key: str) -> State:
    return replace(state, left_open=(*state.left_open, key)) if key not in state.left_open else state


def gateway_of(state: State) -> str:
    """The node at the internet line."""
    nodes = state.entries("nodes")
    told = (state.site.get("internet") or {}).get("at")
    gateways = [name for name, node in nodes.items() if node.get("role") == "gateway"]
    return str(told) if told in nodes else (gateways or list(nodes))[0]


def floors_of(state: State) -> list[str]:
    """The storeys from the lowest up; one without a name where none are told."""
    floors = state.entries("floors")
    return sorted(floors, key=lambda name: floors[name].get("level", 0)) or [""]


def rooms_on(state: State, floor: str) -> list[str]:
    """The rooms of a storey; rooms of no storey belong to the one without a name."""
    return [name for name, room in state.entries("rooms").items() if (room.get("floor") or "") == floor]


def joined_rooms(state: State, room: str) -> set[str]:
    """Rooms told to be next to, above or below a room, from either side."""
    rooms = state.entries("rooms")
    own = set(rooms.get(room, {}).get("next_to") or {})
    return own | {name for name, other in rooms.items() if room in (other.get("next_to") or {})}


def placed(state: State, section: str, name: str) -> bool:
    """True when it is told where a node or place is."""
    entry = state.site[section][name]
    return any(entry.get(word) for word in ("room", "at", "paths"))


def parents_possible(state: State, node: str) -> list[str]:
    """Nodes it may be joined to: all but itself and those that hang on it."""
    nodes = state.entries("nodes")

    def hangs_on(name: str) -> bool:
        seen: set[str] = set()
        while name and name not in seen:
            if name == node:
                return True
            seen.add(name)
            name = (nodes.get(name, {}).get("uplink") or {}).get("to", "")
        return False

    return [name for name in nodes if not hangs_on(name)]
