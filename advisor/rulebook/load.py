"""Finding, reading and checking the rules: one file each, `rules/<topic>/<id>.yaml`; every error is collected."""

from __future__ import annotations

from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

from pydantic import BaseModel, ValidationError

import advisor
from advisor.errors import AdvisorError, Position, Problem, RuleError
from advisor.facts import catalogue
from advisor.rulebook import units
from advisor.rulebook.expression import Entries, ExpressionError, Lookup, compile_expression, nearest, reference
from advisor.rulebook.schema import Example, Need, Param, Remedy, RuleBody
from advisor.rulebook.tree import Expression, Quantity, Reference
from advisor.rulebook.yaml_text import Document, Refused
from advisor.values import Known, Options, Scalar, Unknown, Value, constant


@dataclass(frozen=True, slots=True)
class Rule:
    """A rule that was read and checked: what the file says, and its compiled conditions."""

    body: RuleBody
    topic: str
    file: str
    """`rules/<topic>/<id>.yaml`, for messages."""
    where: Expression | None
    when: Expression | None
    value: Expression | None
    at_least: Expression | None
    cause: Reference | None
    examples: tuple[tuple[Example, dict[Quantity, Value]], ...]
    lookup: Lookup = field(compare=False, repr=False)

    @property
    def id(self) -> str:
        return self.body.id

    @property
    def about(self) -> str:
        return self.body.about


class RuleFilesError(RuleError):
    """Some rules cannot be loaded; `problems` lists every one, with its file."""

    def __init__(self, problems: list[tuple[str, Problem]]) -> None:
        self.problems = tuple(sorted(set(problems)))
        lines = [problem.text(file) for file, problem in self.problems]
        self.rule = ", ".join(dict.fromkeys(Path(file).stem for file, _ in self.problems))
        self.subject, self.what = "", "\n".join(lines)
        AdvisorError.__init__(self, "\n".join([f"rules that cannot be used: {self.rule}", *lines]))


def find_rules() -> Path:
    """The folder of the rules: inside the package when installed, beside the package in a checkout."""
    package = Path(advisor.__file__).parent
    for folder in (package / "rules", package.parent / "rules"):
        if folder.is_dir():
            return folder
    raise RuleError("(all)", f"no rules found in {package / 'rules'}; the installation is incomplete")


def load_rules(
    lookup: Lookup, entries: Entries = catalogue.entries, folder: Path | None = None, *, examples: bool = True
) -> tuple[Rule, ...]:
    """Every rule, by id, checked against the fact catalogue. Raises RuleFilesError with all errors of all rules.

    Without `examples` these are not read, which takes half the time: for judging.
    """
    root = folder or find_rules()
    rules: dict[str, Rule] = {}
    problems: list[tuple[str, Problem]] = []
    paths = sorted(path for path in root.rglob("*") if path.suffix in (".yaml", ".yml"))
    if not paths:
        raise RuleError("(all)", f"no rule files in {root}; a site judged by no rules would seem to be in order")
    for path in paths:
        file = f"rules/{path.relative_to(root).as_posix()}"
        if path.suffix != ".yaml" or path.parent.parent != root:
            problems.append((file, Problem(Position(0, 0), "a rule stands in rules/<topic>/<id>.yaml")))
            continue
        try:
            text = path.read_text(encoding="utf-8")
        except (OSError, UnicodeDecodeError) as error:
            problems.append((file, Problem(Position(0, 0), f"cannot be read: {error}")))
            continue
        rule, found = read_rule(text, file, lookup, entries, examples=examples)
        problems += [(file, problem) for problem in found]
        if rule is None:
            continue
        if rule.id in rules:
            what = f"the id {rule.id} is also used by {rules[rule.id].file}"
            problems.append((file, Problem(Position(0, 0), what)))
        rules[rule.id] = rule
    if problems:
        raise RuleFilesError(problems)
    return tuple(rules[name] for name in sorted(rules))


def read_rule(
    text: str, file: str, lookup: Lookup, entries: Entries | None = None, *, examples: bool = True
) -> tuple[Rule | None, list[Problem]]:
    """Read and check one rule file; without problems there is a rule."""
    if not examples:
        text = text.partition("\nexamples:\n")[0] + "\nexamples: []\n"
    try:
        document = Document(text)
    except Refused as refused:
        return None, [refused.problem]
    if not isinstance(document.content, dict):
        return None, [Problem(Position(1, 1), "a rule file is a mapping of keys such as id, title and when")]
    try:
        body = RuleBody.model_validate(document.content, context={"examples": examples})
    except ValidationError as error:
        return None, [_schema_problem(document, entry) for entry in error.errors()]
    return _Checker(document, body, file, lookup, entries).rule()


class _Checker:
    """Checks one rule's conditions, cause and examples against the catalogue, collecting every error."""

    def __init__(self, document: Document, body: RuleBody, file: str, lookup: Lookup, entries: Entries | None) -> None:
        self.document, self.body, self.file, self.lookup, self.entries = document, body, file, lookup, entries
        self.problems: list[Problem] = []

    def rule(self) -> tuple[Rule | None, list[Problem]]:
        path = Path(self.file)
        if self.body.id != path.stem:
            self.problem(("id",), f"the id is {self.body.id} but the file is named {path.stem}", "Make them the same")
        where = self.condition("where", self.body.where)
        when = self.condition("when", self.body.when)
        value, at_least = self.need(self.body.need) if self.body.need else (None, None)
        cause = self.cause()
        examples = tuple((example, self.example(index)) for index, example in enumerate(self.body.examples))
        if self.problems:
            return None, self.problems
        topic = path.parent.name
        return Rule(self.body, topic, self.file, where, when, value, at_least, cause, examples, self.lookup), []

    def problem(self, path: tuple[int | str, ...], what: str, help: str = "") -> None:
        self.problems.append(Problem(self.document.position(path), f"rule {self.body.id}: {what}", help))

    def expression(self, path: tuple[str, ...], text: str) -> Expression | None:
        try:
            return compile_expression(text, self.body.about, self.lookup, self.body.params, self.entries)
        except ExpressionError as error:
            self.problem(path, f"{'.'.join(path)}, column {error.column}: {error.what}", error.help)
            return None

    def condition(self, key: str, text: str | None) -> Expression | None:
        found = self.expression((key,), text) if text is not None else None
        if found is not None and found.type != "boolean":
            self.problem((key,), f"{key}, column 1: must give yes or no; this gives a {found.type}")
        return found

    def need(self, need: Need) -> tuple[Expression | None, Expression | None]:
        value = self.expression(("need", "value"), need.value)
        at_least = self.expression(("need", "at_least"), need.at_least)
        for key, part in (("value", value), ("at_least", at_least)):
            if part is not None and part.type != "number":
                self.problem(("need", key), f"need.{key}, column 1: must give a number; this gives a {part.type}")
                return value, at_least
        if value is not None and at_least is not None and not units.comparable(value.unit, at_least.unit):
            what = f"need.at_least, column 1: {units.shown(value.unit)} compared with {units.shown(at_least.unit)}"
            self.problem(("need", "at_least"), what)
        return value, at_least

    def cause(self) -> Reference | None:
        if self.body.cause is None:
            return None
        try:
            found = reference(self.body.cause, self.body.about, self.lookup, self.entries)
        except ExpressionError as error:
            self.problem(("cause",), f"cause, column {error.column}: {error.what}", error.help)
            return None
        if found.type != "class":
            self.problem(("cause",), f"cause: {self.body.cause} is a {found.type}; it must be a class fact")
        return found

    def example(self, index: int) -> dict[Quantity, Value]:
        values: dict[Quantity, Value] = {}
        for name, raw in self.body.examples[index].facts.items():
            path = ("examples", index, "facts", name)
            what = f"example {self.body.examples[index].name!r}: {name}: "
            try:
                fact = reference(name, self.body.about, self.lookup, self.entries)
                if fact.quantity in values:
                    raise ValueError("given twice")
                values[fact.quantity] = example_value(raw, fact)
            except ExpressionError as error:
                self.problem(path, what + error.what, error.help)
            except ValueError as error:
                self.problem(path, what + str(error))
        return values


def example_value(raw: Any, fact: Reference) -> Value:
    """The value an example gives for a fact. Raises ValueError where it does not fit the fact's type."""
    if isinstance(raw, dict) and raw.keys() == {"options"} and isinstance(raw["options"], dict) and raw["options"]:
        return Options({str(name): _single(answer, fact) for name, answer in raw["options"].items()})
    return _single(raw, fact)


def _single(raw: Any, fact: Reference) -> Known | Unknown:
    if isinstance(raw, dict) and raw.keys() == {"unknown"} and isinstance(raw["unknown"], str):
        return Unknown((raw["unknown"],))
    if isinstance(raw, list) and len(raw) == 3:
        low, centre, high = (_scalar(item, fact) for item in raw)
        if fact.type == "number" and not float(low) <= float(centre) <= float(high):
            raise ValueError(f"[low, centre, high] must rise: {raw}")
        return Known(centre, low, high)
    return constant(_scalar(raw, fact))


def _scalar(raw: Any, fact: Reference) -> Scalar:
    if fact.type == "number" and isinstance(raw, int | float) and not isinstance(raw, bool):
        try:
            return float(raw)
        except OverflowError:
            raise ValueError("the number is too long") from None
    if fact.type == "boolean" and isinstance(raw, bool):
        return raw
    if fact.type == "class" and isinstance(raw, str):
        return raw
    raise ValueError(f"{raw!r} is no {fact.type}. Allowed: a {fact.type}, [low, centre, high], unknown, options")


def _schema_problem(document: Document, entry: Any) -> Problem:
    """One error of the schema in plain words, at its place in the file."""
    path = tuple(entry["loc"])
    shown = ".".join(str(step) for step in path) or "the rule"
    match entry["type"]:
        case "extra_forbidden":
            return Problem(document.position(path), f"unknown key {shown}", nearest(str(path[-1]), _allowed(path)))
        case "missing":
            return Problem(document.position(path[:-1]) if path[:-1] else Position(1, 1), f"{shown} is missing")
        case "value_error":
            return Problem(document.position(path), f"{shown}: {entry['ctx']['error']}")
    return Problem(document.position(path), f"{shown}: {entry['msg']}")


def _allowed(path: tuple[Any, ...]) -> tuple[str, ...]:
    """The keys that may stand beside the last step of `path`."""
    parts: dict[Any, type[BaseModel]] = {"params": Param, "need": Need, "remedies": Remedy, "examples": Example}
    model = parts.get(path[0], RuleBody) if len(path) > 1 else RuleBody
    return tuple(model.model_fields)
