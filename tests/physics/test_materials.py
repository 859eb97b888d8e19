"""The catalogue of constructions, and its order of size against the slab formula."""

from __future__ import annotations

from itertools import pairwise

import pytest

from advisor.data import catalogue
from advisor.physics.materials import (
    P2040_MATERIALS,
    construction_ids,
    construction_loss,
    construction_title,
    p2040_slab_loss_db,
)

BANDS = ("2.4", "5", "6")


@pytest.mark.parametrize("construction", construction_ids())
def test_ranges_are_ordered_and_grow_with_the_band(construction: str) -> None:
    losses = [construction_loss(construction, band) for band in BANDS]
    assert construction_title(construction)
    assert catalogue("constructions")["constructions"][construction]["source"] == "common practice, no source"
    for loss in losses:
        assert 0.0 <= loss.low_db <= loss.typical_db <= loss.high_db
    for lower, higher in pairwise(losses):
        assert lower.typical_db <= higher.typical_db


@pytest.mark.parametrize(
    ("construction", "material", "thickness_m"),
    [("concrete", "concrete", 0.15), ("floor-concrete", "concrete", 0.18)],
)
@pytest.mark.parametrize(("band", "mhz"), [("2.4", 2437.0), ("5", 5250.0), ("6", 6000.0)])
def test_solid_constructions_agree_with_the_slab(
    construction: str, material: str, thickness_m: float, band: str, mhz: float
) -> None:
    """Solid concrete is the one usual construction near a homogeneous slab: P.2040-4 must fall into its range."""
    loss = p2040_slab_loss_db(thickness_m=thickness_m, frequency_mhz=mhz, material=P2040_MATERIALS[material])
    row = construction_loss(construction, band)
    assert row.low_db <= loss <= row.high_db
