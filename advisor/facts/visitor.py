"""A client that stands at many points at once: the site's own computation for all of them in one go.

The case axis of the book (centre, poor end, good end, draws) is widened: after the three cases of before come, for one
point after the other, its centre and its draws. What hangs on the visitor is computed on that long axis by the same
functions as for any place; everything else is taken from the book of the site and repeated.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Sequence
from typing import Any, TypeVar

import numpy as np

from advisor.facts.book import Book, words_in
from advisor.facts.draws import Array, Draws
from advisor.network.inventory import Altered, Inventory, Source
from advisor.site.people import Place
from advisor.subjects import Subject
from advisor.trace import Fact
from advisor.values import FIRST_DRAW, Cases, Known, Options, from_cases

T = TypeVar("T")
VISITOR = "~visitor"
"""Its id among the places; no site file can have it. A number behind it names one of its points."""
SPOT = re.compile(f"{VISITOR}\\d*")


class Alike(Draws):
    """The draws of a site, where one client stands at many points: neighbouring points are lucky or unlucky together.
    Its terms are those of the place it stands for, if it stands for one."""

    def __init__(self, base: Draws, stands_for: str = "") -> None:
        super().__init__(base.seed, base.count)
        self.base, self.stands_for = base, stands_for or VISITOR
        self._known: dict[tuple[str, ...], Array] = {}

    def normal(self, *key: str) -> Array:
        if key not in self._known:
            self._known[key] = self.base.normal(*(SPOT.sub(self.stands_for, word) for word in key))
        return self._known[key].copy()


class Everywhere(Draws):
    """The same draws at every point, on the long axis."""

    def __init__(self, each: Alike, points: int) -> None:
        super().__init__(each.seed, each.count)
        self.each, self.points = each, points
        self.size = FIRST_DRAW + points * (1 + each.count)

    def wide(self, cases: Array) -> Array:
        """A row of cases of the site, for every point."""
        row = np.concatenate((cases[:1], cases[FIRST_DRAW:]))
        return np.concatenate((cases[:FIRST_DRAW], np.tile(row, self.points)))

    def joined(self, rows: Sequence[Array]) -> Array:
        """A row of cases for each point as one long row; its first three cases are the first point's."""
        each = [np.concatenate((row[:1], row[FIRST_DRAW:])) for row in rows]
        return np.concatenate((rows[0][:FIRST_DRAW], *each))

    def apart(self, cases: Cases) -> Cases:
        """The long axis as points × cases; both ends of a point are its centre."""
        each = cases[FIRST_DRAW:].reshape(self.points, -1)
        return np.concatenate((each[:, :1], each[:, :1], each[:, :1], each[:, 1:]), axis=1)

    def normal(self, *key: str) -> Array:
        return self.wide(self.each.normal(*key))

    def shadow(self, first: str, second: str, band: str, common: float) -> Array:
        return self.wide(self.each.shadow(first, second, band, common))

    def between(self, low: float, typical: float, high: float, *key: str, more_is_better: bool) -> Array:
        return self.wide(self.each.between(low, typical, high, *key, more_is_better=more_is_better))


def with_visitor(base: Source, who: Place) -> Altered:
    """A site with one more place: the visitor's. It asks for nothing, so nobody else gets less."""
    return Altered(base.site.model_copy(update={"places": {**base.site.places, VISITOR: who}}), base)


class VisitorBook(Book):
    """The book of a site for a visitor at many points."""

    def __init__(self, base: Book, source: Altered, draws: Everywhere, like: VisitorBook | None = None) -> None:
        assert not base.tuned, "a visitor knows no radios that are tried on other channels"
        super().__init__(source, draws=draws, fixed=base.hops)
        self.base, self.wide = base, draws
        self.building = base.building
        self.inventory = like.inventory if like is not None else Inventory(source)
        if like is not None:
            self._lasting, self._ground = like._lasting, like._ground
        for name in ("options", "hops", "radios", "cells"):
            self.__dict__[name] = getattr(base, name)

    def get(self, name: str, subject: Subject, **variant: str) -> Fact:
        if VISITOR in subject.ids:
            return super().get(name, subject, **variant)
        found: Fact = super().once(
            ("of the site", name, subject, tuple(sorted(variant.items()))),
            lambda: self._widened(self.base.get(name, subject, **variant)),
        )
        return found

    def once(self, key: Any, compute: Callable[[], T]) -> T:
        return super().once(key, self._or_of_the_site(key, self.base.kept_once, compute))

    def lasting(self, key: Any, compute: Callable[[], T]) -> T:
        return super().lasting(key, self._or_of_the_site(key, self.base.kept_lasting, compute))

    def _or_of_the_site(self, key: Any, kept: Callable[[Any], Any], compute: Callable[[], T]) -> Callable[[], T]:
        """What the site's book has found already, widened; what it has not, and all of the visitor, is computed."""
        if any(VISITOR in word for word in words_in(key)):
            return compute

        def widened() -> T:
            found = kept(key)
            return compute() if found is None else self._widened(found)

        return widened

    def _widened(self, found: Any) -> Any:
        """Every row of cases in a result, for every point."""
        if isinstance(found, np.ndarray) and found.shape == (self.base.draws.size,):
            return self.wide.wide(found)
        if isinstance(found, Fact):
            return found._replace(value=self._widened(found.value), inputs=())
        if isinstance(found, Known) and found.cases is not None:
            return from_cases(self.wide.wide(found.cases), joint=found.joint)
        if isinstance(found, Options):
            return Options({name: self._widened(answer) for name, answer in found.answers.items()})
        if isinstance(found, dict):
            return {key: self._widened(entry) for key, entry in found.items()}
        if isinstance(found, tuple) and hasattr(found, "_fields"):
            return type(found)(*(self._widened(entry) for entry in found))
        if type(found) in (tuple, list):
            return type(found)(self._widened(entry) for entry in found)
        return found
