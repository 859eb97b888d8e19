"""What the equipment does not let a person set, for the remedies of a finding."""

from __future__ import annotations

from advisor.data import catalogue
from advisor.facts.abilities import settable
from advisor.facts.book import Book
from advisor.facts.roaming import carriers
from advisor.facts.routes import line_node
from advisor.network.inventory import Setting
from advisor.rulebook.judge import Finding
from advisor.rulebook.load import Rule
from advisor.subjects import KINDS
from advisor.trace import Assumed


def not_possible(book: Book, rule: Rule, finding: Finding) -> tuple[str, ...]:
    """One sentence for each node at which remedies of the rule would be done, and what of them it does not offer."""
    refused: dict[str, dict[str, None]] = {}
    for remedy in rule.body.remedies:
        operator = catalogue("operators")["operators"][remedy.operator]
        if "takes" in operator:
            for node in _nodes(book, remedy.operator, finding):
                setting = settable(book, node, operator["takes"])
                if setting.value in (False, "no"):
                    refused.setdefault(_named(book, node, setting), {}).setdefault(operator["told"])
                elif setting.value == "all":
                    refused.setdefault(_named(book, node, setting), {}).setdefault(ONE_FOR_ALL)
    return tuple(_sentence(node, list(told)) for node, told in refused.items())


ONE_FOR_ALL = "one channel for all nodes of its kind"


def _named(book: Book, node: str, setting: Setting) -> str:
    assumed = isinstance(setting.by, Assumed)
    return node + (f" (taken as usual gear of class {book.inventory.gear_id(node)})" if assumed else "")


def _sentence(node: str, told: list[str]) -> str:
    parts = [f"takes {ONE_FOR_ALL}"] if ONE_FOR_ALL in told else []
    settings = [what for what in told if what != ONE_FOR_ALL]
    if settings:
        words = settings[0] if len(settings) == 1 else f"{', '.join(settings[:-1])} or {settings[-1]}"
        parts.append(f"does not let {words} be set")
    return f"{node} {' and '.join(parts)}."


AT_THE_PARENT = ("retune", "fix-channel", "set-width")
"""What is done to a hop at its upper end: the node below follows."""
OF_THE_UPLINK = ("change-uplink-band", "change-parent", "pin-uplink")


def _nodes(book: Book, operator: str, finding: Finding) -> list[str]:
    """The nodes at which a remedy would be done: those the finding is about, of a name those that carry it, of the site
    the one at the line; for an uplink none that has none."""
    found: list[str] = []
    for role, name in zip(KINDS[finding.subject.kind], finding.subject.ids, strict=True):
        if role == "node":
            found.append(name)
        elif role == "hop":
            hop = book.hops.get(name)
            found.append(hop.parent if hop is not None and operator in AT_THE_PARENT else name)
        elif role in ("radio", "domain"):
            found.append(book.inventory.radios[name].node)
        elif role == "name":
            found += [node for node, _ in carriers(book, name)]
        elif role == "network":
            found += sorted(book.site.networks[name].nodes or book.site.nodes)
    if finding.subject.kind == "site":
        line = line_node(book)
        found += [line] if line is not None else []
    if operator in OF_THE_UPLINK:
        found = [node for node in found if book.site.nodes[node].role != "gateway"]
    return list(dict.fromkeys(found))
