"""What of an old value a wanted one still holds: which entries were renamed, which items stayed."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from typing import Any, TypeAlias

MOST_COMPARED = 2500
"""Pairs of list items looked at; longer changes are matched by their number."""

Match: TypeAlias = list[int | None]
"""For each item of the new list the number of the old one it was, or None where it is new; in rising order."""


class Block(dict[str, Any]):
    """A mapping that knows what its renamed keys were called."""

    def __init__(self, entries: Mapping[str, Any]) -> None:
        super().__init__(entries)
        self.renames: dict[str, str] = {}


class Row(list[Any]):
    """A list that knows where its items stood."""

    def __init__(self, items: Sequence[Any]) -> None:
        super().__init__(items)
        self.origins: Match = list(range(len(items)))


def followed(value: Any) -> Any:
    """A copy of plain data whose mappings and lists follow what is done to them."""
    if isinstance(value, Mapping):
        return Block({key: followed(item) for key, item in value.items()})
    if isinstance(value, (list, tuple)):
        return Row([followed(item) for item in value])
    return value


def plain(value: Any) -> Any:
    """A copy as plain data."""
    if isinstance(value, Mapping):
        return {key: plain(item) for key, item in value.items()}
    if isinstance(value, (list, tuple)):
        return [plain(item) for item in value]
    return value


def same(before: Any, after: Any) -> bool:
    """Whether two values are alike, with their types: 1 is neither 1.0 nor true."""
    if isinstance(before, Mapping) and isinstance(after, Mapping):
        return before.keys() == after.keys() and all(same(before[key], after[key]) for key in before)
    if isinstance(before, (list, tuple)) and isinstance(after, (list, tuple)):
        return len(before) == len(after) and all(same(a, b) for a, b in zip(before, after, strict=True))
    return type(before) is type(after) and bool(before == after)


def keys(before: Mapping[str, Any], after: Mapping[str, Any]) -> dict[str, str]:
    """The keys that stay, each with what it is called afterwards."""
    renames = after.renames if isinstance(after, Block) else {}
    renames = {new: old for new, old in renames.items() if old in before and new in after}
    taken = set(renames.values())
    stay = {renames.get(key, key): key for key in after if key in renames or (key in before and key not in taken)}
    return {key: stay[key] for key in before if key in stay}


def items(before: Sequence[Any], after: Sequence[Any]) -> Match:
    """Which items stay."""
    if isinstance(after, Row) and len(after.origins) == len(after):
        found = [origin if origin is not None and origin < len(before) else None for origin in after.origins]
    else:
        found = list(_alike(before, after))
    if before and all(origin is None for origin in found):
        both = min(len(before), len(after))
        return [*range(both), *([None] * (len(after) - both))]
    return found


def _alike(before: Sequence[Any], after: Sequence[Any]) -> Iterator[int | None]:
    """What is the same at the head and the tail; between them, what costs least to change."""
    shorter = min(len(before), len(after))
    head = next((n for n in range(shorter) if not same(before[n], after[n])), shorter)
    rest = shorter - head
    tail = next((n for n in range(rest) if not same(before[-1 - n], after[-1 - n])), rest)
    yield from range(head)
    old, new = before[head : len(before) - tail], after[head : len(after) - tail]
    for origin in _cheapest(old, new):
        yield None if origin is None else head + origin
    yield from range(len(before) - tail, len(before))


_GOES = 0.6
"""The cost of an item that goes or comes, beside 1 for one that becomes something else: changing is cheaper."""


def _cheapest(old: Sequence[Any], new: Sequence[Any]) -> Match:
    if len(old) * len(new) > MOST_COMPARED:
        both = min(len(old), len(new))
        return [*range(both), *([None] * (len(new) - both))]
    unlike = [[1 - _likeness(a, b) for b in new] for a in old]
    cost = [[0.0] * (len(new) + 1) for _ in range(len(old) + 1)]
    for i in range(len(old), -1, -1):
        for j in range(len(new), -1, -1):
            ways = []
            if i < len(old) and j < len(new):
                ways.append(unlike[i][j] + cost[i + 1][j + 1])
            if i < len(old):
                ways.append(_GOES + cost[i + 1][j])
            if j < len(new):
                ways.append(_GOES + cost[i][j + 1])
            cost[i][j] = min(ways, default=0.0)
    found: Match = []
    i = j = 0
    while j < len(new):
        if i < len(old) and cost[i][j] == unlike[i][j] + cost[i + 1][j + 1]:
            found.append(i)
            i, j = i + 1, j + 1
        elif i < len(old) and cost[i][j] == _GOES + cost[i + 1][j]:
            i += 1
        else:
            found.append(None)
            j += 1
    return found


def _likeness(before: Any, after: Any) -> float:
    """Between 0, nothing in common, and 1, the same."""
    if same(before, after):
        return 1.0
    if isinstance(before, Mapping) and isinstance(after, Mapping):
        alike = sum(key in after and same(item, after[key]) for key, item in before.items())
    elif isinstance(before, (list, tuple)) and isinstance(after, (list, tuple)):
        alike = sum(same(a, b) for a, b in zip(before, after, strict=False))
    else:
        return 0.0
    return 0.99 * alike / max(len(before), len(after), 1)
