"""The time-sharing program keeps to itself: results alone reach stdout."""

from __future__ import annotations

import subprocess
import sys

RING = """
import networkx as nx
from advisor.network.schedule import best_factor
print(best_factor(nx.cycle_graph(["a", "b", "c", "d", "e"]), dict.fromkeys("abcde", 1.0)).factor)
"""


def test_the_solver_does_not_greet_on_stdout() -> None:
    result = subprocess.run([sys.executable, "-c", RING], capture_output=True, text=True, check=True)
    assert result.stderr == ""
    assert abs(float(result.stdout) - 0.4) < 1e-9
