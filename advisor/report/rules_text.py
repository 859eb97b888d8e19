"""The rules as text: the list, and the page of each."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from typing import TYPE_CHECKING

from rich.text import Text

from advisor.report.text import plain_table
from advisor.rulebook.load import Rule

if TYPE_CHECKING:
    from rich.console import RenderableType


def rule_list(rules: tuple[Rule, ...]) -> Iterator[RenderableType]:
    """All rules, by topic and id."""
    table = plain_table(title=f"{len(rules)} rules")
    for column in ("topic", "rule", "level"):
        table.add_column(column, no_wrap=True)
    table.add_column("title", overflow="fold")
    for rule in sorted(rules, key=lambda entry: (entry.topic, entry.id)):
        table.add_row(rule.topic, rule.id, rule.body.level, Text(rule.body.title))
    yield table
    yield Text("`advisor rules show RULE` shows one with its reasons and sources.")


def rule_pages(rules: Iterable[Rule]) -> Iterator[RenderableType]:
    for index, rule in enumerate(rules):
        if index:
            yield Text()
        yield from rule_page(rule)


def rule_page(rule: Rule) -> Iterator[RenderableType]:
    """One rule: always the same blocks."""
    body = rule.body
    yield Text(body.title, style="bold")
    yield Text(
        f"{rule.topic}/{rule.id} · {body.level} · {body.confidence} confidence · {body.status} · each {rule.about}"
    )
    yield from _block("Applies where", body.where)
    if body.need is not None:
        yield from _block("Needs", f"{body.need.value} at least {body.need.at_least} (pass when met in 9 of 10)")
    else:
        yield from _block("Wrong when", body.when)
    for name, param in sorted(body.params.items()):
        unit = "" if param.unit in ("1", "") else f" {param.unit}"
        yield from _block("Threshold", f"{name} = {param.value}{unit} ({param.source})")
    yield from _block("Why", body.why)
    for number, step in enumerate(body.do, 1):
        yield from _block("What to do" if number == 1 else "", f"{number}. {step}")
    for limit in body.limits:
        yield from _block("Does not see", limit)
    for source in body.sources:
        yield from _block("Source", source)
    for example, _ in rule.examples:
        facts = ", ".join(f"{name} = {value}" for name, value in example.facts.items())
        yield from _block(f"Example: {example.expect}", f"{example.name}: {facts}")


def _block(label: str, text: str | None) -> Iterator[RenderableType]:
    if text:
        from rich.table import Table

        grid = Table.grid(padding=(0, 2))
        grid.add_column(width=16)
        grid.add_column()
        grid.add_row(Text(label, style="italic"), Text(" ".join(text.split())))
        yield grid
