"""The regulatory database: its rows, how Linux joins them, what clears, and an installed copy (see SOURCES.md)."""

from __future__ import annotations

import hashlib
import struct
from pathlib import Path
from typing import Any

import pytest
import yaml

from advisor.data import catalogue
from advisor.physics.channel_plan import blocks_of
from advisor.physics.regulation import (
    Range,
    Verdict,
    clear,
    database,
    database_version,
    rules_for,
    second_limit,
    wording,
)

CHECKS: list[dict[str, Any]] = yaml.safe_load((Path(__file__).parent / "data" / "spectrum.yaml").read_text())
ROWS = [pytest.param(check, id=check["name"]) for check in CHECKS if check["name"].startswith("regdb_")]


@pytest.mark.parametrize("check", ROWS)
def test_rows_of_the_database(check: dict[str, Any]) -> None:
    inputs, expected = check["inputs"], check["expected"]
    row = Range(
        inputs["start_mhz"],
        inputs["end_mhz"],
        expected["max_bw_mhz"],
        expected["max_eirp_dbm"],
        frozenset(expected["flags"]),
    )
    assert row in database()[inputs["country"]]


def channel(country: str, primary: int, width: int, band: str = "5", **how: Any) -> Any:
    block = blocks_of(band, primary, width)[0]
    return clear(country, *block.range_mhz, **how)


def widest(country: str, primary: int, band: str = "5") -> float:
    rules = rules_for(country, *blocks_of(band, primary, 20)[0].range_mhz)
    assert rules is not None
    return rules.max_bandwidth_mhz


def test_auto_bw_joins_what_touches() -> None:
    """Linux net/wireless/reg.c, reg_get_max_bandwidth_from_range: the span of the chain of touching ranges."""
    assert widest("US", 36) == 200.0  # 5150-5250 and 5250-5350
    assert widest("US", 149) == 5895.0 - 5470.0  # 5470-5730, 5730-5850, 5850-5895: only the row's own mark counts
    assert widest("US", 100) == 160.0  # not marked: its own figure
    assert widest("GB", 149) == 80.0  # overlaps 5470-5730, but is not marked
    assert widest("AU", 149) == 5875.0 - 5650.0


def test_160_mhz_across_two_rows_takes_the_lower_power_and_all_flags() -> None:
    for country, power, flags in (("US", 23.0, {"DFS"}), ("GB", 20.0, {"DFS", "NO-OUTDOOR"})):
        found = channel(country, 36, 160)
        assert found.verdict is Verdict.CLEARED
        assert found.rules.max_eirp_dbm == power
        assert found.rules.flags == flags
        assert found.rules.dfs
        assert found.rules.no_outdoor == ("NO-OUTDOOR" in flags)


def test_a_wide_channel_needs_width_in_every_part() -> None:
    assert channel("US", 149, 160, starts_network=False).verdict is Verdict.CLEARED
    assert channel("AU", 100, 160).verdict is Verdict.NOT_CLEARED  # the weather radar gap 5600-5650
    assert channel("DE", 149, 160).verdict is Verdict.NOT_CLEARED
    assert channel("JP", 149, 20).verdict is Verdict.NOT_CLEARED


def test_channel_144_lies_across_two_rows_that_meet() -> None:
    """Linux joins two ranges for one 20 MHz channel if they meet exactly (handle_channel): the case it names is channel
    144 in Germany. Where they overlap instead, the channel lies in the first of them."""
    german = channel("DE", 144, 20)
    assert german.verdict is Verdict.CLEARED
    assert german.rules.max_eirp_dbm == 13.97
    assert german.rules.dfs
    assert channel("GB", 144, 20).rules.max_eirp_dbm == 26.98


def test_channels_12_and_13() -> None:
    assert clear("US", 2452.0, 2472.0).verdict is Verdict.CLEARED
    assert clear("US", 2457.0, 2477.0).verdict is Verdict.NOT_CLEARED
    assert clear("DE", 2462.0, 2482.0).verdict is Verdict.CLEARED
    world = rules_for("00", 2462.0, 2482.0)
    assert world is not None
    assert world.no_ir


def test_channel_14_is_for_dsss_only() -> None:
    assert clear("JP", 2474.0, 2494.0).verdict is Verdict.NOT_CLEARED
    assert clear("JP", 2474.0, 2494.0, ofdm=False).verdict is Verdict.CLEARED


def test_6_ghz() -> None:
    assert channel("DE", 5, 320, "6", eirp_dbm=23.0).verdict is Verdict.CLEARED
    assert channel("DE", 1, 20, "6", outdoor=True).verdict is Verdict.NOT_CLEARED
    assert channel("DE", 97, 20, "6").verdict is Verdict.NOT_CLEARED  # above 6425 MHz
    assert channel("US", 5, 80, "6", eirp_dbm=12.0).verdict is Verdict.NOT_CLEARED  # NO-IR
    assert channel("US", 5, 80, "6", eirp_dbm=12.0, starts_network=False).verdict is Verdict.CLEARED


@pytest.mark.parametrize(("dbm", "cleared"), [(23.0, True), (23.05, True), (23.1, False), (10.0, True)])
def test_power_is_judged_to_a_twentieth_of_a_decibel(dbm: float, cleared: bool) -> None:
    assert (channel("DE", 36, 80, eirp_dbm=dbm).verdict is Verdict.CLEARED) == cleared


def test_25_milliwatts_are_14_dbm() -> None:
    assert channel("DE", 149, 20, eirp_dbm=14.0).verdict is Verdict.CLEARED


def test_unknown_countries_are_never_cleared() -> None:
    for country in (None, "ZZ", "SE"):
        found = clear(country, 5170.0, 5250.0, eirp_dbm=0.0)
        assert (found.verdict, found.rules, found.over_published_limit) == (Verdict.UNKNOWN_COUNTRY, None, False)
        assert wording(found).startswith("unknown country: ")


def test_over_the_database_is_over_the_law_only_where_a_limit_was_seen() -> None:
    assert not channel("US", 36, 80, eirp_dbm=30.0).over_published_limit
    assert channel("US", 36, 80, eirp_dbm=37.0).over_published_limit
    for dbm in (25.0, 40.0):
        assert not channel("DE", 36, 80, eirp_dbm=dbm).over_published_limit
    assert "from memory" in wording(channel("DE", 36, 80, eirp_dbm=25.0), 25.0)


def test_words_never_say_illegal() -> None:
    texts = [
        wording(channel(country, primary, 80, eirp_dbm=dbm), dbm)
        for country in ("US", "DE", "JP", "ZZ")
        for primary in (36, 100, 149)
        for dbm in (10.0, 25.0, 33.0, 45.0)
    ]
    assert all(text.startswith(tuple(verdict.value for verdict in Verdict)) for text in texts)
    assert not any(word in text for text in texts for word in ("illegal", "unlawful", "forbidden"))
    assert any("Over a published limit too" in text for text in texts)


def test_second_limits() -> None:
    """47 CFR 15.407(a), edition of April 2020: 1 W or 250 mW conducted with 6 dBi."""
    found = {low: second_limit("US", low, low + 80.0) for low in (5170.0, 5250.0, 5490.0, 5735.0)}
    assert {low: limit.max_eirp_dbm for low, limit in found.items() if limit} == {
        5170.0: 36.0,
        5250.0: 30.0,
        5490.0: 30.0,
        5735.0: 36.0,
    }
    across = second_limit("US", 5170.0, 5330.0)
    assert across is not None
    assert across.max_eirp_dbm == 30.0
    assert second_limit("US", 5855.0, 5875.0) is None
    assert second_limit("JP", 5170.0, 5190.0) is None
    narrow, wide = second_limit("DE", 5945.0, 5965.0), second_limit("DE", 5945.0, 6265.0)
    assert narrow is not None
    assert wide is not None
    assert (narrow.max_eirp_dbm, wide.max_eirp_dbm) == (pytest.approx(23.0), pytest.approx(23.0))


def test_every_second_limit_has_a_source_and_a_status() -> None:
    for row in catalogue("legal_limits")["limits"]:
        assert row["source"]
        assert row["status"] in ("found", "memory")
        assert row["low_mhz"] < row["high_mhz"]


UPSTREAM_SHA256 = "2fb33ca0074db573e05ef7dd50bb45b63c0ff98b7e852e1105ebad536fae8e6b"
"""regulatory.db of wireless-regdb 2026.05.30."""
INSTALLED = [
    Path(folder) / name
    for folder in ("/lib/firmware", "/usr/lib/firmware")
    for name in ("regulatory.db-upstream", "regulatory.db")
]
FLAGS = {1: "NO-OFDM", 2: "NO-OUTDOOR", 4: "DFS", 8: "NO-IR", 16: "AUTO-BW"}


def parse(data: bytes) -> dict[str, tuple[Range, ...]]:
    """The binary form (Linux net/wireless/reg.c, struct fwdb_*): big-endian, pointers in words of four bytes."""
    assert struct.unpack(">4sI", data[:8]) == (b"RGDB", 20)
    found: dict[str, tuple[Range, ...]] = {}
    at = 8
    while data[at : at + 4] != bytes(4):
        country, collection = data[at : at + 2].decode("ascii"), 4 * struct.unpack(">H", data[at + 2 : at + 4])[0]
        length, count = data[collection], data[collection + 1]
        first = collection + (length + 1) // 2 * 2
        ranges = []
        for (pointer,) in struct.iter_unpack(">H", data[first : first + 2 * count]):
            _, flags, power, low, high, width = struct.unpack(">BBHIII", data[4 * pointer : 4 * pointer + 16])
            marks = frozenset(name for bit, name in FLAGS.items() if flags & bit)
            ranges.append(Range(low / 1000.0, high / 1000.0, width / 1000.0, power / 100.0, marks))
        found[country] = tuple(ranges)
        at += 4
    return found


def test_the_carried_extract_is_what_the_installed_database_says() -> None:
    """All ranges between 2 and 8 GHz of the carried countries, if the same version is installed."""
    path = next((path for path in INSTALLED if path.is_file()), None)
    if path is None:
        pytest.skip("wireless-regdb is not installed: no regulatory.db under /lib/firmware or /usr/lib/firmware")
    data = path.read_bytes()
    if hashlib.sha256(data).hexdigest() != UPSTREAM_SHA256:
        pytest.skip(f"{path} is another version than {database_version()}, which the carried figures are from")
    installed = parse(data)
    for country, ranges in database().items():
        assert ranges == tuple(row for row in installed[country] if 2000.0 <= row.low_mhz < 8000.0), country
