"""What a way round a corner costs: through a door instead of the wall beside it.

Two published answers bracket it. A single knife edge (ITU-R P.526) counts nothing but diffraction: indoors too much,
because walls beyond the corner throw power into its shadow. The recursive corner model lets the path grow longer than
it is at every bend and was fitted in streets with walls on both sides, which is nearer to corridors and rooms. The
centre is the corner model; the knife edge bounds it from above.
"""

from __future__ import annotations

from collections.abc import Sequence
from itertools import pairwise
from math import acos, degrees, dist
from typing import Any

import numpy as np

from advisor.physics.arrays import Number, plain
from advisor.physics.propagation import NEAREST_M, free_space_loss_db
from advisor.trace import formula

Point = Sequence[float]

CORNER_LENGTH_M = 0.031
"""Scale of the corner model: a bend of 90 degrees weighs sqrt(0.031 m / wavelength). Berg's recursive model, COST 231
final report (1999) 4.5 and its use for diffraction in the METIS map-based model (D1.4, 2015); from memory."""
CORNER_POWER = 1.5
"""Growth of that weight with the angle; the same sources, from memory."""


@formula(
    id="diffraction.knife_edge_loss_db",
    unit="dB",
    expr="6.9 + 20 log10(sqrt((v - 0.1)^2 + 1) + v - 0.1), 0 below v = -0.78",
    source="ITU-R P.526 single knife edge (approximation in v, as carried by several public codes)",
)
def knife_edge_loss_db(v: Number) -> Any:
    """Loss beyond free space behind one absorbing edge; 6.0 dB at grazing (v = 0)."""
    shifted = np.asarray(v) - 0.1
    loss = 6.9 + 20.0 * np.log10(np.sqrt(shifted**2 + 1.0) + shifted)
    return plain(np.where(np.asarray(v) > -0.78, np.maximum(loss, 0.0), 0.0))


@formula(
    id="diffraction.knife_edge_v",
    unit="",
    expr="2 sqrt((d1 + d2 - d) / wavelength)",
    source="ITU-R P.526: v by the longer way over the straight one, holds for any angle",
)
def knife_edge_v(*, extra_m: Number, frequency_mhz: Number) -> Any:
    """Diffraction parameter of a bend that makes the way `extra_m` longer than the straight line, in its shadow."""
    return 2.0 * np.sqrt(np.maximum(extra_m, 0.0) * np.asarray(frequency_mhz) / 299.792458)


@formula(
    id="diffraction.bent_path_m",
    unit="m",
    expr="k += d q(angle), d += k s at every bend; q = (angle / 90)^1.5 sqrt(0.031 m / wavelength)",
    source="recursive corner model (Berg), COST 231 final report 4.5; scale from METIS D1.4 (from memory)",
)
def bent_path_m(*, legs_m: Sequence[Number], bends_deg: Sequence[Number], frequency_mhz: Number) -> Any:
    """Length of a straight path in free space with the loss of this bent one. One more leg than bends.

    Never shorter than the legs together, equal to them without bends, the same both ways, continuous in every angle.
    From memory; fitted in street canyons at 0.9 to 2 GHz, its use indoors and at 6 GHz is our extension.
    """
    if len(legs_m) != len(bends_deg) + 1:
        raise ValueError(f"{len(legs_m)} legs need {len(legs_m) - 1} bends, not {len(bends_deg)}")
    corner = np.sqrt(CORNER_LENGTH_M * np.asarray(frequency_mhz) / 299.792458)
    step: Any = 1.0
    length: Any = np.asarray(legs_m[0])
    for leg, bend in zip(legs_m[1:], bends_deg, strict=True):
        step = step + length * corner * (np.asarray(bend) / 90.0) ** CORNER_POWER
        length = length + step * np.asarray(leg)
    return plain(length)


def legs_and_bends(points: Sequence[Point]) -> tuple[list[float], list[float]]:
    """Lengths of the straight legs through some points, and the turn at each point between, 0 straight on."""
    legs = [dist(first, second) for first, second in pairwise(points)]
    bends = []
    for before, at, after in zip(points, points[1:], points[2:], strict=False):
        incoming = [b - a for a, b in zip(before, at, strict=True)]
        outgoing = [b - a for a, b in zip(at, after, strict=True)]
        size = dist(before, at) * dist(at, after)
        cosine = sum(a * b for a, b in zip(incoming, outgoing, strict=True)) / size if size > 0.0 else 1.0
        bends.append(degrees(acos(max(-1.0, min(1.0, cosine)))))
    return legs, bends


def detour_excess_db(points: Sequence[Point], frequency_mhz: float) -> float:
    """What the way through these points costs beyond the straight line: corner model, never negative."""
    legs, bends = legs_and_bends(points)
    straight = max(dist(points[0], points[-1]), NEAREST_M)
    bent = float(bent_path_m(legs_m=legs, bends_deg=bends, frequency_mhz=frequency_mhz))
    return float(20.0 * np.log10(max(bent, straight) / straight))


def knife_edge_excess_db(points: Sequence[Point], frequency_mhz: float) -> float:
    """The same by one knife edge per bend, added up (pessimistic): each bend against the straight line between the
    points before and after it, plus the longer way."""
    legs, _ = legs_and_bends(points)
    straight = max(dist(points[0], points[-1]), NEAREST_M)
    edges = 0.0
    for before, at, after in zip(points, points[1:], points[2:], strict=False):
        extra = dist(before, at) + dist(at, after) - dist(before, after)
        edges += float(knife_edge_loss_db(knife_edge_v(extra_m=extra, frequency_mhz=frequency_mhz)))
    return float(edges + 20.0 * np.log10(max(sum(legs), straight) / straight))


def detour_loss_db(
    start: Point,
    openings: Sequence[Point],
    end: Point,
    frequency_mhz: float,
    opening_losses_db: Sequence[float] = (),
) -> float:
    """Whole loss of the way from start through some openings to the end: free space over the bent path, plus what
    stands in the openings. Points in metres, in two or three dimensions. Without openings it is free space."""
    points = [start, *openings, end]
    free = float(free_space_loss_db(distance_m=dist(start, end), frequency_mhz=frequency_mhz))
    return free + detour_excess_db(points, frequency_mhz) + sum(opening_losses_db)
