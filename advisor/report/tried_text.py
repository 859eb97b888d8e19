"""What was tried for a finding, in lines: the change to make with what it brings, or why none is advised."""

from __future__ import annotations

from typing import TYPE_CHECKING

from advisor.units import inert

if TYPE_CHECKING:
    from advisor.advice.tries import Fix, Tried
    from advisor.rulebook.judge import Finding

MOST_NAMED = 3
MOST_OTHERS = 2


def tried_lines(fix: Fix | None) -> list[str]:
    """Nothing where nothing was tried and nothing is refused."""
    if fix is None:
        return []
    lines = []
    if fix.best is not None:
        lines.append(inert(f"{fix.best.change.told} → {_result(fix.finding, fix.best)}"))
    elif fix.others:
        count = len(fix.others)
        told = f"{count} change{'s' if count > 1 else ''} computed, none helps without harm; nearest:"
        near = fix.others[0]
        lines.append(inert(f"{told} {near.change.told} → {_result(fix.finding, near)}"))
    if fix.refused and fix.best is None:
        told = "; ".join(dict.fromkeys(f"{change.told} ({change.refused})" for change in fix.refused[:MOST_OTHERS]))
        lines.append(inert(f"Not possible on this equipment: {told}"))
    if not lines and fix.untried:
        lines.append(inert("; ".join(f"{operator}: {why}" for operator, why in fix.untried) + "."))
    return lines


def _result(finding: Finding, tried: Tried) -> str:
    """`gone; with it 3 more; brings: …`."""
    if tried.after is None:
        parts = ["this finding goes"]
    else:
        before, after = finding.probability, tried.after.probability
        met = before is not None and after is not None and before != after
        parts = [f"met in {_of_ten(after)} instead of {_of_ten(before)}" if met else "it stays"]
    more = [found for found in tried.removed if found.identity != finding.identity]
    if more:
        parts.append(f"with it go {_named(more)}")
    eased = [new for _, new in tried.eased if new.identity != finding.identity]
    if eased:
        parts.append(f"{len(eased)} more get{'s' if len(eased) == 1 else ''} better")
    if tried.added:
        parts.append(f"it brings {_named(tried.added)}")
    if tried.worsened:
        parts.append(f"worse gets {_named([new for _, new in tried.worsened])}")
    return f"{'; '.join(parts)}. About {tried.change.effort_min:g} min of work."


def _of_ten(chance: float | None) -> str:
    return f"{10 * (chance or 0.0):.1f} of 10 cases".replace(".0 of", " of")


def _named(found: list[Finding] | tuple[Finding, ...]) -> str:
    """The gravest by name, the rest by number."""
    order = {"error": 0, "warning": 1, "note": 2}
    ranked = sorted(found, key=lambda entry: (order[entry.effective_level], entry.identity))
    names = [f"“{entry.title}” ({entry.subject.name})" for entry in ranked]
    rest = len(names) - MOST_NAMED
    told = ", ".join(names[:MOST_NAMED])
    return told + (f" and {rest} more" if rest > 0 else "")
