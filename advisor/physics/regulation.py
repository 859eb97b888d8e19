"""What an open kernel lets a radio do in a country, and how far that clears a setting.

The figures are those of wireless-regdb. It is what Linux enforces, often lower than the law: a setting above it "could
not be cleared", which is no breach. Only where a second published limit was seen and is exceeded too does `Clearance`
say so (`over_published_limit`). A country the database does not hold is unknown, never free.

Read as Linux reads it (net/wireless/reg.c, chan.c): every 20 MHz part of a channel must lie in one range, or across two
that meet exactly; the ranges must allow the whole width; a range marked AUTO-BW allows the span of all it touches.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from enum import StrEnum
from functools import cache
from importlib.resources import files

import numpy as np

from advisor.data import catalogue

ROUNDING_DB = 0.05
"""The database turns milliwatts into hundredths of dBm (200 mW: 23.01, 25 mW: 13.97), people write whole dBm."""

PART_MHZ = 20.0


class Verdict(StrEnum):
    CLEARED = "cleared by the database"
    NOT_CLEARED = "could not be cleared, check national rules"
    UNKNOWN_COUNTRY = "unknown country"


@dataclass(frozen=True, slots=True)
class Range:
    """One row of the database."""

    low_mhz: float
    high_mhz: float
    max_bandwidth_mhz: float
    max_eirp_dbm: float
    flags: frozenset[str]
    """DFS (watch for radar), NO-OUTDOOR, NO-IR (join others' networks only), NO-OFDM, AUTO-BW."""

    def holds(self, low_mhz: float, high_mhz: float) -> bool:
        return self.low_mhz <= low_mhz and high_mhz <= self.high_mhz


@dataclass(frozen=True, slots=True)
class Rules:
    """What the database says about one stretch of frequencies in one country."""

    country: str
    low_mhz: float
    high_mhz: float
    covered: bool
    """False where a part of the stretch is in no range: an open kernel does not transmit there at all."""
    max_bandwidth_mhz: float
    max_eirp_dbm: float
    """Lowest of the ranges touched. Linux takes that of the primary channel and drops the decimals."""
    flags: frozenset[str]

    @property
    def dfs(self) -> bool:
        return "DFS" in self.flags

    @property
    def no_outdoor(self) -> bool:
        return "NO-OUTDOOR" in self.flags

    @property
    def no_ir(self) -> bool:
        """No network may be started here, only joined."""
        return "NO-IR" in self.flags

    @property
    def no_ofdm(self) -> bool:
        return "NO-OFDM" in self.flags


@dataclass(frozen=True, slots=True)
class Limit:
    """A national limit from a second source, with how well it is known (`found` or `memory`)."""

    max_eirp_dbm: float
    source: str
    status: str


@dataclass(frozen=True, slots=True)
class Clearance:
    """Whether the database clears a setting, why not, and what a second source says."""

    verdict: Verdict
    reasons: tuple[str, ...]
    rules: Rules | None
    second: Limit | None
    over_published_limit: bool
    """True only where a second limit that was seen in published text is exceeded as well."""


@cache
def database() -> dict[str, tuple[Range, ...]]:
    """All countries of the carried extract ("00" is the world domain), each with its ranges from below."""
    text = files("advisor.data").joinpath("regdb.csv").read_text(encoding="utf-8")
    rows = [line.split(",") for line in text.splitlines() if line and not line.startswith("#")]
    found: dict[str, list[Range]] = {}
    for country, _, low, high, width, power, flags in rows[1:]:
        marks = frozenset(flags.split("|")) if flags else frozenset()
        found.setdefault(country, []).append(Range(float(low), float(high), float(width), float(power), marks))
    return {country: tuple(ranges) for country, ranges in found.items()}


@cache
def radar_regions() -> dict[str, str]:
    """Whose rules on radar a country follows, as the database has it: ETSI, FCC, JP, or empty."""
    text = files("advisor.data").joinpath("regdb.csv").read_text(encoding="utf-8")
    rows = [line.split(",") for line in text.splitlines() if line and not line.startswith("#")]
    return {row[0]: row[1] for row in rows[1:]}


@cache
def database_version() -> str:
    """Version of wireless-regdb the figures are from."""
    text = files("advisor.data").joinpath("regdb.csv").read_text(encoding="utf-8")
    return next(line.partition(":")[2].strip() for line in text.splitlines() if line.startswith("# version:"))


def rules_for(country: str, low_mhz: float, high_mhz: float) -> Rules | None:
    """What the database says about a channel that occupies `low_mhz` to `high_mhz` (a multiple of 20 MHz wide), or None
    for a country it does not hold.

    The flags are those of every range touched; width and power the least of them. Source: wireless-regdb as read by
    Linux (`reg_get_max_bandwidth_from_range`, `handle_channel`).
    """
    ranges = database().get(country.upper())
    if ranges is None:
        return None
    touched: list[Range] = []
    widths: list[float] = []
    for low in np.arange(low_mhz, high_mhz - 1e-6, PART_MHZ):
        rows = _ranges_of_part(ranges, float(low), min(float(low) + PART_MHZ, high_mhz))
        touched += rows
        widths += [_widest_mhz(ranges, row) for row in rows] or [0.0]
    covered = bool(widths) and min(widths) > 0.0
    return Rules(
        country.upper(),
        low_mhz,
        high_mhz,
        covered,
        min(widths) if covered else 0.0,
        min(row.max_eirp_dbm for row in touched) if covered else float("-inf"),
        frozenset().union(*(row.flags for row in touched)) - {"AUTO-BW"},
    )


def _ranges_of_part(ranges: tuple[Range, ...], low_mhz: float, high_mhz: float) -> tuple[Range, ...]:
    """The range that holds a 20 MHz part, or the two it lies across if they meet exactly and each holds the channel
    next to it; empty where there is none."""
    for row in ranges:
        if row.holds(low_mhz, high_mhz):
            return (row,)
    below = next((row for row in ranges if row.holds(low_mhz - PART_MHZ, high_mhz - PART_MHZ)), None)
    above = next((row for row in ranges if row.holds(low_mhz + PART_MHZ, high_mhz + PART_MHZ)), None)
    if below is not None and above is not None and below.high_mhz == above.low_mhz:
        return below, above
    return ()


def _widest_mhz(ranges: tuple[Range, ...], row: Range) -> float:
    """Widest channel a range takes part in: its own figure, or with AUTO-BW the span of the chain it touches."""
    if "AUTO-BW" not in row.flags:
        return row.max_bandwidth_mhz
    at = ranges.index(row)
    first = last = row
    for other in reversed(ranges[:at]):
        if other.high_mhz < first.low_mhz:
            break
        first = other
    for other in ranges[at + 1 :]:
        if other.low_mhz > last.high_mhz:
            break
        last = other
    return last.high_mhz - first.low_mhz


def clear(
    country: str | None,
    low_mhz: float,
    high_mhz: float,
    *,
    eirp_dbm: float | None = None,
    outdoor: bool = False,
    starts_network: bool = True,
    ofdm: bool = True,
) -> Clearance:
    """Whether the database clears a radio on these frequencies.

    `eirp_dbm` None: the power is not judged. `starts_network`: it sends beacons of its own (an access point or relay),
    which NO-IR forbids to an open kernel. DFS is no reason against; the radio has to watch for radar.
    """
    if country is None:
        return Clearance(Verdict.UNKNOWN_COUNTRY, ("the site gives no country",), None, None, False)
    rules = rules_for(country, low_mhz, high_mhz)
    if rules is None:
        return Clearance(Verdict.UNKNOWN_COUNTRY, (f"{country} is not in the database",), None, None, False)
    second = second_limit(country, low_mhz, high_mhz)
    reasons = tuple(_reasons(rules, eirp_dbm, outdoor=outdoor, starts_network=starts_network, ofdm=ofdm))
    over = eirp_dbm is not None and second is not None and eirp_dbm > second.max_eirp_dbm + ROUNDING_DB
    published = over and second is not None and second.status == "found"
    return Clearance(Verdict.NOT_CLEARED if reasons else Verdict.CLEARED, reasons, rules, second, published)


def _reasons(rules: Rules, eirp_dbm: float | None, *, outdoor: bool, starts_network: bool, ofdm: bool) -> Iterable[str]:
    """What stands against a setting, in words."""
    where = f"{rules.low_mhz:g} to {rules.high_mhz:g} MHz in {rules.country}"
    if not rules.covered:
        yield f"the database has no range for all of {where}"
        return
    width = rules.high_mhz - rules.low_mhz
    if width > rules.max_bandwidth_mhz:
        yield f"{width:g} MHz wide, the database allows {rules.max_bandwidth_mhz:g} MHz for {where}"
    if eirp_dbm is not None and eirp_dbm > rules.max_eirp_dbm + ROUNDING_DB:
        yield f"{eirp_dbm:g} dBm EIRP, the database has {rules.max_eirp_dbm:g} dBm for {where}"
    if outdoor and rules.no_outdoor:
        yield f"outdoors, the database marks {where} for indoor use"
    if starts_network and rules.no_ir:
        yield f"starts a network, the database lets radios only join networks on {where}"
    if ofdm and rules.no_ofdm:
        yield f"OFDM, the database allows only DSSS and CCK on {where}"


def second_limit(country: str, low_mhz: float, high_mhz: float) -> Limit | None:
    """The lowest limit a second source gives for frequencies it covers throughout, or None where there is no row.

    A limit per MHz counts with the width of the channel. A channel across two rows takes the lower one.
    """
    rows = [
        row
        for row in catalogue("legal_limits")["limits"]
        if country.upper() in row["countries"] and row["low_mhz"] < high_mhz and row["high_mhz"] > low_mhz
    ]
    reach = low_mhz
    for row in sorted(rows, key=lambda row: row["low_mhz"]):
        if row["low_mhz"] <= reach:
            reach = max(reach, row["high_mhz"])
    if not rows or reach < high_mhz:
        return None
    lowest = min(rows, key=lambda row: _limit_dbm(row, high_mhz - low_mhz))
    return Limit(_limit_dbm(lowest, high_mhz - low_mhz), str(lowest["source"]), str(lowest["status"]))


def _limit_dbm(row: dict[str, float], width_mhz: float) -> float:
    total = float(row["max_eirp_dbm"])
    density = row.get("max_eirp_dbm_per_mhz")
    return total if density is None else min(total, float(density) + 10.0 * float(np.log10(width_mhz)))


def wording(clearance: Clearance, eirp_dbm: float | None = None) -> str:
    """The clearance in one plain sentence or two. The second source only adds to it; what is from memory says so."""
    text = clearance.verdict.value
    if clearance.reasons:
        text += ": " + "; ".join(clearance.reasons)
    second = clearance.second
    if clearance.verdict is not Verdict.NOT_CLEARED or second is None or eirp_dbm is None:
        return text
    seen = "as published" if second.status == "found" else "from memory, to be verified"
    limit = f"{second.max_eirp_dbm:g} dBm EIRP ({second.source}; {seen})"
    if clearance.over_published_limit:
        return f"{text}. Over a published limit too: {limit}"
    side = "above" if eirp_dbm > second.max_eirp_dbm + ROUNDING_DB else "within"
    return f"{text}. A second source: {side} {limit}"
