"""Choosing a rate, and refusing what does not exist."""

from __future__ import annotations

import pytest

from advisor.physics import phy_rates


@pytest.mark.parametrize(
    ("row", "reason"),
    [
        ({"standard": "n", "width_mhz": 80}, "802.11n has no 80 MHz channels"),
        ({"standard": "n", "width_mhz": 20, "mcs": 8}, "802.11n has MCS 0 to 7 for each stream"),
        ({"standard": "n", "width_mhz": 20, "streams": 5}, "802.11n has 1 to 4 streams"),
        ({"standard": "ac", "width_mhz": 20, "band": "2.4"}, "802.11ac does not work in 2.4 GHz"),
        ({"standard": "ax", "width_mhz": 80, "band": "2.4"}, "2.4 GHz has no 80 MHz channels"),
        ({"standard": "be", "width_mhz": 320, "band": "5"}, "5 GHz has no 320 MHz channels"),
        ({"standard": "ax", "width_mhz": 320}, "802.11ax has no 320 MHz channels"),
        ({"standard": "be", "width_mhz": 320, "band": "6", "mcs": 13, "streams": 2}, None),
        ({"standard": "ac", "width_mhz": 20, "mcs": 9, "streams": 3, "band": "5"}, None),
    ],
)
def test_refusals_say_why(row: dict[str, object], reason: str | None) -> None:
    assert phy_rates.refusal(**row) == reason  # type: ignore[arg-type]


def test_best_rate_at_a_table_entry() -> None:
    """MCS 7 at 80 MHz needs -58 dBm with one stream (IEEE 802.11-2020 Table 21-25): 292.5 Mb/s with the long guard."""
    row = {"standard": "ac", "width_mhz": 80, "max_streams": 1, "guard_ns": 800}
    assert phy_rates.best_rate(level_dbm=-58.0, **row) == (292.5, 7, 1)
    assert phy_rates.best_rate(level_dbm=-58.01, **row) == (263.25, 6, 1)
    assert phy_rates.best_rate(level_dbm=-76.01, **row) == (0.0, -1, 0)


def test_two_streams_share_the_power() -> None:
    row = {"standard": "ac", "width_mhz": 80, "guard_ns": 800}
    one = phy_rates.best_rate(level_dbm=-76.0, max_streams=2, **row)
    assert (one.mcs, one.streams) == (0, 1)
    two = phy_rates.best_rate(level_dbm=-40.0, max_streams=2, **row)
    assert two == (780.0, 9, 2)


def test_backoff_of_high_rates_costs_them_first() -> None:
    row = {"standard": "ac", "width_mhz": 80, "max_streams": 1, "guard_ns": 800}
    backoff = (0.0,) * 7 + (3.0, 4.0, 5.0)
    assert phy_rates.best_rate(level_dbm=-58.0, backoff_by_mcs_db=backoff, **row).mcs == 6
    assert phy_rates.best_rate(level_dbm=-76.0, backoff_by_mcs_db=backoff, **row).mcs == 0


def test_margin_moves_the_level_one_for_one() -> None:
    row = {"standard": "ax", "width_mhz": 40, "max_streams": 2}
    assert phy_rates.best_rate(level_dbm=-60.0, margin_db=6.0, **row) == phy_rates.best_rate(level_dbm=-66.0, **row)
