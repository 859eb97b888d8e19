"""Medium access settings as one record, with named sets."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from functools import cache
from typing import Any, Literal, TypeAlias

import numpy as np

from advisor.data import catalogue
from advisor.physics.arrays import Number, plain
from advisor.physics.frames import FrameHabits

Category = Literal["best_effort", "voice"]


@dataclass(frozen=True, slots=True)
class Access:
    """How one access category contends (EDCA)."""

    aifsn: int
    cw_min: int
    cw_max: int

    @property
    def mean_backoff_slots(self) -> float:
        """Mean of the first draw from 0 to cw_min."""
        return self.cw_min / 2.0


@dataclass(frozen=True, slots=True)
class Aggregation:
    """How much one standard's sender puts into one frame. No A-MSDU where `amsdu_bytes` is 0."""

    ampdu_bytes: int
    ampdu_frames: int
    """Most MPDUs in an A-MPDU: the block-ack window."""
    amsdu_bytes: int
    block_ack_bytes: int


@dataclass(frozen=True, slots=True)
class Beacon:
    """The regular announcement of one network name."""

    interval_ms: float
    frame_bytes: int
    rate_mbps: float


@dataclass(frozen=True)
class MacSettings:
    """One set of settings; hashable, so results can be kept by it."""

    name: str
    slot_us: float
    sifs: tuple[tuple[str, float], ...]
    best_effort: Access
    voice: Access
    longest_ppdu_us: float
    basic_rates_mbps: tuple[float, ...]
    aggregations: tuple[tuple[str, Aggregation], ...]
    beacons: tuple[tuple[str, Beacon], ...]
    frame_habits: FrameHabits
    delayed_ack: int
    tcp_segment_bytes: int
    tcp_header_bytes: int
    encryption_bytes: int = 0
    """What encryption adds to every data frame: CCMP header and MIC."""
    reserve: bool = False
    """Whether RTS and CTS go before every data frame."""

    def sifs_us(self, band: str) -> float:
        return dict(self.sifs)[band]

    def access(self, category: Category) -> Access:
        return self.voice if category == "voice" else self.best_effort

    def aifs_us(self, band: str, category: Category = "best_effort") -> float:
        """Silence before backoff: SIFS + AIFSN slots."""
        return self.sifs_us(band) + self.access(category).aifsn * self.slot_us

    def aggregation(self, standard: str) -> Aggregation:
        return dict(self.aggregations)[standard]

    def beacon(self, band: str) -> Beacon:
        return dict(self.beacons)[band]

    def with_beacons_at(self, rate_mbps: float) -> MacSettings:
        """The same settings with beacons at another rate: they go out at the lowest basic rate (IEEE 802.11-2020
        10.6.5.1, clause from memory)."""
        slower = tuple((band, replace(beacon, rate_mbps=rate_mbps)) for band, beacon in self.beacons)
        return replace(self, beacons=slower)


def _build(name: str, row: dict[str, Any]) -> MacSettings:
    beacon = row["beacon"]
    return MacSettings(
        name=name,
        slot_us=float(row["timing"]["slot_us"]),
        sifs=tuple((band, float(value)) for band, value in row["timing"]["sifs_us"].items()),
        best_effort=Access(**row["access"]["best_effort"]),
        voice=Access(**row["access"]["voice"]),
        longest_ppdu_us=float(row["longest_ppdu_us"]),
        basic_rates_mbps=tuple(float(rate) for rate in row["basic_rates_mbps"]),
        aggregations=tuple((standard, Aggregation(**values)) for standard, values in row["aggregation"].items()),
        beacons=tuple(
            (band, Beacon(float(beacon["interval_ms"]), beacon["bytes"][band], float(beacon["rate_mbps"][band])))
            for band in beacon["bytes"]
        ),
        frame_habits=FrameHabits(**row["frame_habits"]),
        delayed_ack=row["tcp"]["delayed_ack"],
        tcp_segment_bytes=row["tcp"]["segment_bytes"],
        tcp_header_bytes=row["tcp"]["header_bytes"],
        encryption_bytes=row["encryption_bytes"],
    )


GEAR_SETS = ("small-aggregates", "usual-gear", "large-aggregates")
"""Sets of real gear, by how much a sender puts into one frame."""
MAC_SETS = ("simulator", *GEAR_SETS)


@cache
def mac_settings(name: str = "usual-gear") -> MacSettings:
    """A named set: one of real gear, or `simulator` for the settings the reference runs were made with."""
    return _build(name, catalogue("mac")[name])


Aggregating: TypeAlias = "str | Number"
"""How much gear puts into one frame: a named set, or (not known) how far it is from the usual set, -1 at small
aggregates, +1 at large ones."""


def sets_of(aggregating: Aggregating) -> tuple[MacSettings, ...]:
    """The sets gear that aggregates so may be using."""
    return tuple(mac_settings(name) for name in ((aggregating,) if isinstance(aggregating, str) else GEAR_SETS))


def usual_of(aggregating: Aggregating) -> MacSettings:
    """The set gear that aggregates so uses, the usual one where that is not known."""
    return mac_settings(aggregating) if isinstance(aggregating, str) else mac_settings()


def between_sets(aggregating: Aggregating, figures: Sequence[Any]) -> Any:
    """A figure of gear that aggregates so, from its figures under each of `sets_of`: linear between two."""
    if isinstance(aggregating, str):
        return figures[0]
    small, usual, large = (np.asarray(figure) for figure in figures)
    way = np.asarray(aggregating)
    return plain(usual + np.maximum(-way, 0.0) * (small - usual) + np.maximum(way, 0.0) * (large - usual))
