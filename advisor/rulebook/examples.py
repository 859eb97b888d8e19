"""Running the examples that stand in a rule file: each must give the verdict, and the message, that it promises."""

from __future__ import annotations

from collections.abc import Iterator, Mapping

from advisor.errors import RuleError
from advisor.rulebook.evaluate import Single, resolve, scenarios
from advisor.rulebook.expression import Lookup
from advisor.rulebook.judge import Finding, judge
from advisor.rulebook.load import Rule
from advisor.rulebook.schema import Example
from advisor.rulebook.text import check_text
from advisor.rulebook.tree import Compare, Expression, Listed, Logic, Node, Not, Quantity
from advisor.subjects import KINDS, Subject
from advisor.trace import Fact, Given
from advisor.values import Known, Unknown, Value


def run_examples(rule: Rule, lookup: Lookup) -> list[str]:
    """What is wrong with a rule's texts and examples; an empty list when all is well.

    A fact that an example does not give is unknown. An example marked as the limit must stand at it: some comparison
    has equal sides at the centre or at an end of the band (a rule that compares no numbers has no such point).
    """
    body = rule.body
    texts = [("message", body.message), ("why", body.why), *(("do", step) for step in body.do)]
    found = [f"{key}: {what}" for key, text in texts for what in check_text(text, rule.about, lookup, body.params)]
    for example, values in rule.examples:
        found += [f"example {example.name!r}: {what}" for what in _run(rule, example, values, lookup)]
    return found


def _run(rule: Rule, example: Example, values: Mapping[Quantity, Value], lookup: Lookup) -> Iterator[str]:
    roles = KINDS[rule.about]
    subject = Subject(rule.about, tuple(f"example-{role}" for role in roles))

    def get(name: str, **variant: str) -> Fact:
        spec = lookup(rule.about, name)
        unit = spec.unit if spec else ""
        quantity = Quantity(name, tuple(variant.items()))
        value = values.get(quantity, Unknown((f"{quantity.text} is not given in the example",)))
        return Fact(quantity.text, unit, value, Given("example"))

    try:
        result = judge(rule, subject, get)
    except RuleError as error:
        yield error.what
        return
    verdict = result.verdict if isinstance(result, Finding) else result
    if verdict != example.expect:
        yield f"expected {example.expect}, got {verdict}"
    if example.message is not None:
        message = result.message if isinstance(result, Finding) else "(no message)"
        if message != example.message.strip():
            yield f"expected the message {example.message.strip()!r}, got {message!r}"
    if example.limit and not _at_limit(rule, values):
        yield "is marked as the limit, but no comparison has equal sides there"


def _at_limit(rule: Rule, values: Mapping[Quantity, Value]) -> bool:
    parts = [part for part in (rule.where, rule.when) if part is not None]
    sides = [pair for part in parts for pair in _number_comparisons(part.tree)]
    if rule.value is not None and rule.at_least is not None:
        sides.append((rule.value.tree, rule.at_least.tree))
    if not sides:
        return True
    read = _all_values([*parts, *(part for part in (rule.value, rule.at_least) if part is not None)], values)
    return any(_touch(left, right, chosen) for _, chosen in scenarios(read) for left, right in sides)


def _all_values(parts: list[Expression], values: Mapping[Quantity, Value]) -> dict[Quantity, Value]:
    return {ref.quantity: values.get(ref.quantity, Unknown(())) for part in parts for ref in part.references}


def _touch(left: Node, right: Node, values: Mapping[Quantity, Single]) -> bool:
    first, second = resolve(left, values), resolve(right, values)
    if not (isinstance(first, Known) and isinstance(second, Known)) or isinstance(first.centre, bool | str):
        return False
    return first.centre == second.centre or first.low == second.high or first.high == second.low


def _number_comparisons(node: Node) -> Iterator[tuple[Node, Node]]:
    match node:
        case Not(part=part):
            yield from _number_comparisons(part)
        case Logic(parts=parts):
            for part in parts:
                yield from _number_comparisons(part)
        case Compare(op="<" | "<=", left=left, right=right) if not isinstance(right, Listed):
            yield left, right
