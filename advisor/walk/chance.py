"""Keyed chance: each term from its own key and the seed, so that another node or walk changes no draw."""

from __future__ import annotations

import hashlib
from functools import lru_cache
from statistics import NormalDist

import numpy as np

from advisor.walk.records import Array


class Chance:
    """Draws of random terms; `typical` gives medians alone."""

    def __init__(self, seed: int, count: int, *, typical: bool = False) -> None:
        self.seed, self.count, self.typical = seed, 1 if typical else count, typical

    def _generator(self, *key: object) -> np.random.Generator:
        text = "\x1f".join(str(part) for part in (self.seed, *key)).encode()
        return np.random.Generator(np.random.PCG64(int.from_bytes(hashlib.sha256(text).digest()[:16], "big")))

    def uniform(self, *key: object) -> Array:
        """Between 0 and 1, one for each draw."""
        if self.typical:
            return np.full(self.count, 0.5)
        return self._generator(*key).random(self.count)

    def uniforms(self, columns: int, *key: object) -> Array:
        """Between 0 and 1, draws × columns."""
        if self.typical:
            return np.full((1, columns), 0.5)
        return self._generator(*key).random((self.count, columns))

    def normal(self, steps: int, *key: object) -> Array:
        """Standard normal terms, draws × steps."""
        if self.typical:
            return np.zeros((1, steps))
        return self._generator(*key).standard_normal((self.count, steps))


def correlated(chance: Chance, walked_m: Array, correlation_m: float, *key: object) -> Array:
    """Standard normal shadowing along a way, draws × steps: exponential correlation over the distance walked
    (Gudmundson, Electronics Letters 27(23), 1991); where nobody walks it stays what it is."""
    white = chance.normal(len(walked_m), *key)
    if chance.typical or not len(walked_m):
        return white
    rho = np.exp(-np.abs(np.diff(walked_m)) / correlation_m)
    fresh = np.sqrt(1.0 - rho**2)
    series = np.empty_like(white)
    series[:, 0] = white[:, 0]
    for step in range(1, white.shape[1]):
        series[:, step] = rho[step - 1] * series[:, step - 1] + fresh[step - 1] * white[:, step]
    return series


def share_lost(margin_db: Array, sigma_db: float) -> Array:
    """Share of packets lost at a margin, where margin 0 stands for nine fades of ten (normal in dB)."""
    z = -(margin_db / sigma_db) - _Z90
    return _cdf(z)


_Z90 = NormalDist().inv_cdf(0.9)


@lru_cache(maxsize=1)
def _table() -> tuple[Array, Array]:
    grid = np.linspace(-6.0, 6.0, 2401)
    normal = NormalDist()
    return grid, np.array([normal.cdf(z) for z in grid])


def _cdf(z: Array) -> Array:
    grid, values = _table()
    return np.interp(z, grid, values)
