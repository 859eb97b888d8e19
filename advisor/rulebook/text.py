"""The texts of rules: Jinja2 in its sandbox, with undefined names refused and filters that print units.

What comes from the site reaches a template as data only: a network named `{{7*7}}` prints as it is written. Nothing is
escaped here; each view escapes for its own format. Jinja2 is imported when the first text is rendered.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping
from functools import lru_cache
from typing import TYPE_CHECKING, Any

from advisor.rulebook import units
from advisor.rulebook.expression import ExpressionError, Lookup, nearest, reference
from advisor.rulebook.schema import Param
from advisor.rulebook.tree import Reference
from advisor.units import known_text, number, value_text
from advisor.values import Known, Options, Scalar, Unknown, Value

if TYPE_CHECKING:
    from jinja2 import Template
    from jinja2.nodes import Node
    from jinja2.sandbox import SandboxedEnvironment

CONTEXT = ("subject", "params", "verdict", "chance", "failing_options")
"""What a text may name besides facts: the subject (name, key, ids), the parameters, the verdict, the chance in percent
that a need is met, and, where the equipment may choose, the options that fail."""


class Shown:
    """A value in a text. Printed alone it has its declared digits and no unit; unknown prints as 'unknown'."""

    __slots__ = ("_digits", "_unit", "_value")

    def __init__(self, value: Value, unit: str, digits: int | None) -> None:
        self._value, self._unit, self._digits = value, units.normal(unit), digits

    @property
    def known(self) -> bool:
        return isinstance(self.content, Known)

    @property
    def value(self) -> Scalar | None:
        """The centre, or None where it is not one known value."""
        return self.content.centre if isinstance(self.content, Known) else None

    @property
    def content(self) -> Value:
        return self._value

    @property
    def unit(self) -> str:
        return self._unit

    @property
    def digits(self) -> int | None:
        return self._digits

    def __str__(self) -> str:
        return _with_unit(self, "", band=False)


class FactView(Shown):
    """A fact in a text: read only when it is printed; `goodput_mbps.up` is the variant, as in a condition."""

    __slots__ = ("_find", "_path")

    def __init__(self, path: str, find: Callable[[str], tuple[Reference, Value]]) -> None:
        self._path, self._find = path, find

    def __getattr__(self, choice: str) -> FactView:
        if choice.startswith("_"):
            raise AttributeError(choice)
        return FactView(f"{self._path}.{choice}", self._find)

    @property
    def content(self) -> Value:
        return self._find(self._path)[1]

    @property
    def unit(self) -> str:
        return self._find(self._path)[0].unit

    @property
    def digits(self) -> int | None:
        return self._find(self._path)[0].digits


class ParamsView:
    """`params.floor_dbm` in a text."""

    __slots__ = ("_params",)

    def __init__(self, params: Mapping[str, Param]) -> None:
        self._params = params

    def __getattr__(self, name: str) -> Any:
        if name.startswith("_") or name not in self._params:
            raise AttributeError(name)
        param = self._params[name]
        if isinstance(param.value, tuple):
            return ", ".join(number(item, None) for item in param.value)
        return Shown(Known(param.value, param.value, param.value), param.unit, None)


def _with_unit(shown: Any, unit: str, *, band: bool) -> str:
    if not isinstance(shown, Shown):
        if isinstance(shown, bool | str) or not isinstance(shown, int | float):
            raise TypeError(f"cannot print {shown!r} with a unit")
        shown = Shown(Known(shown, shown, shown), unit, None)
    value, digits = shown.content, shown.digits
    if unit and shown.unit != unit:
        raise TypeError(f"a value in {units.shown(shown.unit)} cannot be printed in {unit}")
    if isinstance(value, Options):
        return _of_options(value, unit, digits)
    return "unknown" if isinstance(value, Unknown) else known_text(value, unit, digits, band=band)


def _share(shown: Any) -> str:
    """A share of time in percent with its band: `111 (80–150) %`."""
    if not isinstance(shown, Shown) or shown.unit:
        raise TypeError(f"cannot print {shown!r} as a share")
    return _with_unit(Shown(_hundredfold(shown.content), "%", 0), "%", band=True)


def _hundredfold(value: Value) -> Value:
    if isinstance(value, Options):
        return Options({name: _hundredfold(answer) for name, answer in value.answers.items()})  # type: ignore[misc]
    if isinstance(value, Unknown):
        return value
    centre, low, high = (100.0 * float(end) for end in (value.centre, value.low, value.high))
    return Known(centre, low, high)


def _of_options(value: Options, unit: str, digits: int | None) -> str:
    """The centres of all options, for the middle of a sentence: `65, 68 or 28 Mb/s`; equal ones are told once."""
    answers = [
        "unknown" if isinstance(answer, Unknown) else known_text(answer, unit, digits, band=False)
        for answer in value.answers.values()
    ]
    if len(set(answers)) == 1:
        return answers[0]
    bare = [answer.removesuffix(f" {unit}") for answer in answers]
    return f"{', '.join(bare[:-1])} or {bare[-1]} {unit}".rstrip() + " (as the uplink runs)"


def _options(shown: Any) -> str:
    """Every option with its answer and band: `to stair on 5 GHz: 68 (16–93) Mb/s; …`."""
    if not isinstance(shown, Shown):
        raise TypeError(f"cannot print the options of {shown!r}")
    return value_text(shown.content, shown.unit, shown.digits)


def _unit_filter(unit: str) -> Callable[[Any], str]:
    return lambda shown: _with_unit(shown, unit, band=False)


def _band(shown: Any) -> str:
    return _with_unit(shown, shown.unit if isinstance(shown, Shown) else "", band=True)


@lru_cache(maxsize=1)
def environment() -> SandboxedEnvironment:
    """The sandbox: no globals, no loader, undefined names are errors."""
    from jinja2 import StrictUndefined
    from jinja2.sandbox import ImmutableSandboxedEnvironment

    made = ImmutableSandboxedEnvironment(
        undefined=StrictUndefined, autoescape=False, trim_blocks=True, lstrip_blocks=True
    )
    made.globals = {}
    made.filters |= {suffix: _unit_filter(spellings[0]) for suffix, spellings in units.SUFFIXES.items()}
    made.filters |= {"band": _band, "options": _options, "share": _share}
    return made


@lru_cache(maxsize=2048)
def _compiled(source: str) -> tuple[Template, tuple[str, ...]]:
    from jinja2 import meta

    made = environment()
    tree = made.parse(source)
    names = meta.find_undeclared_variables(tree)
    template = made.template_class.from_code(made, made.compile(tree), made.make_globals(None))
    return template, tuple(sorted(names))


def render(source: str, context: Mapping[str, Any], find: Callable[[str], tuple[Reference, Value]]) -> str:
    """Render one text; names that are not in `context` are facts, found by their dotted path."""
    if "{" not in source:  # nothing to fill in: no need to wake the template engine
        return source.strip()
    template, names = _compiled(source)
    facts = {name: FactView(name, find) for name in names if name not in context}
    return template.render(**facts, **context).strip()


def check_text(source: str, about: str, lookup: Lookup, params: Mapping[str, Param]) -> list[str]:
    """What is wrong with a text before it is rendered: syntax, unknown facts, variants, parameters and filters."""
    from jinja2 import TemplateSyntaxError, meta

    try:
        tree = environment().parse(source)
        environment().from_string(source)
    except TemplateSyntaxError as error:
        return [f"line {error.lineno}: {error.message}"]
    free = meta.find_undeclared_variables(tree)
    problems: list[str] = []
    for path in _paths(tree):
        head, *rest = path.split(".")
        if head not in free:
            continue
        if head == "params" and (not rest or rest[0] not in params):
            problems.append(f"unknown parameter {path}. {nearest(rest[0] if rest else '', params)}")
        elif head not in CONTEXT:
            if rest and rest[-1] in ("value", "known"):
                rest.pop()
            try:
                reference(".".join([head, *rest]), about, lookup)
            except ExpressionError as error:
                problems.append(f"{error.what}. {error.help}".removesuffix(". "))
    return problems


def _paths(node: Node) -> Iterator[str]:
    """Every dotted name of a template, each as long as it goes."""
    from jinja2 import nodes

    parts: list[str] = []
    inner = node
    while isinstance(inner, nodes.Getattr):
        parts.append(inner.attr)
        inner = inner.node
    if isinstance(inner, nodes.Name):
        yield ".".join([inner.name, *reversed(parts)])
        return
    for child in inner.iter_child_nodes():
        yield from _paths(child)
