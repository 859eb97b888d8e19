"""What a site means, apart from how it is written: defaults filled in, lists whose order says nothing in one order."""

from __future__ import annotations

import json
from collections.abc import Mapping
from typing import Any

from advisor.site.fields import Entry
from advisor.site.schema import Site

IN_ANY_ORDER = frozenset(
    {
        "nodes.*.radios.*.basic_rates_mbps",
        "nodes.*.settable.power_steps_dbm",
        "nodes.*.paths.*.through",
        "places.*.paths.*.through",
        "networks.*.bands",
        "networks.*.nodes",
        "clients.*.bands",
        "clients.*.channels.*",
        "clients.*.security",
        "interference.*.channels",
        "interference.*.near",
        "choices.parents.*",
        "choices.bands.*",
        "choices.channels.*",
        "choices.widths_mhz.*",
        "choices.anywhere",
        "choices.names",
        "choices.powers_dbm.*",
        "outages.*.off",
        "outages.*.bands",
        "outages.*.gone",
        "outages.*.replaced",
        "outages.*.radar_on",
    }
)
"""Lists whose order says nothing; the points of a walk or a wall, a position and a size are not among them."""


def below(pattern: str, step: str) -> str:
    """The pattern one step further down."""
    return f"{pattern}.{step}" if pattern else step


def meaning(value: Any, pattern: str = "") -> Any:
    """A site, or what stands at a pattern of it, as plain data; alike where it means the same."""
    if isinstance(value, Entry):
        return {name: meaning(getattr(value, name), below(pattern, name)) for name in type(value).model_fields}
    if isinstance(value, Mapping):
        return {str(key): meaning(item, below(pattern, "*")) for key, item in value.items()}
    if isinstance(value, (list, tuple)):
        items = [meaning(item, below(pattern, "#")) for item in value]
        return sorted(items, key=_order) if pattern in IN_ANY_ORDER else items
    return value


def _order(item: Any) -> tuple[bool, float, str]:
    if isinstance(item, (int, float)):
        return False, item, ""
    return True, 0.0, json.dumps(item)


def same_meaning(first: Site, second: Site) -> bool:
    """Whether two sites declare the same, comments, order and defaults left aside."""
    return bool(meaning(first) == meaning(second))
