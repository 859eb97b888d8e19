"""Reading a rule file: YAML with duplicate keys, aliases and tags refused, and the position of every part kept.

Plain words read as in the YAML 1.2 core schema: `no`, `on` and `12:30` are texts.
"""

from __future__ import annotations

import re
from typing import Any

import yaml

from advisor.errors import Position, Problem

_Base: Any = getattr(yaml, "CSafeLoader", yaml.SafeLoader)
MAX_DEPTH = 12


class _Loader(_Base):  # type: ignore[misc]
    yaml_implicit_resolvers: dict[str, Any] = {}  # noqa: RUF012  # pyyaml's own way to replace its table


for _tag, _pattern, _first in (
    ("bool", r"^(?:true|false)$", "tf"),
    ("int", r"^[-+]?[0-9]+$", "-+0123456789"),
    ("float", r"^[-+]?(?:\.[0-9]+|[0-9]+(?:\.[0-9]*)?)(?:[eE][-+]?[0-9]+)?$", "-+.0123456789"),
    ("null", r"^(?:~|null|)$", ["~", "n", ""]),
):
    _Loader.add_implicit_resolver(f"tag:yaml.org,2002:{_tag}", re.compile(_pattern), list(_first))

_SCALARS: dict[str, Any] = {
    "tag:yaml.org,2002:str": str,
    "tag:yaml.org,2002:int": int,
    "tag:yaml.org,2002:float": float,
    "tag:yaml.org,2002:bool": lambda text: text == "true",
    "tag:yaml.org,2002:null": lambda text: None,
}


class Refused(Exception):
    """The text is not a usable YAML document."""

    def __init__(self, problem: Problem) -> None:
        self.problem = problem
        super().__init__(problem.what)


class Document:
    """The content of a file, and where each part of it stands."""

    def __init__(self, text: str) -> None:
        try:
            loader = _Loader(text)
            try:
                self._root = loader.get_single_node()
            finally:
                loader.dispose()
        except (RecursionError, UnicodeError) as error:
            raise Refused(Problem(Position(0, 0), f"cannot be read as YAML: {error}")) from None
        except yaml.YAMLError as error:
            mark = getattr(error, "problem_mark", None)
            what = getattr(error, "problem", None) or str(error).splitlines()[0]
            position = Position(mark.line + 1, mark.column + 1) if mark else Position(0, 0)
            raise Refused(Problem(position, f"cannot be read as YAML: {what}")) from None
        self._opened: set[int] = set()
        self.content: Any = self._build(self._root, 0) if self._root is not None else None

    def position(self, path: tuple[int | str, ...]) -> Position:
        """Where the deepest part of `path` that exists stands."""
        node, found = self._root, self._root
        for step in path:
            if isinstance(node, yaml.MappingNode):
                pair = next((pair for pair in node.value if pair[0].value == step), None)
                if pair is None:
                    break
                found, node = pair
            elif isinstance(node, yaml.SequenceNode) and isinstance(step, int) and step < len(node.value):
                found = node = node.value[step]
            else:
                break
        return _at(found) if found is not None else Position(1, 1)

    def _build(self, node: Any, depth: int) -> Any:
        if isinstance(node, yaml.ScalarNode):
            convert = _SCALARS.get(node.tag)
            if convert is None:
                raise Refused(Problem(_at(node), f"tags are not used in rule files: {node.tag}"))
            try:
                return convert(node.value)
            except ValueError:
                raise Refused(Problem(_at(node), "the number is too long")) from None
        if id(node) in self._opened:
            raise Refused(Problem(_at(node), "anchors and aliases are not used in rule files"))
        if depth > MAX_DEPTH:
            raise Refused(Problem(_at(node), f"nested deeper than {MAX_DEPTH} levels"))
        self._opened.add(id(node))
        if isinstance(node, yaml.SequenceNode) and node.tag == "tag:yaml.org,2002:seq":
            return [self._build(item, depth + 1) for item in node.value]
        if isinstance(node, yaml.MappingNode) and node.tag == "tag:yaml.org,2002:map":
            return self._mapping(node, depth)
        raise Refused(Problem(_at(node), f"tags are not used in rule files: {node.tag}"))

    def _mapping(self, node: yaml.MappingNode, depth: int) -> dict[str, Any]:
        result: dict[str, Any] = {}
        for key, value in node.value:
            if not isinstance(key, yaml.ScalarNode):
                raise Refused(Problem(_at(key), "a key is one word"))
            if key.value in result:
                raise Refused(Problem(_at(key), f"the key {key.value} stands here twice", "Keep one of the two"))
            result[key.value] = self._build(value, depth + 1)
        return result


def _at(node: Any) -> Position:
    return Position(node.start_mark.line + 1, node.start_mark.column + 1)
