"""Layered walls: the transfer matrix against the single slab, another method, and what optics says must hold."""

from __future__ import annotations

from typing import Any, Literal

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from advisor.data import catalogue
from advisor.physics.materials import (
    AIR,
    P2040_MATERIALS,
    Layer,
    Material,
    construction_ids,
    construction_loss,
    layers_of,
    p2040_layers_loss_db,
    p2040_range_db,
    p2040_slab_loss_db,
)

Polarisation = Literal["TE", "TM"]
BOTH: tuple[Polarisation, ...] = ("TE", "TM")
materials = st.sampled_from([*P2040_MATERIALS.values(), AIR])
walls = st.lists(st.builds(Layer, materials, st.floats(0.0, 0.3)), min_size=1, max_size=5).map(tuple)
mhz = st.floats(2400.0, 7125.0)
angles = st.floats(0.0, 80.0)
LOSSLESS = Material(4.0, 0.0, 0.0, 0.0)


@settings(deadline=None)
@given(material=materials, thickness=st.floats(0.0, 0.4), frequency=mhz, angle=angles)
def test_one_layer_is_the_slab(material: Material, thickness: float, frequency: float, angle: float) -> None:
    for polarisation in BOTH:
        row: dict[str, Any] = {"frequency_mhz": frequency, "incidence_deg": angle, "polarisation": polarisation}
        one = p2040_layers_loss_db(layers=(Layer(material, thickness),), **row)
        slab = p2040_slab_loss_db(thickness_m=thickness, material=material, **row)
        assert one == pytest.approx(slab, abs=1e-6)


@settings(deadline=None)
@given(wall=walls, frequency=mhz, angle=angles)
def test_the_other_way_through_costs_the_same(wall: tuple[Layer, ...], frequency: float, angle: float) -> None:
    for polarisation in BOTH:
        row: dict[str, Any] = {"frequency_mhz": frequency, "incidence_deg": angle, "polarisation": polarisation}
        there = p2040_layers_loss_db(layers=wall, **row)
        assert there == pytest.approx(p2040_layers_loss_db(layers=wall[::-1], **row), abs=1e-6)
        assert there >= -1e-9


def fresnel_recursion_db(
    wall: tuple[Layer, ...], frequency_mhz: float, incidence_deg: float, polarisation: Polarisation
) -> float:
    """The same loss by interface coefficients added up from the far side (Airy's sum), with E fields throughout."""
    ghz, sine = frequency_mhz / 1000.0, np.sin(np.deg2rad(incidence_deg))
    media = [AIR, *(layer.material for layer in wall), AIR]
    eta = [medium.a * ghz**medium.b - 17.98j * medium.c * ghz**medium.d / ghz for medium in media]
    root = [np.sqrt(value - sine**2) for value in eta]
    depth = [0.0, *(layer.thickness_m for layer in wall), 0.0]

    def interface(i: int) -> tuple[complex, complex]:
        if polarisation == "TE":
            return (root[i] - root[i + 1]) / (root[i] + root[i + 1]), 2 * root[i] / (root[i] + root[i + 1])
        one, two = eta[i + 1] * root[i], eta[i] * root[i + 1]
        return (one - two) / (one + two), 2 * np.sqrt(eta[i] * eta[i + 1]) * root[i] / (one + two)

    last = len(media) - 2
    reflected, through = interface(last)
    for i in range(last - 1, -1, -1):
        turn = np.exp(-2j * np.pi * depth[i + 1] * ghz / 0.299792458 * root[i + 1])
        own_r, own_t = interface(i)
        many = 1.0 + own_r * reflected * turn**2
        through = own_t * through * turn / many
        reflected = (own_r + reflected * turn**2) / many
    return float(-20.0 * np.log10(abs(through)))


@settings(deadline=None)
@given(wall=walls, frequency=mhz, angle=angles)
def test_layers_agree_with_adding_up_reflections(wall: tuple[Layer, ...], frequency: float, angle: float) -> None:
    for polarisation in BOTH:
        matrix = p2040_layers_loss_db(
            layers=wall, frequency_mhz=frequency, incidence_deg=angle, polarisation=polarisation
        )
        assert matrix == pytest.approx(fresnel_recursion_db(wall, frequency, angle, polarisation), abs=1e-6)


def test_half_wave_plates_and_brewsters_angle_cost_nothing() -> None:
    """Textbook optics: lossless half-wave plates are clear, with any gap between; at tan(angle) = sqrt(4) TM passes."""
    half_wave = 0.299792458 / 5.25 / 2.0 / 2.0
    plates = (Layer(LOSSLESS, half_wave), Layer(AIR, 0.0173), Layer(LOSSLESS, half_wave))
    assert p2040_layers_loss_db(layers=plates, frequency_mhz=5250.0) == pytest.approx(0.0, abs=1e-9)
    brewster = float(np.degrees(np.arctan(2.0)))
    odd = (Layer(LOSSLESS, 0.0081), Layer(AIR, 0.02), Layer(LOSSLESS, 0.013))
    through = {
        polarisation: p2040_layers_loss_db(
            layers=odd, frequency_mhz=5250.0, incidence_deg=brewster, polarisation=polarisation
        )
        for polarisation in BOTH
    }
    assert through["TM"] == pytest.approx(0.0, abs=1e-9)
    assert through["TE"] > 1.0


def test_two_quarter_wave_plates_a_quarter_wave_apart() -> None:
    """Quarter-wave stack of index n: admittance n^4 in front of air, T = 4 n^4 / (1 + n^4)^2; n = 2: 6.55 dB."""
    quarter = 0.299792458 / 5.25 / 4.0
    stack = (Layer(LOSSLESS, quarter / 2.0), Layer(AIR, quarter), Layer(LOSSLESS, quarter / 2.0))
    expected = -10.0 * np.log10(4.0 * 16.0 / 17.0**2)
    assert p2040_layers_loss_db(layers=stack, frequency_mhz=5250.0) == pytest.approx(expected, abs=1e-9)


@pytest.mark.parametrize("polarisation", BOTH)
def test_arrays_of_frequencies_and_angles(polarisation: Polarisation) -> None:
    wall = layers_of("plasterboard")
    frequency, angle = np.array([2437.0, 5250.0, 6000.0]), np.array([0.0, 30.0, 60.0])
    together = p2040_layers_loss_db(
        layers=wall, frequency_mhz=frequency, incidence_deg=angle, polarisation=polarisation
    )
    alone = [
        p2040_layers_loss_db(layers=wall, frequency_mhz=f, incidence_deg=a, polarisation=polarisation)
        for f, a in zip(frequency, angle, strict=True)
    ]
    assert together == pytest.approx(alone, abs=1e-12)


def test_air_alone_is_nothing() -> None:
    assert p2040_layers_loss_db(layers=(Layer(AIR, 0.5),), frequency_mhz=5250.0, incidence_deg=40.0) == pytest.approx(0)


@pytest.mark.parametrize("construction", [name for name in construction_ids() if name != "open"])
def test_every_construction_says_how_the_slab_formula_compares(construction: str) -> None:
    row = catalogue("constructions")["constructions"][construction]
    assert len(row["p2040"]) > 20
    for layer in layers_of(construction):
        assert 0.0 < layer.thickness_m < 0.5
    if layers_of(construction):
        low, high = p2040_range_db(layers_of(construction), 5250.0)
        assert 0.0 <= low < high


@pytest.mark.parametrize("construction", ["concrete", "floor-concrete"])
@pytest.mark.parametrize(("band", "mhz"), [("2.4", 2437.0), ("5", 5250.0), ("6", 6000.0)])
def test_concrete_stays_in_its_range_at_every_angle(construction: str, band: str, mhz: float) -> None:
    """The one construction near a homogeneous slab: P.2040-4 from 0 to 60 degrees lies inside the trade's range."""
    low, high = p2040_range_db(layers_of(construction), mhz)
    row = construction_loss(construction, band)
    assert row.low_db <= low < high <= row.high_db
