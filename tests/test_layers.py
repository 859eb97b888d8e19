"""Imports go down only, and every file stays readable."""

from __future__ import annotations

import ast
from pathlib import Path

import pytest

PACKAGE = Path(__file__).parent.parent / "advisor"

LAYERS = (
    {"cli"},
    {"report", "interview"},
    {"compare"},
    {"advice", "evidence"},
    {"assess"},
    {"questions", "ignoring", "possible", "tables"},
    {"rulebook"},
    {"facts"},
    {"network", "walk", "outage"},
    {"physics", "site"},
    {"data"},
    {"trace"},
    {"units"},
    {"values", "errors", "subjects"},
)
"""From top to bottom; parts of one layer do not know each other."""

LEVEL = {part: number for number, parts in enumerate(LAYERS) for part in parts}
FILES = sorted(path for path in PACKAGE.rglob("*.py"))
ONLY_HERE = {
    "networkx": ("network", "outage"),
    "rich": ("report", "cli"),
    "typer": ("cli",),
    "shapely": ("network",),
    "matplotlib": ("report",),
}
LONGEST = 420


def part_of(path: Path) -> str:
    return path.relative_to(PACKAGE).with_suffix("").parts[0]


def imported(path: Path) -> set[str]:
    """Names of all modules a file imports, also inside functions."""
    names: set[str] = set()
    for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
        if isinstance(node, ast.Import):
            names |= {alias.name for alias in node.names}
        elif isinstance(node, ast.ImportFrom):
            assert node.level == 0, f"{path}: relative import"
            names |= {f"{node.module}.{alias.name}" for alias in node.names}
    return names


@pytest.mark.parametrize("path", FILES, ids=lambda path: str(path.relative_to(PACKAGE)))
def test_imports_go_down(path: Path) -> None:
    part = part_of(path)
    if part in ("__init__", "__main__"):
        return
    for name in imported(path):
        words = name.split(".")
        if words[0] == "advisor" and len(words) > 1 and words[1] in LEVEL and words[1] != part:
            assert LEVEL[words[1]] > LEVEL[part], f"{part} imports {name}, which lies above or beside it"


@pytest.mark.parametrize("path", FILES, ids=lambda path: str(path.relative_to(PACKAGE)))
def test_libraries_stay_in_their_rooms(path: Path) -> None:
    for library, rooms in ONLY_HERE.items():
        if any(name.split(".")[0] == library for name in imported(path)):
            assert part_of(path) in rooms, f"{library} belongs into {rooms}"


@pytest.mark.parametrize("path", FILES, ids=lambda path: str(path.relative_to(PACKAGE)))
def test_only_the_command_line_prints_or_exits(path: Path) -> None:
    if part_of(path) == "cli":
        return
    for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
        if isinstance(node, ast.Call):
            called = ast.unparse(node.func)
            assert called not in ("print", "exit", "quit", "sys.exit", "sys.stdout.write"), (
                f"{path}:{node.lineno} {called}"
            )


@pytest.mark.parametrize("path", FILES, ids=lambda path: str(path.relative_to(PACKAGE)))
def test_files_stay_short(path: Path) -> None:
    lines = len(path.read_text(encoding="utf-8").splitlines())
    assert lines <= LONGEST, f"{lines} lines"


def test_every_part_has_a_layer() -> None:
    parts = {part_of(path) for path in FILES} - {"__init__", "__main__"}
    assert parts == set(LEVEL)


def test_no_circle_of_imports_inside_a_part() -> None:
    """Also imports inside functions count: a lazy circle is a circle."""
    import networkx as nx

    graph: nx.DiGraph[str] = nx.DiGraph()
    modules = {".".join(path.relative_to(PACKAGE.parent).with_suffix("").parts) for path in FILES}
    for path in FILES:
        mine = ".".join(path.relative_to(PACKAGE.parent).with_suffix("").parts)
        for name in imported(path):
            target = name if name in modules else name.rpartition(".")[0]
            if target in modules and target != mine:
                graph.add_edge(mine, target)
    assert [sorted(circle) for circle in nx.strongly_connected_components(graph) if len(circle) > 1] == []
