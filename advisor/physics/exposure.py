"""How strong the field of a radio is at a distance, and how far away it falls below the limits for people.

Far-field figures of a steady, full-power sender in its strongest direction. See `CAUTION` before quoting them.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any, Literal

import numpy as np

from advisor.physics.arrays import Number, plain
from advisor.trace import formula

Ground = Literal["none", "usual", "full"]

REFLECTION_FACTOR: dict[str, float] = {"none": 1.0, "usual": 2.56, "full": 4.0}
"""Power density with reflections over that without: 1.6 squared (EPA's ground reflection) and 2 squared (all of it);
FCC OET Bulletin 65 (1997), eqs (4) to (8)."""

FCC_GENERAL_W_M2 = 10.0
"""47 CFR 1.1310, general population, 1.5 to 100 GHz: 1.0 mW/cm2 averaged over 30 minutes."""
FCC_OCCUPATIONAL_W_M2 = 50.0
"""47 CFR 1.1310, occupational, 1.5 to 100 GHz: 5.0 mW/cm2 averaged over 6 minutes."""
ICNIRP_WHOLE_BODY_W_M2 = 10.0
"""ICNIRP 2020 Table 5, general public, 2 to 300 GHz, 30 minutes (from memory)."""
ICNIRP_LOCAL_W_M2 = 40.0
"""ICNIRP 2020 Table 6, general public, local, 2 to 6 GHz, 6 minutes; above 6 GHz see `icnirp_local_limit_w_m2`."""

USUAL_CLEARANCE_M = 0.2
"""The 20 cm of usual installation leaflets: mobile devices by 47 CFR 2.1091 (from memory)."""

CAUTION = (
    "A far-field estimate for one radio that sends all the time at full power. Nearer than about 20 cm it is not far "
    "field, several radios add up, and real duty is lower. It does not replace the manufacturer's distance, a "
    "measurement or national rules; when in doubt keep 20 cm."
)


@formula(
    id="exposure.power_density_w_m2",
    unit="W/m2",
    expr="EIRP / (4 pi d^2) x reflection factor x duty",
    source="FCC OET Bulletin 65 (1997) eqs (4) to (8)",
)
def power_density_w_m2(
    *, eirp_dbm: Number, distance_m: Number, reflection_factor: Number = 1.0, duty_share: Number = 1.0
) -> Any:
    """Power density in the main direction. Far field only: from some 10 cm on for small antennas in these bands."""
    return _watts(eirp_dbm) * reflection_factor * duty_share / (4.0 * np.pi * np.asarray(distance_m) ** 2)


@formula(
    id="exposure.separation_distance_m",
    unit="m",
    expr="sqrt(EIRP x reflection factor x duty / (4 pi S))",
    source="FCC OET Bulletin 65 (1997) eqs (4) to (8), solved for the distance",
)
def separation_distance_m(
    *,
    eirp_dbm: Number,
    limit_w_m2: Number = FCC_GENERAL_W_M2,
    reflection_factor: Number = 1.0,
    duty_share: Number = 1.0,
) -> Any:
    """Distance at which the power density has fallen to a limit."""
    return np.sqrt(_watts(eirp_dbm) * reflection_factor * duty_share / (4.0 * np.pi * np.asarray(limit_w_m2)))


def _watts(eirp_dbm: Number) -> Any:
    return 10.0 ** ((np.asarray(eirp_dbm) - 30.0) / 10.0)


def icnirp_local_limit_w_m2(frequency_mhz: Number) -> Any:
    """ICNIRP 2020 Table 6, general public, local: 40 W/m2 from 2 to 6 GHz, 55 / f^0.177 with f in GHz above."""
    ghz = np.asarray(frequency_mhz) / 1000.0
    return plain(np.where(ghz <= 6.0, ICNIRP_LOCAL_W_M2, 55.0 / ghz**0.177))


@dataclass(frozen=True, slots=True)
class Exposure:
    """One radio's figures, each with full duty; `caution` belongs to every quote of them."""

    at_clearance_w_m2: float
    """Power density at 20 cm with usual reflections."""
    fcc_distance_m: float
    """Where the general public's limit of 47 CFR 1.1310 is met, with usual reflections."""
    icnirp_distance_m: float
    """Where both ICNIRP 2020 levels for the general public are met, with usual reflections."""
    caution: str


def exposure(eirp_dbm: float, frequency_mhz: float, ground: Ground = "usual") -> Exposure:
    """Separation distances and the power density at 20 cm for one radio (1.5 to 100 GHz)."""
    factor = REFLECTION_FACTOR[ground]
    strictest = min(ICNIRP_WHOLE_BODY_W_M2, float(icnirp_local_limit_w_m2(frequency_mhz)))
    return Exposure(
        float(power_density_w_m2(eirp_dbm=eirp_dbm, distance_m=USUAL_CLEARANCE_M, reflection_factor=factor)),
        float(separation_distance_m(eirp_dbm=eirp_dbm, reflection_factor=factor)),
        float(separation_distance_m(eirp_dbm=eirp_dbm, limit_w_m2=strictest, reflection_factor=factor)),
        CAUTION,
    )
