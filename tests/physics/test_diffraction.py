"""Ways round corners: the knife edge, the corner model, and what must hold for every way."""

from __future__ import annotations

from math import dist

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.special import fresnel

from advisor.physics.diffraction import (
    bent_path_m,
    detour_excess_db,
    detour_loss_db,
    knife_edge_excess_db,
    knife_edge_loss_db,
    knife_edge_v,
    legs_and_bends,
)
from advisor.physics.propagation import NEAREST_M, free_space_loss_db

points = st.tuples(st.floats(-20, 20), st.floats(-20, 20), st.floats(0, 3))
mhz = st.sampled_from([2437.0, 5250.0, 6000.0])


def fresnel_loss_db(v: float) -> float:
    """The exact edge: half of (1 - C - S)^2 + (C - S)^2."""
    s, c = fresnel(v)
    return float(-10.0 * np.log10(((1.0 - c - s) ** 2 + (c - s) ** 2) / 4.0))


def test_knife_edge_is_the_fresnel_integral() -> None:
    """Worst measured from v = -0.7 to 20: 0.123 dB near v = 4.6."""
    for v in np.linspace(-0.7, 20.0, 208):
        assert knife_edge_loss_db(v) == pytest.approx(fresnel_loss_db(v), abs=0.125)
    assert knife_edge_loss_db(0.0) == pytest.approx(20.0 * np.log10(2.0), abs=0.02)
    assert knife_edge_loss_db(-2.0) == 0.0


def test_v_from_the_longer_way_is_the_textbook_h_for_flat_paths() -> None:
    """v = h sqrt(2 / wavelength (1/d1 + 1/d2)), d1 = 40, d2 = 60 m, h = 0.5 m."""
    wavelength = 299.792458 / 5250.0
    extra = np.hypot(40.0, 0.5) + np.hypot(60.0, 0.5) - 100.0
    expected = 0.5 * np.sqrt(2.0 / wavelength * (1 / 40.0 + 1 / 60.0))
    assert knife_edge_v(extra_m=extra, frequency_mhz=5250.0) == pytest.approx(expected, rel=1e-4)


def test_the_corner_model_by_hand() -> None:
    """5 m, a right angle, 5 m at 5250 MHz: q = sqrt(0.031 / 0.0571) = 0.7368, length 5 + 5 (1 + 5 q) = 28.42 m."""
    length = bent_path_m(legs_m=[5.0, 5.0], bends_deg=[90.0], frequency_mhz=5250.0)
    assert length == pytest.approx(28.42, abs=0.01)
    corner = [(0.0, 0.0), (5.0, 0.0), (5.0, 5.0)]
    assert detour_excess_db(corner, 5250.0) == pytest.approx(20 * np.log10(28.42 / np.sqrt(50.0)), abs=0.01)


def test_one_more_leg_than_bends() -> None:
    with pytest.raises(ValueError, match="2 legs need 1 bends, not 2"):
        bent_path_m(legs_m=[1.0, 1.0], bends_deg=[1.0, 1.0], frequency_mhz=5250.0)


def test_arrays_of_bends() -> None:
    bends = np.array([0.0, 10.0, 90.0])
    together = bent_path_m(legs_m=[3.0, 4.0], bends_deg=[bends], frequency_mhz=5250.0)
    alone = [bent_path_m(legs_m=[3.0, 4.0], bends_deg=[float(b)], frequency_mhz=5250.0) for b in bends]
    assert together == pytest.approx(alone)
    assert together[0] == 7.0


@settings(deadline=None)
@given(route=st.lists(points, min_size=2, max_size=5), frequency=mhz)
def test_a_bent_way_is_never_shorter_and_the_same_both_ways(
    route: list[tuple[float, float, float]], frequency: float
) -> None:
    legs, bends = legs_and_bends(route)
    length = bent_path_m(legs_m=legs, bends_deg=bends, frequency_mhz=frequency)
    back = bent_path_m(legs_m=legs[::-1], bends_deg=bends[::-1], frequency_mhz=frequency)
    assert length >= sum(legs) - 1e-9
    assert back == pytest.approx(length, rel=1e-9, abs=1e-9)
    assert detour_excess_db(route, frequency) >= 0.0


@settings(deadline=None)
@given(start=points, end=points, share=st.floats(0.01, 0.99), frequency=mhz)
def test_a_point_on_the_line_costs_nothing(
    start: tuple[float, float, float], end: tuple[float, float, float], share: float, frequency: float
) -> None:
    between = [a + share * (b - a) for a, b in zip(start, end, strict=True)]
    if dist(start, end) < 0.1:
        return
    # acos rounds angles under 1e-6 degrees; with legs of some 40 m that is less than 1e-6 dB.
    assert detour_excess_db([start, between, end], frequency) == pytest.approx(0.0, abs=1e-6)


@pytest.mark.parametrize("aside", [1e-4, 1e-3, 1e-2])
def test_the_excess_grows_from_nothing(aside: float) -> None:
    excess = detour_excess_db([(0.0, 0.0), (4.0, aside), (8.0, 0.0)], 5250.0)
    assert 0.0 < excess < 3.0 * aside


def test_the_knife_edge_bounds_the_corner_model_in_rooms() -> None:
    """For legs of 1 to 15 m and every turn up to a right angle: the corner model is the kinder of the two."""
    for leg in (1.0, 3.0, 8.0, 15.0):
        for turn in np.radians([2.0, 10.0, 30.0, 60.0, 90.0]):
            route = [(0.0, 0.0), (leg, 0.0), (leg + leg * np.cos(turn), leg * np.sin(turn))]
            for frequency in (2437.0, 5250.0, 6000.0):
                assert detour_excess_db(route, frequency) < knife_edge_excess_db(route, frequency)


def test_the_whole_loss() -> None:
    straight = detour_loss_db((0.0, 0.0), [], (8.0, 0.0), 5250.0)
    assert straight == pytest.approx(free_space_loss_db(distance_m=8.0, frequency_mhz=5250.0))
    door = detour_loss_db((0.0, 0.0), [(4.0, 1.0)], (8.0, 0.0), 5250.0, [4.0])
    assert door == pytest.approx(straight + 4.0 + detour_excess_db([(0, 0), (4, 1), (8, 0)], 5250.0))
    assert detour_excess_db([(0.0, 0.0), (0.0, 0.0)], 5250.0) == 0.0
    assert NEAREST_M == 0.5
