"""Invented people who answer by question: a table says what they type to each."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from pathlib import Path
from typing import TypeAlias

import pytest
import yaml

from advisor.interview.session import Sitting, begin, step
from advisor.interview.state import State, beginning

Table: TypeAlias = Mapping[str, str | Sequence[str]]
Sat: TypeAlias = tuple[Sitting, list[str], list[State]]


@pytest.fixture(scope="session")
def people() -> Mapping[str, Table]:
    """The tables of answers, by name."""
    text = Path(__file__).with_name("people.yaml").read_text(encoding="utf-8")
    return {name: dict(table) for name, table in yaml.safe_load(text).items()}


def _sit(table: Table, state: State | None = None) -> Sat:
    given: dict[str, int] = {}
    lines: list[str] = []
    sitting = begin(state or beginning())
    states = [sitting.state]
    while question := sitting.question:
        told = table.get(question.key, "")
        number = given.get(question.key, 0)
        given[question.key] = number + 1
        lines.append(told if isinstance(told, str) else told[number] if number < len(told) else "")
        sitting, _ = step(sitting, lines[-1])
        states.append(sitting.state)
        assert len(lines) < 300, f"{question.key}: {told}"
    return sitting, lines, states


@pytest.fixture
def sit() -> Callable[..., Sat]:
    """A whole sitting with a table: how it ends, the lines typed, and the state after each."""
    return _sit
