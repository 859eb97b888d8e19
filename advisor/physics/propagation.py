"""How a level falls with distance, and what stands for the walls nobody drew."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cache
from typing import Any

import numpy as np

from advisor.data import catalogue
from advisor.physics.arrays import Number, plain
from advisor.trace import formula

NEAREST_M = 0.5
"""Shorter distances count as this one: the far field of the formulas does not reach nearer."""


def _distance_m(distance_m: Number) -> Any:
    return np.maximum(distance_m, NEAREST_M)


@formula(
    id="propagation.free_space_loss_db",
    unit="dB",
    expr="20 log10(d) + 20 log10(f) - 27.55",
    source="ITU-R P.525, isotropic antennas; constant 20 log10(4 pi / c)",
)
def free_space_loss_db(*, distance_m: Number, frequency_mhz: Number) -> Any:
    """Loss between isotropic antennas in free space, for distances from 0.5 m on (nearer ones count as 0.5 m)."""
    return 20.0 * np.log10(4.0 * np.pi * _distance_m(distance_m) * frequency_mhz * 1e6 / 299_792_458.0)


@formula(
    id="propagation.p1238_loss_db",
    unit="dB",
    expr="20 log10(f) + N log10(d) + Lf - 28",
    source="ITU-R P.1238-7 to -10, eq. (1)",
)
def p1238_loss_db(
    *, distance_m: Number, frequency_mhz: Number, power_coefficient: Number, floor_loss_db: Number = 0.0
) -> Any:
    """Mean indoor loss including unnamed walls; `power_coefficient` is N, `floor_loss_db` Lf(n). Valid 900 MHz to
    100 GHz, distances over 1 m; spread about it 8 to 17 dB by environment."""
    return 20.0 * np.log10(frequency_mhz) + power_coefficient * np.log10(_distance_m(distance_m)) + floor_loss_db - 28.0


@formula(
    id="propagation.p1238_abg_loss_db",
    unit="dB",
    expr="10 a log10(d) + b + 10 g log10(f)",
    source="ITU-R P.1238-11 (2021), Table 2 form; f in GHz",
)
def p1238_abg_loss_db(
    *, distance_m: Number, frequency_mhz: Number, alpha: Number, beta_db: Number, gamma: Number
) -> Any:
    """Mean indoor loss by the newer edition's form. Coefficients by kind of room are in `abg_coefficients`."""
    return (
        10.0 * alpha * np.log10(_distance_m(distance_m))
        + beta_db
        + 10.0 * gamma * np.log10(np.asarray(frequency_mhz) / 1000.0)
    )


@formula(
    id="propagation.p1238_excess_db",
    unit="dB",
    expr="max(0, P.1238 loss - free space loss)",
    source="difference of ITU-R P.1238-10 eq. (1) and P.525",
)
def p1238_excess_db(
    *, distance_m: Number, frequency_mhz: Number, power_coefficient: Number, floor_loss_db: Number = 0.0
) -> Any:
    """What usual walls and floors cost beyond free space where none are drawn; never negative."""
    indoor = p1238_loss_db(
        distance_m=distance_m,
        frequency_mhz=frequency_mhz,
        power_coefficient=power_coefficient,
        floor_loss_db=floor_loss_db,
    )
    return np.maximum(indoor - free_space_loss_db(distance_m=distance_m, frequency_mhz=frequency_mhz), 0.0)


@formula(
    id="propagation.path_loss_db",
    unit="dB",
    expr="free + known if the plan is complete, else free + max(known, undrawn excess)",
    source="project rule: a wall added never raises a level, an incomplete plan is never the more optimistic one",
)
def path_loss_db(
    *, free_db: Number, known_obstacles_db: Number, undrawn_excess_db: Number, complete: bool | np.ndarray[Any, Any]
) -> Any:
    """Loss of the whole path. With a complete plan the drawn obstacles count; otherwise the larger of them and what
    usual walls would cost."""
    larger = np.maximum(known_obstacles_db, undrawn_excess_db)
    return plain(free_db + np.where(complete, known_obstacles_db, larger))


@dataclass(frozen=True, slots=True)
class Surroundings:
    """The P.1238 values of one environment and band."""

    power_coefficient: float
    first_floor_db: float
    further_floor_db: float
    spread_db: float


ENVIRONMENTS = ("house", "apartment", "office", "commercial")


@cache
def surroundings(environment: str, band: str) -> Surroundings:
    """The values for an environment (house, apartment, office, commercial) and band; sources stand in the catalogue."""
    row = catalogue("propagation")["environments"][environment][band]
    return Surroundings(
        power_coefficient=float(row["power_coefficient"]["value"]),
        first_floor_db=float(row["first_floor_db"]["value"]),
        further_floor_db=float(row["further_floor_db"]["value"]),
        spread_db=float(row["spread_db"]["value"]),
    )


@cache
def drawn_spread_db() -> float:
    """Spread (one standard deviation) of a path whose walls are drawn: declared, smaller than that of undrawn ones."""
    return float(catalogue("propagation")["drawn_spread_db"]["value"])


def abg_coefficients(room: str) -> dict[str, float]:
    """alpha, beta_db, gamma and spread_db of one kind of room of P.1238-11 Table 2, such as `office_nlos`."""
    row = catalogue("propagation")["abg"][room]
    return {name: float(row[name]) for name in ("alpha", "beta_db", "gamma", "spread_db")}


def floor_loss_db(*, floors: Number, first_floor_db: Number, further_floor_db: Number) -> Any:
    """Lf(n) of P.1238 for `floors` floors crossed; nothing for none."""
    more = np.asarray(first_floor_db) + further_floor_db * (np.asarray(floors) - 1.0)
    return plain(np.where(np.asarray(floors) > 0, more, 0.0))
