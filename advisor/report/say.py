"""Facts in words, shared by every view: declared digits, units, bands, and where a number comes from."""

from __future__ import annotations

from advisor.facts import catalogue
from advisor.trace import Assumed, Fact, Formula, Given, Looked, Provenance, Simulated, Solved
from advisor.units import cell_text, inert, value_text
from advisor.values import Known, Options, Unknown

_KIND_OF_ROLE = {"hop": "hop", "place": "place", "radio": "radio", "node": "node", "domain": "domain"}


def digits_of(fact: Fact) -> int:
    """The digits declared for the fact's name, or one."""
    name, _, rest = fact.key.partition("[")
    kinds = [rest.partition("=")[0]] if "=" in rest else ["site"]
    if "," in rest and rest.startswith("place=") and "radio=" in rest:
        kinds.insert(0, "place-radio")
    for kind in kinds:
        spec = catalogue.lookup(_KIND_OF_ROLE.get(kind, kind), name)
        if spec is not None:
            return spec.digits
    if isinstance(fact.value, Known) and all(
        isinstance(end, int) or (isinstance(end, float) and end.is_integer())
        for end in (fact.value.centre, fact.value.low, fact.value.high)
    ):
        return 0
    return 0 if fact.unit in ("dBm", "dB", "dBi", "MHz", "ns") else 2 if fact.unit == "" else 1


def value(fact: Fact) -> str:
    """The value with band and unit, made harmless for a terminal."""
    return inert(value_text(fact.value, fact.unit, digits_of(fact)))


def short(fact: Fact, missing: str = "?") -> str:
    """The value for a table: no unit, the centres of options with strokes between, unknown as `missing`."""
    digits = digits_of(fact)
    if isinstance(fact.value, Unknown):
        return missing
    if isinstance(fact.value, Options):
        answers = [
            cell_text(Known(answer.centre, answer.centre, answer.centre), fact.unit, digits)
            if isinstance(answer, Known)
            else missing
            for answer in fact.value.answers.values()
        ]
        return inert(answers[0] if len(set(answers)) == 1 else " / ".join(answers))
    return inert(cell_text(fact.value, fact.unit, digits))


def centre(fact: Fact, missing: str = "?") -> str:
    """The centre alone, for a table."""
    if isinstance(fact.value, Known):
        value = fact.value
        return inert(cell_text(Known(value.centre, value.centre, value.centre), fact.unit, digits_of(fact)))
    return short(fact, missing)


def origin(by: Provenance) -> str:
    """Where a number comes from: formula with source, place in the file, assumption …"""
    if isinstance(by, Formula):
        return f"{by.expr}; {by.source}"
    if isinstance(by, Given):
        return ("measured; " if by.measured else "given; ") + inert(by.place)
    if isinstance(by, Assumed):
        return "assumed; " + by.entry + (f"; {by.source}" if by.source else "")
    if isinstance(by, Solved):
        full = ", ".join(by.binding)
        return by.method + (f"; full: {full}" if full else "")
    if isinstance(by, Simulated):
        return f"simulated; {by.draws} draws, seed {by.seed}"
    assert isinstance(by, Looked)
    return inert(by.how)
