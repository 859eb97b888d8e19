"""Finding a fact the way people ask for it: `stair goodput`, `desk/stair.r5 level.up`."""

from __future__ import annotations

from difflib import get_close_matches

from advisor.errors import InputError, Position, Problem
from advisor.facts import catalogue
from advisor.facts.book import Book
from advisor.facts.catalogue import FactSpec
from advisor.subjects import KINDS, Subject
from advisor.trace import Fact

PREFERRED = (
    "hop",
    "place",
    "radio",
    "node",
    "site",
    "need",
    "walk",
    "outage",
    "name",
    "network",
    "place-radio",
    "radio-pair",
    "node-pair",
)
"""Where an id names several subjects, the first kind that has such a fact is meant."""


def find(book: Book, subject: str, fact: str) -> tuple[FactSpec, Fact]:
    """The fact a person asks for, with its catalogue entry.

    `subject` is an id, several joined by `/`, or `kind:id`; `fact` the beginning of a name (the shortest such name is
    meant) with its variants after dots. Raises InputError that names what there is.
    """
    candidates = _subjects(book, subject)
    if not candidates:
        raise _no_subject(book, subject)
    if not fact:
        raise _no_fact(candidates, fact)
    name, *variants = fact.split(".")
    name = name.partition("[")[0]
    matches: list[tuple[Subject, FactSpec]] = []
    for candidate in candidates:
        specs = catalogue.entries(candidate.kind)
        exact = [spec for spec in specs if spec.name == name]
        begin = [spec for spec in specs if spec.name.startswith(name)]
        begin.sort(key=lambda spec: (len(spec.name), spec.name))
        matches += [(candidate, spec) for spec in exact or begin]
    if not matches:
        raise _no_fact(candidates, fact)
    chosen, spec = matches[0]
    return spec, book.get(spec.name, chosen, **_variants(spec, variants))


def _subjects(book: Book, text: str) -> list[Subject]:
    kind, mark, rest = text.partition(":")
    kinds = [kind] if mark and kind in KINDS else list(PREFERRED)
    ids = tuple(part.strip() for part in (rest if mark and kind in KINDS else text).split("/"))
    if ids == ("site",):
        ids = ()
    found = [
        subject
        for name in kinds
        for subject in book.subjects(name)
        if subject.ids == ids or subject.ids == tuple(reversed(ids))
    ]
    if not found and len(ids) == 2 and ids[0] in book.site.places and ids[1] in book.inventory.radios:
        return [Subject("place-radio", ids)]
    return found


def _variants(spec: FactSpec, words: list[str]) -> dict[str, str]:
    chosen = {}
    for word in words:
        axis = next((axis for axis, choices in spec.variants.items() if word in choices), None)
        if axis is None:
            allowed = ", ".join(choice for choices in spec.variants.values() for choice in choices) or "none"
            raise _error(f'{spec.name} has no variant "{word}"', f"Variants: {allowed}.")
        chosen[axis] = word
    return chosen


def _no_subject(book: Book, text: str) -> InputError:
    names = sorted({"/".join(subject.ids) for kind in ("node", "place", "radio") for subject in book.subjects(kind)})
    near = get_close_matches(text, names, 1)
    guess = f'Did you mean "{near[0]}"? ' if near else ""
    shown = ", ".join(names[:12]) + (" …" if len(names) > 12 else "")
    return _error(
        f'there is no "{text}" at this site', f"{guess}There are: {shown}. A pair is written place/node.radio."
    )


def _no_fact(candidates: list[Subject], fact: str) -> InputError:
    specs = {spec.name: spec for candidate in candidates for spec in catalogue.entries(candidate.kind)}
    near = get_close_matches(fact, specs, 1)
    guess = f'Did you mean "{near[0]}"? ' if near else ""
    return _error(
        f'there is no fact "{fact}" about {candidates[0].name}', f"{guess}There are: {', '.join(sorted(specs))}."
    )


def _error(what: str, help: str) -> InputError:
    return InputError("why", [Problem(Position(0, 0), what, help)])
