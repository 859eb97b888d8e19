"""What the equipment does not let a person set, for the remedies of a finding."""

from __future__ import annotations

from advisor.data import catalogue
from advisor.facts.book import Book
from advisor.rulebook.judge import Finding
from advisor.rulebook.load import Rule
from advisor.subjects import KINDS
from advisor.trace import Assumed


def not_possible(book: Book, rule: Rule, finding: Finding) -> tuple[str, ...]:
    """Sentences about remedies of the rule that the nodes the finding is about do not offer."""
    told: dict[str, None] = {}
    for remedy in rule.body.remedies:
        operator = catalogue("operators")["operators"][remedy.operator]
        if "takes" in operator:
            for node in _nodes(book, finding):
                sentence = _refusal(book, node, operator["takes"], operator["told"])
                if sentence:
                    told.setdefault(sentence)
    return tuple(told)


def _nodes(book: Book, finding: Finding) -> list[str]:
    """The nodes a finding is about, by its subject; for the site the node at the line."""
    found = []
    for role, name in zip(KINDS[finding.subject.kind], finding.subject.ids, strict=True):
        if role in ("node", "hop"):
            found.append(name)
        elif role in ("radio", "domain"):
            found.append(book.inventory.radios[name].node)
    if finding.subject.kind == "site":
        found += [name for name, node in sorted(book.site.nodes.items()) if node.role == "gateway"]
    return list(dict.fromkeys(found))


def _refusal(book: Book, node: str, setting: str, told: str) -> str | None:
    entry = book.inventory.gear_setting(
        node,
        getattr(book.site.nodes[node].settable, setting),
        f"nodes.{node}.settable.{setting}",
        f"settable.{setting}",
    )
    gear = f" (taken as usual gear of class {book.inventory.gear_id(node)})" if isinstance(entry.by, Assumed) else ""
    if entry.value in (False, "no"):
        return f"{node}{gear} does not let {told} be set."
    if entry.value == "all":
        return f"{node}{gear} takes one channel for all nodes of its kind."
    return None
