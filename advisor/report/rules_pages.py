"""The rules as pages: an index of all, and one page for each topic."""

from __future__ import annotations

from collections.abc import Mapping
from itertools import groupby
from typing import Any

from advisor.rulebook.load import Rule
from advisor.rulebook.schema import Example, Param

INDEX = "README.md"
MARK = "Written by `advisor rules pages`"
HEAD = f"""\
# The rules

{MARK} from `rules/<topic>/<id>.yaml`; do not edit by hand. `advisor rules show ID` prints a rule in the terminal.

*Wrong when* is the condition under which a rule fails. A *need* passes when it is met in at least 90 % of the cases the
inputs allow, fails under 50 %, and is at risk in between. What depends on a range is at risk where its two ends differ;
what is not given makes a rule unknown, never a pass. *Cause* names the fact that says which subject is to blame. Every
threshold has its source, or says that it is common practice without one.
"""


def pages(rules: tuple[Rule, ...]) -> dict[str, str]:
    """Every page by file name: the index and the topics."""
    ordered = sorted(rules, key=lambda rule: (rule.topic, rule.id))
    topics = {topic: list(members) for topic, members in groupby(ordered, key=lambda rule: rule.topic)}
    made = {INDEX: _index(topics)}
    for topic, members in topics.items():
        lines = [f"# Rules about {topic}", "", f"{MARK}; do not edit by hand. [All rules]({INDEX})"]
        for rule in members:
            lines += _entry(rule)
        made[f"{topic}.md"] = "\n".join(lines) + "\n"
    return made


def _index(topics: Mapping[str, list[Rule]]) -> str:
    count = sum(len(members) for members in topics.values())
    lines = [HEAD, f"{count} rules in {len(topics)} topics.", "", "| topic | rule | level | about | title |"]
    lines.append("|---|---|---|---|---|")
    for topic, members in topics.items():
        for rule in members:
            link = f"[{rule.id}]({topic}.md#{rule.id})"
            lines.append(f"| {topic} | {link} | {rule.body.level} | {rule.about} | {rule.body.title} |")
    return "\n".join(lines) + "\n"


def _entry(rule: Rule) -> list[str]:
    """One rule: always the same parts in the same order, those that it has."""
    body = rule.body
    lines = [
        "",
        f"## {rule.id}",
        "",
        f"**{body.title}.** {body.level}, {body.confidence} confidence, each {rule.about}.",
    ]
    lines += ["", f"*Why.* {_flat(body.why)}", "", "*What to do*", ""]
    lines += [f"{number}. {_flat(step)}" for number, step in enumerate(body.do, 1)]
    parts = [("Applies where", _code(body.where)), ("Wrong when", _code(body.when))]
    if body.need is not None:
        parts.append(("Need", f"`{body.need.value}` at least `{body.need.at_least}`"))
    parts += [("Threshold", _threshold(name, param)) for name, param in sorted(body.params.items())]
    parts += [("Says", _code(body.message)), ("Cause", _code(body.cause))]
    parts += [("Remedy", f"`{remedy.operator}` on the {remedy.subject}") for remedy in body.remedies]
    parts += [("Source", _flat(source)) for source in body.sources]
    parts += [("Does not see", _flat(limit)) for limit in body.limits]
    lines += ["", *(f"- {label}: {text}" for label, text in parts if text)]
    lines += ["", "| example | facts | verdict |", "|---|---|---|"]
    return lines + [_example(example) for example, _ in rule.examples]


def _example(example: Example) -> str:
    facts = ", ".join(f"{name} {_value(value)}" for name, value in example.facts.items())
    limit = " (at the limit)" if example.limit else ""
    return f"| {_cell(example.name)}{limit} | {_cell(facts)} | {example.expect} |"


def _value(value: Any) -> str:
    if isinstance(value, dict):
        ((word, content),) = value.items()
        if word == "unknown":
            return "not known"
        return "; ".join(f"{name}: {_value(answer)}" for name, answer in content.items())
    if isinstance(value, list):
        low, centre, high = value
        return f"{centre} ({low} to {high})"
    if isinstance(value, bool):
        return "yes" if value else "no"
    return f"{value:g}" if isinstance(value, float) else str(value)


def _threshold(name: str, param: Param) -> str:
    unit = "" if param.unit in ("", "1") else f" {param.unit}"
    value = f"{param.value:g}" if isinstance(param.value, float) else str(param.value)
    return f"`{name}` = {value}{unit} ({_flat(param.source)})"


def _code(text: str | None) -> str:
    return f"`{_flat(text)}`" if text else ""


def _flat(text: str) -> str:
    return " ".join(text.split())


def _cell(text: str) -> str:
    return _flat(text).replace("|", "\\|")
