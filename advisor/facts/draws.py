"""Random terms, keyed: each comes from its own key and the seed, so adding or renaming one thing leaves all others as
they were, and one unordered pair of ends has one shadowing for both directions.

The draws of a term are the same evenly spread points of its distribution, in an order of the key's own (Latin
hypercube), so the 10 and 90 % points of a single term are exact with few draws.
"""

from __future__ import annotations

import hashlib
from functools import lru_cache
from statistics import NormalDist

import numpy as np
from numpy.typing import NDArray

from advisor.values import FIRST_DRAW

Z90 = NormalDist().inv_cdf(0.9)
"""The 90 % point of the standard normal distribution, 1.2816."""

Array = NDArray[np.float64]


class Draws:
    """Keyed random terms on the case axis: centre, poor end, good end, then `count` draws."""

    def __init__(self, seed: int = 1, count: int = 100) -> None:
        self.seed, self.count = seed, count
        self.size = FIRST_DRAW + count
        self.keys: dict[tuple[str, ...], None] = {}
        """Every key asked for so far, in order."""

    def order(self, *key: str) -> NDArray[np.intp]:
        """The order in which this key takes the evenly spread points: a permutation of 0 … count - 1."""
        text = "\x1f".join((str(self.seed), *key)).encode()
        words = np.frombuffer(hashlib.shake_128(text).digest(8 * self.count), dtype=">u8")
        return np.argsort(words, kind="stable")

    def normal(self, *key: str) -> Array:
        """A standard normal term: 0, −1.28, +1.28, draws."""
        self.keys.setdefault(key)
        cases = np.empty(self.size)
        cases[:FIRST_DRAW] = (0.0, -Z90, Z90)
        cases[FIRST_DRAW:] = self._drawn(key)
        return cases

    def _drawn(self, key: tuple[str, ...]) -> Array:
        return _points(self.count)[self.order(*key)]

    def shadow(self, first: str, second: str, band: str, common: float) -> Array:
        """Standard normal shadowing of a pair of ends on one band.

        `common` is the correlation between the bands of one pair: that part is drawn for the pair, the rest per band.
        """
        ends = (min(first, second), max(first, second))
        pair, own = self.normal("shadow", *ends), self.normal("shadow", *ends, band)
        both: Array = np.sqrt(common) * pair + np.sqrt(1.0 - common) * own
        both[1:FIRST_DRAW] = pair[1:FIRST_DRAW]
        return both

    def between(self, low: float, typical: float, high: float, *key: str, more_is_better: bool) -> Array:
        """A term known by its 10 %, typical and 90 % values, linear in the normal deviate on either side."""
        z = self.normal(*key)
        spread = np.where(z < 0, typical - low, high - typical) / Z90 * z
        cases: Array = typical + spread
        if not more_is_better:
            cases[[1, 2]] = cases[[2, 1]]
        return cases


@lru_cache(maxsize=4)
def _points(count: int) -> Array:
    normal = NormalDist()
    return np.array([normal.inv_cdf((index + 0.5) / count) for index in range(count)])
