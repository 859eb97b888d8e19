"""What a fact or a finding is about: first-class subjects with ordered keys."""

from __future__ import annotations

from typing import NamedTuple

KINDS: dict[str, tuple[str, ...]] = {
    "site": (),
    "node": ("node",),
    "radio": ("radio",),
    "hop": ("hop",),
    "place": ("place",),
    "place-radio": ("place", "radio"),
    "radio-pair": ("radio", "radio"),
    "node-pair": ("node", "node"),
    "network": ("network",),
    "name": ("name",),
    "domain": ("domain",),
    "need": ("need",),
    "measured": ("measured",),
    "path": ("end", "node"),
    "walk": ("walk",),
    "handover": ("walk", "node", "node"),
    "outage": ("outage",),
}
"""Every subject kind with the roles of its ids. A radio's id is `node.radio`; a hop's is the id of its lower node."""


class Subject(NamedTuple):
    """One subject. Pairs of the same kind are kept in one order (sorted), so a pair has one owner."""

    kind: str
    ids: tuple[str, ...]

    @property
    def key(self) -> str:
        """`hop=stair` or `place=desk,radio=stair.r5`; `site` for the site itself."""
        roles = KINDS[self.kind]
        return ",".join(f"{role}={name}" for role, name in zip(roles, self.ids, strict=True)) or "site"

    @property
    def name(self) -> str:
        """The ids alone, for people: `stair`, `desk / stair.r5`."""
        return " / ".join(self.ids) or "site"


SITE = Subject("site", ())


def node(node_id: str) -> Subject:
    return Subject("node", (node_id,))


def hop(node_id: str) -> Subject:
    """The uplink of a node."""
    return Subject("hop", (node_id,))


def radio(node_id: str, radio_id: str) -> Subject:
    return Subject("radio", (f"{node_id}.{radio_id}",))


def place(place_id: str) -> Subject:
    return Subject("place", (place_id,))


def place_radio(place_id: str, radio_name: str) -> Subject:
    """A place and a radio given by its full name `node.radio`."""
    return Subject("place-radio", (place_id, radio_name))


def pair(kind: str, first: str, second: str) -> Subject:
    """A pair of the same kind in its one order."""
    return Subject(kind, (min(first, second), max(first, second)))
