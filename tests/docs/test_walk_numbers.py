"""The gaps told in section 9 of `docs/model.md`, worked out again along ways made of levels."""

from __future__ import annotations

import re
from pathlib import Path

import numpy as np
import pytest

from advisor.walk.chance import Chance
from advisor.walk.client import follow
from advisor.walk.handover import look_around
from advisor.walk.records import Array, Trail
from tests.walk.made_trail import PHONE, cut, node, planned

PAGE = " ".join((Path(__file__).parent.parent.parent / "docs" / "model.md").read_text(encoding="utf-8").split())
KINDS = [
    ("open", False),
    ("wpa2-enterprise", True),
    ("wpa2-personal", False),
    ("wpa3-personal", False),
    ("wpa2-enterprise", False),
]
"""Columns of the table, in order."""


def silent_s(trail: Trail) -> Array:
    result: Array = follow(trail, PHONE, Chance(1, 2000)).gap_s.sum(axis=1)
    return result


@pytest.mark.parametrize(("column", "kind"), list(enumerate(KINDS)))
def test_gaps_of_planned_changes(column: int, kind: tuple[str, bool]) -> None:
    cells = re.findall(r"\| (\d+) \((\d+)–(\d+)\) ms", PAGE)
    assert len(cells) == len(KINDS)
    security, fast = kind
    ours = 1e3 * np.quantile(silent_s(planned(node(1, security, r=fast), node(2, security, r=fast))), (0.5, 0.1, 0.9))
    assert ours == pytest.approx(np.array([float(cell) for cell in cells[column]]), abs=0.51)


def test_a_lost_link() -> None:
    both = np.concatenate([silent_s(cut(node(1, k=listed), node(2, k=listed))) for listed in (False, True)])
    low, high = np.quantile(both, (0.1, 0.9))
    assert f"{low:.1f} to {high:.1f} s in all (10 to 90 %" in PAGE


def test_packets_lost_while_it_looks_around() -> None:
    look = look_around(PHONE, node(1), (node(1), node(2)), np.full(1, 0.5))
    assert f"({100 * look.late[0]:.1f} % while it looks through all channels" in PAGE
