"""Receiver and choice of rate: hand-worked needs, and properties that hold for every level and receiver."""

from __future__ import annotations

from typing import Any

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.integrate import trapezoid

from advisor.physics.airtime import goodput_cases_mbps
from advisor.physics.packet_errors import Coding, mean_success, per, snr_at_per_db, usual_coding
from advisor.physics.phy_rates import DEFAULT_GUARD_NS, HIGHEST_MCS, WIDTHS_MHZ, is_combination_allowed
from advisor.physics.receiver import (
    Receiver,
    assumptions,
    best_choice,
    level_need_dbm,
    mean_goodput_mbps,
    snr_need_db,
    usual_receiver,
)

PLAIN = Receiver(6.0, 2.5, 4.0, 2.0, 2.0)
LEVELS_DBM = np.arange(-105.0, -20.0, 0.05)
LINKS: list[dict[str, Any]] = [
    {"standard": standard, "band": "5", "width_mhz": width, "max_streams": streams}
    for standard in ("n", "ac", "ax", "be")
    for width in WIDTHS_MHZ[standard]
    if width <= 160
    for streams in (1, 2, 4)
]
BACKOFF = (0.0,) * 5 + (1.0,) * 3 + (2.0,) * 2 + (3.0,) * 4

links = pytest.mark.parametrize(
    "link", [pytest.param(link, id=f"{link['standard']}-{link['width_mhz']}-{link['max_streams']}") for link in LINKS]
)
codings = st.sampled_from(["ldpc", "bcc"])


def error_free_mbps(link: dict[str, Any], mcs: Any, streams: Any) -> Any:
    """Goodput of the exchange when nothing is lost."""
    return goodput_cases_mbps(
        standard=link["standard"],
        band=link["band"],
        width_mhz=link["width_mhz"],
        guard_ns=DEFAULT_GUARD_NS[link["standard"]],
        mcs=mcs,
        streams=streams,
    )


@given(st.integers(0, 9), st.floats(-25, 65), st.floats(0, 5), st.integers(400, 11000), codings)
def test_packet_errors_fall_with_the_ratio_and_rise_with_length(
    mcs: int, ratio: float, more: float, size: int, coding: Coding
) -> None:
    at = per(mcs=mcs, snr_db=ratio, bytes=size, coding=coding)
    assert 0.0 <= per(mcs=mcs, snr_db=ratio + more, bytes=size, coding=coding) <= at <= 1.0
    assert per(mcs=mcs, snr_db=ratio, bytes=2 * size, coding=coding) >= at
    assert per(mcs=min(mcs + 1, 9), snr_db=ratio, bytes=size, coding=coding) >= at


@given(st.integers(0, 13), st.floats(0.001, 0.98), st.integers(400, 11000))
def test_the_ratio_that_gives_a_rate_of_errors(mcs: int, rate: float, size: int) -> None:
    ratio = snr_at_per_db(mcs=mcs, per=rate, bytes=size)
    assert per(mcs=mcs, snr_db=ratio, bytes=size) == pytest.approx(rate, abs=1e-6)


def test_packet_errors_of_rows_are_those_of_single_numbers() -> None:
    mcs, ratio, size = np.arange(14), np.linspace(-3.0, 38.0, 14), np.linspace(400, 4096, 14)
    rows = per(mcs=mcs, snr_db=ratio, bytes=size)
    single = [per(mcs=int(m), snr_db=float(s), bytes=float(b)) for m, s, b in zip(mcs, ratio, size, strict=True)]
    assert rows.tolist() == single
    assert np.ndim(single[0]) == 0


def test_the_convolutional_code_ends_at_mcs_9() -> None:
    with pytest.raises(ValueError, match="MCS above 9 need LDPC"):
        per(mcs=np.array([3, 10]), snr_db=30.0, coding="bcc")


def test_usual_codings() -> None:
    usual = {(s, w): usual_coding(standard=s, width_mhz=w) for s in ("n", "ac", "ax") for w in (20, 40)}
    ldpc = {pair for pair, coding in usual.items() if coding == "ldpc"}
    assert ldpc == {("ac", 40), ("ax", 20), ("ax", 40)}


@pytest.mark.parametrize(("coding", "mcs"), [("ldpc", 0), ("ldpc", 5), ("ldpc", 11), ("bcc", 0), ("bcc", 7)])
@pytest.mark.parametrize("offset_db", [-6.0, -2.0, -0.63, 0.0, 0.87, 2.0, 6.0])
def test_mean_over_fading_is_the_integral(coding: Coding, mcs: int, offset_db: float) -> None:
    """Against the same curve summed over the normal distribution in steps of a thousandth of a dB (scipy)."""
    ratio = snr_at_per_db(mcs=mcs, coding=coding) + offset_db
    fade_db = np.arange(-14.0, 14.0, 0.001)
    density = np.exp(-0.5 * (fade_db / 2.0) ** 2) / (2.0 * np.sqrt(2.0 * np.pi))
    whole = trapezoid((1.0 - per(mcs=mcs, snr_db=ratio + fade_db, coding=coding)) * density, fade_db)
    assert mean_success(mcs=mcs, snr_db=ratio, spread_db=2.0, coding=coding) == pytest.approx(whole, abs=2e-4)


def test_needs_worked_by_hand() -> None:
    """MCS 7 with LDPC: 18.0 dB in the simulation, 2.5 dB implementation loss, two streams 3.0 + 2.0 dB; noise of 80 MHz
    -94.9 + 6 dBm, fading 4 dB."""
    assert snr_need_db(mcs=7, streams=1, receiver=PLAIN) == pytest.approx(20.5, abs=0.05)
    assert snr_need_db(mcs=7, streams=2, receiver=PLAIN) == pytest.approx(25.5, abs=0.05)
    one = level_need_dbm(standard="ac", width_mhz=80, mcs=7, receiver=PLAIN)
    assert one == pytest.approx(-88.9 + 20.5 + 4.0, abs=0.1)
    assert level_need_dbm(standard="ac", width_mhz=80, mcs=7, streams=2, receiver=PLAIN) - one == pytest.approx(
        5.01, abs=0.01
    )


def test_nine_fades_in_ten_meet_the_need() -> None:
    """A level at its need: the fade that nine in ten exceed leaves exactly the ratio of 10 % errors."""
    level = level_need_dbm(standard="ax", width_mhz=80, mcs=5, receiver=PLAIN)
    median = level + 88.95 - PLAIN.loss_db
    assert median - 1.2816 * 2.0 == pytest.approx(snr_at_per_db(mcs=5), abs=0.01)


@links
def test_goodput_over_the_level(link: dict[str, Any]) -> None:
    """Rises with the level without jumps, and stays below the same rate free of errors."""
    choice = best_choice(level_dbm=LEVELS_DBM, **link)
    steps = np.diff(choice.goodput_mbps)
    assert np.all(steps >= 0.0)
    every = np.arange(HIGHEST_MCS[link["standard"]] + 1)
    top = np.max(error_free_mbps(link, every, link["max_streams"]))
    slowest = error_free_mbps(link, 0, 1)
    # a normal spread of 2 dB has its densest decibel at 0.2 of the whole: at most 0.05 dB * 0.2 of any rate a step,
    # and where rates give out one hundredth of the slowest
    assert np.all(steps <= np.maximum(0.05 * 0.2 * top, 0.011 * slowest))
    error_free = error_free_mbps(link, choice.mcs, choice.streams)
    assert np.all(choice.goodput_mbps <= error_free * (1.0 + 1e-12))
    assert choice.goodput_mbps == pytest.approx(error_free * (1.0 - choice.per))
    assert choice.goodput_mbps[-1] == pytest.approx(top, rel=1e-3)
    assert choice.goodput_mbps[0] == 0.0


@links
def test_choices_exist_and_are_the_best_there_are(link: dict[str, Any]) -> None:
    """No allowed combination delivers more, worked one by one."""
    level = -67.3
    choice = best_choice(level_dbm=level, receiver=PLAIN, **link)
    assert is_combination_allowed(
        standard=link["standard"], width_mhz=link["width_mhz"], mcs=choice.mcs, streams=choice.streams
    )
    coding = usual_coding(standard=link["standard"], width_mhz=link["width_mhz"])
    ratio = level - (-173.975 + 60.0 + 10.0 * np.log10(link["width_mhz"]) + 6.0) - PLAIN.loss_db
    delivered = [
        float(error_free_mbps(link, mcs, streams))
        * float(mean_success(mcs=mcs, snr_db=ratio - shared, spread_db=2.0, coding=coding))
        for mcs in range(HIGHEST_MCS[link["standard"]] + 1)
        for streams in range(1, link["max_streams"] + 1)
        for shared in [10.0 * np.log10(streams) + 2.0 * np.log2(streams)]
    ]
    assert choice.goodput_mbps == pytest.approx(max(delivered), rel=1e-3)


@links
def test_rows_give_what_single_numbers_give(link: dict[str, Any]) -> None:
    levels = np.linspace(-100.0, -40.0, 13)
    receivers = Receiver(
        np.linspace(5, 7, 13), np.linspace(3, 2, 13), np.linspace(3, 5, 13), np.linspace(1, 4, 13), fading_spread_db=2.0
    )
    rows = best_choice(level_dbm=levels, receiver=receivers, backoff_by_mcs_db=BACKOFF, **link)
    for index, level in enumerate(levels):
        single = Receiver(*(float(np.asarray(term)[index]) for term in receivers[:4]), fading_spread_db=2.0)
        one = best_choice(level_dbm=float(level), receiver=single, backoff_by_mcs_db=BACKOFF, **link)
        assert [row[index] for row in rows] == list(one)
        assert np.ndim(one.goodput_mbps) == 0


@pytest.mark.parametrize("term", ["noise_figure_db", "implementation_loss_db", "fading_margin_db"])
def test_a_worse_receiver_is_a_weaker_level(term: str) -> None:
    link: dict[str, Any] = {"standard": "ax", "band": "5", "width_mhz": 80, "max_streams": 2}
    worse = usual_receiver()._replace(**{term: getattr(usual_receiver(), term) + 1.5})
    lower = mean_goodput_mbps(level_dbm=LEVELS_DBM - 1.5, **link)
    assert mean_goodput_mbps(level_dbm=LEVELS_DBM, receiver=worse, **link) == pytest.approx(lower, abs=1e-6)


def test_backoff_separation_and_streams_move_goodput_the_right_way() -> None:
    link: dict[str, Any] = {"level_dbm": LEVELS_DBM, "standard": "ax", "band": "5", "width_mhz": 80}
    two = mean_goodput_mbps(max_streams=2, **link)
    assert np.all(mean_goodput_mbps(max_streams=1, **link) <= two)
    assert np.all(mean_goodput_mbps(max_streams=2, backoff_by_mcs_db=BACKOFF, **link) <= two)
    apart = usual_receiver()._replace(stream_separation_db=4.0)
    harder = mean_goodput_mbps(max_streams=2, receiver=apart, **link)
    assert np.all(harder <= two) and np.any(harder < two)
    assert mean_goodput_mbps(max_streams=1, receiver=apart, **link) == pytest.approx(
        mean_goodput_mbps(max_streams=1, **link)
    )


def test_a_constant_backoff_is_a_weaker_sender() -> None:
    link: dict[str, Any] = {"standard": "ac", "band": "5", "width_mhz": 80, "max_streams": 2}
    backed = mean_goodput_mbps(level_dbm=-60.0, backoff_by_mcs_db=(3.0,) * 14, **link)
    assert backed == pytest.approx(mean_goodput_mbps(level_dbm=-63.0, **link))


def test_assumptions_are_ordered_and_say_where_they_come_from() -> None:
    assert set(assumptions()) == set(Receiver._fields)
    for entry in assumptions().values():
        assert 0.0 < entry.low < entry.typical < entry.high
        assert any(mark in entry.source for mark in ("from memory", "common practice, no source", "computed"))
