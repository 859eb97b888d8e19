"""What a walk does to a call: gaps, loss, delay and the E-model's rating in windows, in every draw."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from advisor.data import catalogue
from advisor.physics.call_quality import Codec, codec, mos, r_factor
from advisor.walk.records import Array, Bools, Ints, Limits, Track

GAP_STEP = 1e-9
"""A step in which nothing passes for longer than this is part of a gap."""


@dataclass(frozen=True, slots=True)
class Gap:
    """A time in which nothing passes."""

    at_s: float
    seconds: float


@dataclass(frozen=True)
class Speech:
    """How the call fares; arrays over draws, or draws × windows."""

    window_s: float
    starts_s: Array
    """Beginning of every window."""
    mos: Array
    """Draws × windows."""
    r: Array
    gaps: tuple[tuple[Gap, ...], ...]
    """Per draw, in order."""
    longest_s: Array
    dropped: Bools

    @property
    def worst_mos(self) -> Array:
        worst: Array = self.mos.min(axis=1)
        return worst


def usual_limits() -> Limits:
    """From when on a call counts as disturbed, where the file does not say."""
    data = catalogue("walking")["calls"]
    numbers = {name: float(data[name]["value"]) for name in ("audible_ms", "long_ms", "dropped_s", "mos")}
    return Limits(**numbers, codec=str(data["codec"]["value"]))


def speech(track: Track, step_s: float, limits: Limits | None = None) -> Speech:
    """Judge the call: windows of 8 s each second, gaps, and whether the call is lost for good."""
    data = catalogue("walking")["calls"]
    limits = limits or usual_limits()
    codec_of = codec(limits.codec)
    gaps = tuple(gaps_of(row, step_s) for row in track.gap_s)
    longest = np.array([max((gap.seconds for gap in row), default=0.0) for row in gaps])
    dropped = track.dead | (longest >= limits.dropped_s)
    window_s = min(float(data["window_s"]["value"]), step_s * track.gap_s.shape[1])
    starts, rating = _windows(track, step_s, window_s, codec_of, float(data["jitter_buffer_ms"]["value"]))
    dead = np.broadcast_to(track.dead[:, None], rating.shape)
    rating = np.where(dead, 0.0, rating)
    begins = starts.astype(np.float64) * step_s
    return Speech(window_s, begins, np.asarray(mos(r=rating), dtype=np.float64), rating, gaps, longest, dropped)


def gaps_of(silent_s: Array, step_s: float) -> tuple[Gap, ...]:
    """Gaps of one draw: silent steps that touch are one gap, from the seconds silent in each."""
    silent = silent_s > GAP_STEP
    edges = np.flatnonzero(np.diff(np.concatenate(([0], silent.astype(np.int8), [0]))))
    found = []
    for start, end in zip(edges[::2].tolist(), edges[1::2].tolist(), strict=True):
        found.append(Gap(start * step_s, round(float(silent_s[start:end].sum()), 4)))
    return tuple(found)


def _windows(track: Track, step_s: float, window_s: float, codec_of: Codec, buffer_ms: float) -> tuple[Ints, Array]:
    """R in every window: mean delay, share lost, and how much lost packets come in bursts."""
    steps = track.gap_s.shape[1]
    long = max(round(window_s / step_s), 1)
    starts = np.arange(0, max(steps - long, 0) + 1, max(round(1.0 / step_s), 1))
    silent = track.gap_s / step_s
    lost = np.clip(silent + (1.0 - silent) * track.loss, 0.0, 1.0)
    single = (1.0 - silent) * track.loss * (1.0 - track.loss)
    begins = (silent > 0) & (np.concatenate((np.zeros((len(silent), 1)), silent[:, :-1]), axis=1) <= 0)
    packets = step_s * 1e3 / codec_of.packet_ms
    share = _mean(lost, starts, long)
    bursts = _mean(single * packets + begins, starts, long) * long
    count = share * long * packets
    mean_burst = count / np.maximum(bursts, 1e-9)
    ratio = np.where(count > 1e-9, np.maximum(mean_burst * (1.0 - share), 1.0), 1.0)
    heard = np.where(silent < 1.0, track.delay_ms, np.nan)
    delay = np.nan_to_num(
        _mean(np.nan_to_num(heard), starts, long) / np.maximum(_mean(1.0 * ~np.isnan(heard), starts, long), 1e-9)
    )
    mouth_to_ear = delay + codec_of.packet_ms + buffer_ms
    rating = r_factor(
        delay_ms=mouth_to_ear, loss_pct=100.0 * share, burst_ratio=ratio, ie=codec_of.ie, bpl=codec_of.bpl or 4.3
    )
    return starts, np.clip(np.asarray(rating, dtype=float), 0.0, 100.0)


def _mean(values: Array, starts: Ints, long: int) -> Array:
    """Mean over each window."""
    total = np.concatenate((np.zeros((len(values), 1)), np.cumsum(values, axis=1)), axis=1)
    result: Array = (total[:, starts + long] - total[:, starts]) / long
    return result
