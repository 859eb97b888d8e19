"""Facts in words, shared by every view: declared digits, units, bands, and where a number comes from."""

from __future__ import annotations

from advisor.facts import catalogue
from advisor.trace import Assumed, Fact, Formula, Given, Looked, Provenance, Simulated, Solved
from advisor.units import inert, value_text
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
    return 0 if fact.unit in ("dBm", "dB", "dBi", "MHz", "ns") else 2 if fact.unit == "" else 1


def value(fact: Fact) -> str:
    """The value with band and unit, made harmless for a terminal."""
    return inert(value_text(fact.value, fact.unit, digits_of(fact)))


def short(fact: Fact, missing: str = "?") -> str:
    """The value for a table: no unit, options as a range, unknown as `missing`."""
    digits = digits_of(fact)
    if isinstance(fact.value, Unknown):
        return missing
    if isinstance(fact.value, Options):
        known = [answer for answer in fact.value.answers.values() if isinstance(answer, Known)]
        if not known:
            return missing
        ends = sorted({inert(value_text(Known(a.centre, a.centre, a.centre), "", digits)) for a in known})
        return " or ".join(ends)
    return inert(value_text(fact.value, "", digits))


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
