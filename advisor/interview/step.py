"""One step of the interview: when it is wanted, what may be answered, and what the answer does."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from typing import NamedTuple, TypeAlias

from advisor.data import catalogue
from advisor.interview.state import State

Taken: TypeAlias = tuple[State, str]
"""The state with an answer, and how the answer was understood where that may not be plain."""

Choices: TypeAlias = tuple[tuple[str, str], ...]
"""Words to choose from, each with its meaning."""


def _always(state: State, subject: str) -> bool:
    return True


def _no_choices(state: State, subject: str) -> Choices:
    return ()


def _nothing(state: State, subject: str) -> Mapping[str, str]:
    return {}


class Step(NamedTuple):
    """`take` raises Complaint. `many` steps are asked until an empty line; `some` tells whether any answer is there."""

    id: str
    take: Callable[[State, str, str], Taken]
    wanted: Callable[[State, str], bool] = _always
    choices: Callable[[State, str], Choices] = _no_choices
    fill: Callable[[State, str], Mapping[str, str]] = _nothing
    many: bool = False
    some: Callable[[State, str], bool] = lambda state, subject: False
    empty_is_none: bool = False
    """An empty line at once means "none", not "don't know"."""
    no_is_empty: bool = False
    """`no` and `none` are taken as an empty line."""
    numbered: bool = True
    """Its choices may be answered by their number in the list."""

    def key(self, subject: str) -> str:
        return f"{self.id}.{subject}" if subject else self.id


def choices_told(step: str) -> Choices:
    """The choices the wording of a step lists."""
    told = catalogue("interview")["questions"][step]["choices"]
    return tuple((str(word), str(meaning)) for word, meaning in told.items())


def listed(names: Sequence[str]) -> dict[str, str]:
    """Names for the wording: all, the first, the second."""
    names = list(names) or ["…"]
    return {"others": ", ".join(names), "first": names[0], "second": names[min(1, len(names) - 1)]}


def meanings(kinds: Mapping[str, str]) -> str:
    """Kinds with their meaning, one a line, for a longer explanation."""
    return "".join(f"\n  {name}: {meaning}" for name, meaning in kinds.items())
