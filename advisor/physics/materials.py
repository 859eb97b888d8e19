"""What a wall, floor, door or window costs: the trade's ranges, and the slab formula that checks them."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cache
from typing import Any, Literal, NamedTuple

import numpy as np

from advisor.data import catalogue
from advisor.physics.arrays import Number
from advisor.trace import formula


@dataclass(frozen=True, slots=True)
class ConstructionLoss:
    """Loss of one crossing in dB; `low` and `high` bound what the trade meets."""

    low_db: float
    typical_db: float
    high_db: float


@cache
def construction_ids() -> tuple[str, ...]:
    """Every construction of the catalogue, in its order."""
    return tuple(catalogue("constructions")["constructions"])


def construction_title(construction: str) -> str:
    return str(catalogue("constructions")["constructions"][construction]["title"])


@cache
def construction_loss(construction: str, band: str) -> ConstructionLoss:
    """Loss of one crossing of a construction in a band. Common practice, no source."""
    row = catalogue("constructions")["constructions"][construction]["loss_db"][band]
    return ConstructionLoss(float(row["low"]), float(row["typical"]), float(row["high"]))


class Material(NamedTuple):
    """Coefficients of ITU-R P.2040: relative permittivity a f^b, conductivity c f^d in S/m, f in GHz."""

    a: float
    b: float
    c: float
    d: float


P2040_MATERIALS: dict[str, Material] = {
    "concrete": Material(5.24, 0.0, 0.0462, 0.7822),
    "brick": Material(3.91, 0.0, 0.0238, 0.16),
    "plasterboard": Material(2.73, 0.0, 0.0085, 0.9395),
    "wood": Material(1.99, 0.0, 0.0047, 1.0718),
    "glass": Material(6.31, 0.0, 0.0036, 1.3394),
    "ceiling_board": Material(1.48, 0.0, 0.0011, 1.0750),
    "chipboard": Material(2.58, 0.0, 0.0217, 0.78),
    "plywood": Material(2.71, 0.0, 0.33, 0.0),
    "marble": Material(7.074, 0.0, 0.0055, 0.9262),
}
"""ITU-R P.2040-4 Table 3 as transcribed in sionna-rt 2.2.0 (equal to editions -2 and -3 by memory); 1 to 40 GHz."""

P2040_1_MATERIALS: dict[str, Material] = {
    "concrete": Material(5.31, 0.0, 0.0326, 0.8095),
    "brick": Material(3.75, 0.0, 0.038, 0.0),
    "plasterboard": Material(2.94, 0.0, 0.0116, 0.7076),
    "glass": Material(6.27, 0.0, 0.0043, 1.1925),
    "ceiling_board": Material(1.50, 0.0, 0.0005, 1.1634),
}
"""The superseded edition P.2040-1 (from memory), kept because older books use it: concrete differs by 6 dB at 5 GHz."""


@formula(
    id="materials.p2040_slab_loss_db",
    unit="dB",
    expr="-20 log10 |(1 - R^2) exp(-jq) / (1 - R^2 exp(-2jq))|",
    source="ITU-R P.2040-4 eqs (37), (43), (44); conductivity term 17.98 sigma / f",
)
def p2040_slab_loss_db(
    *,
    thickness_m: Number,
    frequency_mhz: Number,
    material: Material,
    incidence_deg: Number = 0.0,
    polarisation: Literal["TE", "TM"] = "TE",
) -> Any:
    """Transmission loss of one homogeneous slab. `incidence_deg` is measured from the normal, below 90.

    Formula check to 0.02 dB; not the rating of a real wall, which has studs, cavities or reinforcement.
    """
    ghz = np.asarray(frequency_mhz) / 1000.0
    permittivity = material.a * ghz**material.b - 17.98j * material.c * ghz**material.d / ghz
    angle = np.deg2rad(incidence_deg)
    root = np.sqrt(permittivity - np.sin(angle) ** 2)
    facing = np.cos(angle) * (1.0 if polarisation == "TE" else permittivity)
    reflection = (facing - root) / (facing + root)
    phase = 2.0 * np.pi * np.asarray(thickness_m) * ghz / 0.299792458 * root
    through = (1.0 - reflection**2) * np.exp(-1j * phase) / (1.0 - reflection**2 * np.exp(-2j * phase))
    return -20.0 * np.log10(np.abs(through))
