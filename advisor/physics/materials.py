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
    permittivity = _permittivity(material, ghz)
    angle = np.deg2rad(incidence_deg)
    root = np.sqrt(permittivity - np.sin(angle) ** 2)
    facing = np.cos(angle) * (1.0 if polarisation == "TE" else permittivity)
    reflection = (facing - root) / (facing + root)
    phase = 2.0 * np.pi * np.asarray(thickness_m) * ghz / 0.299792458 * root
    through = (1.0 - reflection**2) * np.exp(-1j * phase) / (1.0 - reflection**2 * np.exp(-2j * phase))
    return -20.0 * np.log10(np.abs(through))


class Layer(NamedTuple):
    """One layer of a wall: a P.2040 material, or `AIR` for a cavity."""

    material: Material
    thickness_m: float


AIR = Material(1.0, 0.0, 0.0, 0.0)


def layers_of(construction: str) -> tuple[Layer, ...]:
    """The layers a construction is compared with, from one side to the other; empty where it is no flat layers."""
    told = catalogue("constructions")["constructions"][construction].get("layers", ())
    return tuple(Layer(AIR if name == "air" else P2040_MATERIALS[name], float(depth)) for name, depth in told)


@formula(
    id="materials.p2040_layers_loss_db",
    unit="dB",
    expr="-20 log10 |2 Y0 / (Y0 A + Y0^2 B + C + Y0 D)|, ABCD the product of the layers' matrices",
    source="transfer matrix of plane layers (the multi-layer case of ITU-R P.2040-4 2.2.2), materials of its Table 3",
)
def p2040_layers_loss_db(
    *,
    layers: tuple[Layer, ...],
    frequency_mhz: Number,
    incidence_deg: Number = 0.0,
    polarisation: Literal["TE", "TM"] = "TE",
) -> Any:
    """Transmission loss of flat layers in air, all reflections between them included. `incidence_deg` is measured from
    the normal, below 90. One layer gives `p2040_slab_loss_db`.

    Each layer has the matrix [[cos q, j sin q / Y], [j Y sin q, cos q]] with q = 2 pi d / wavelength sqrt(eta - sin^2)
    and Y = sqrt(eta - sin^2) (TE) or eta / sqrt(eta - sin^2) (TM). For non-metals; no studs, foil or reinforcement.
    """
    ghz = np.asarray(frequency_mhz) / 1000.0
    angle = np.deg2rad(incidence_deg)
    outside = np.cos(angle) if polarisation == "TE" else 1.0 / np.cos(angle)
    a, b, c, d = 1.0 + 0.0j, 0.0j, 0.0j, 1.0 + 0.0j
    for material, thickness_m in layers:
        permittivity = _permittivity(material, ghz)
        root = np.sqrt(permittivity - np.sin(angle) ** 2)
        own = root if polarisation == "TE" else permittivity / root
        phase = 2.0 * np.pi * thickness_m * ghz / 0.299792458 * root
        cosine, sine = np.cos(phase), 1j * np.sin(phase)
        a, b, c, d = (
            a * cosine + b * own * sine,
            a * sine / own + b * cosine,
            c * cosine + d * own * sine,
            c * sine / own + d * cosine,
        )
    through = 2.0 * outside / (outside * a + outside**2 * b + c + outside * d)
    return -20.0 * np.log10(np.abs(through))


def p2040_range_db(layers: tuple[Layer, ...], frequency_mhz: float, steepest_deg: float = 60.0) -> tuple[float, float]:
    """Least and most loss of layers over incidence from 0 to `steepest_deg` and both polarisations."""
    angles = np.linspace(0.0, steepest_deg, 121)
    losses = [
        p2040_layers_loss_db(
            layers=layers, frequency_mhz=frequency_mhz, incidence_deg=angles, polarisation=polarisation
        )
        for polarisation in ("TE", "TM")
    ]
    return float(np.min(losses)), float(np.max(losses))


def _permittivity(material: Material, ghz: Any) -> Any:
    """Complex relative permittivity at a frequency in GHz."""
    return material.a * ghz**material.b - 17.98j * material.c * ghz**material.d / ghz
