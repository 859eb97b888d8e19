"""Writes `docs/rules.md` from the rule files.

    python docs/make_rules.py

A test runs the same function and compares.
"""

from __future__ import annotations

from itertools import groupby
from pathlib import Path

from advisor.assess import shipped_rules
from advisor.rulebook.load import Rule
from advisor.rulebook.schema import Param

PAGE = Path(__file__).parent / "rules.md"

HEAD = """\
# The rules

Written by `docs/make_rules.py` from `rules/<topic>/<id>.yaml`; do not edit by hand. `advisor rules show ID` prints a
rule with its reasons, what to do and its examples.

*Wrong when* is the condition under which a rule fails; a *need* passes when it is met in at least 90 % of the draws,
fails under 50 %, and is at risk in between. *Cause* names the fact that says which subject is to blame. Every threshold
has its source, or says that it is common practice without one.
"""


def page(rules: tuple[Rule, ...]) -> str:
    """The whole page: a table of all rules, then one short entry for each."""
    ordered = sorted(rules, key=lambda rule: (rule.topic, rule.id))
    lines = [HEAD, f"{len(ordered)} rules.", "", "| topic | rule | level | about | title |", "|---|---|---|---|---|"]
    for rule in ordered:
        link = f"[{rule.id}](#{rule.id})"
        lines.append(f"| {rule.topic} | {link} | {rule.body.level} | {rule.about} | {rule.body.title} |")
    for topic, members in groupby(ordered, key=lambda rule: rule.topic):
        lines += ["", f"## {topic}"]
        for rule in members:
            lines += entry(rule)
    return "\n".join(lines) + "\n"


def entry(rule: Rule) -> list[str]:
    """One rule: always the same parts, those that it has."""
    body = rule.body
    lines = [
        "",
        f"### {rule.id}",
        "",
        f"**{body.title}.** {body.level}, {body.confidence} confidence, each {rule.about}.",
        "",
    ]
    parts = [("Applies where", code(body.where)), ("Wrong when", code(body.when))]
    if body.need is not None:
        parts.append(("Need", f"`{body.need.value}` at least `{body.need.at_least}`"))
    parts += [("Threshold", threshold(name, param)) for name, param in sorted(body.params.items())]
    parts += [("Says", f"`{flat(body.message)}`"), ("Cause", code(body.cause))]
    parts += [("Source", source) for source in body.sources]
    parts += [("Does not see", limit) for limit in body.limits]
    return lines + [f"- {label}: {text}" for label, text in parts if text]


def threshold(name: str, param: Param) -> str:
    unit = "" if param.unit in ("", "1") else f" {param.unit}"
    value = f"{param.value:g}" if isinstance(param.value, float) else str(param.value)
    return f"`{name}` = {value}{unit} ({flat(param.source)})"


def code(text: str | None) -> str:
    return f"`{flat(text)}`" if text else ""


def flat(text: str) -> str:
    return " ".join(text.split())


if __name__ == "__main__":
    PAGE.write_text(page(shipped_rules()), encoding="utf-8")
