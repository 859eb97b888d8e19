"""Shadowing along a way: its correlation, and that each draw hangs on its own key alone."""

from __future__ import annotations

import numpy as np
import pytest

from advisor.walk.chance import Chance, correlated, share_lost


@pytest.mark.parametrize("apart_m", [0.5, 1.0, 1.2, 3.0, 6.0])
def test_correlation_over_distance(apart_m: float) -> None:
    """R(d) = exp(-d / dcorr), Gudmundson, Electronics Letters 27(23), 1991: with 6 m, 0.920 at 0.5 m, 0.846 at 1 m,
    0.819 at 1.2 m, 0.607 at 3 m, 0.368 at 6 m. 20,000 draws; the error of a correlation is under 1 / sqrt(20,000)."""
    walked = np.arange(0.0, 12.0 + apart_m, apart_m)
    series = correlated(Chance(3, 20_000), walked, 6.0, "node")
    assert np.corrcoef(series[:, 1], series[:, 2])[0, 1] == pytest.approx(
        np.exp(-apart_m / 6.0), abs=4 / np.sqrt(20_000)
    )
    assert series.std(axis=0) == pytest.approx(np.ones(len(walked)), abs=0.03)
    assert abs(series.mean(axis=0)).max() < 0.04


def test_who_stands_still_keeps_his_shadow() -> None:
    series = correlated(Chance(1, 50), np.array([0.0, 2.0, 2.0, 2.0]), 6.0, "node")
    assert np.allclose(series[:, 1], series[:, 3])


def test_a_draw_hangs_on_its_own_key() -> None:
    first = Chance(1, 20).uniforms(4, "walk", "join")
    assert np.array_equal(first, Chance(1, 20).uniforms(4, "walk", "join"))
    assert not np.array_equal(first, Chance(1, 20).uniforms(4, "walk", "keys"))
    assert not np.array_equal(first, Chance(2, 20).uniforms(4, "walk", "join"))


def test_typical_is_the_middle() -> None:
    typical = Chance(1, 500, typical=True)
    assert typical.uniforms(3, "x").tolist() == [[0.5, 0.5, 0.5]]
    assert not correlated(typical, np.arange(5.0), 6.0, "node").any()


def test_share_lost() -> None:
    """Margin 0 is one fade in ten by definition; the rest is the normal distribution in dB."""
    lost = share_lost(np.array([-30.0, 0.0, 3.0, 30.0]), 3.0)
    assert lost == pytest.approx([1.0, 0.1, 0.01125, 0.0], abs=2e-4)
