"""What must hold for every input: arrays give what numbers give, and loss, levels and rates move the right way."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from advisor.physics import airtime, bands, frames, phy_rates, propagation, sharing
from advisor.physics.mac import mac_settings
from advisor.physics.materials import P2040_MATERIALS, p2040_slab_loss_db

MAC = mac_settings("usual-gear")
AX = {"standard": "ax", "width_mhz": 80}
AX_LINK = {**AX, "band": "5", "guard_ns": 800}

distances = st.floats(0.0, 200.0)
mhz = st.floats(900.0, 7125.0)
losses = st.floats(0.0, 120.0)
levels = st.floats(-110.0, -20.0)
mcs = st.integers(0, 11)
streams = st.integers(1, 8)
bytes_ = st.integers(14, 60000)
counts = st.floats(1.0, 60.0)
durations = st.floats(50.0, 6000.0)

ELEMENTWISE: dict[str, tuple[Callable[..., Any], dict[str, Any]]] = {
    "channel_centre 2.4": (lambda c: bands.channel_centre_mhz("2.4", c), {"c": st.integers(1, 14)}),
    "channel_centre 6": (lambda c: bands.channel_centre_mhz("6", c), {"c": st.sampled_from(bands.channels_of("6"))}),
    "block_centre 5": (
        lambda c, w: bands.block_centre_mhz("5", c, w),
        {"c": st.sampled_from(bands.channels_of("5")), "w": st.sampled_from((20, 40, 80, 160))},
    ),
    "is_valid_channel 6": (
        lambda c, w: bands.is_valid_channel("6", c, w),
        {"c": st.integers(0, 240), "w": st.sampled_from((20, 40, 80, 160, 320, 60))},
    ),
    "is_valid_channel 2.4": (
        lambda c, w: bands.is_valid_channel("2.4", c, w, "below"),
        {"c": st.integers(0, 15), "w": st.sampled_from((20, 40, 80))},
    ),
    "is_dfs": (
        lambda c, w: bands.is_dfs("5", c, w),
        {"c": st.sampled_from(bands.channels_of("5")), "w": st.sampled_from((20, 40, 80, 160))},
    ),
    "overlap_share": (
        lambda a, b: bands.overlap_share((a, a + 20.0), (b, b + 40.0)),
        {"a": st.floats(2400, 2500), "b": st.floats(2400, 2500)},
    ),
    "free_space": (propagation.free_space_loss_db, {"distance_m": distances, "frequency_mhz": mhz}),
    "p1238": (
        propagation.p1238_loss_db,
        {"distance_m": distances, "frequency_mhz": mhz, "power_coefficient": st.floats(15, 35)},
    ),
    "p1238_abg": (
        lambda d, f: propagation.p1238_abg_loss_db(distance_m=d, frequency_mhz=f, alpha=2.46, beta_db=30, gamma=2.4),
        {"d": distances, "f": mhz},
    ),
    "p1238_excess": (
        propagation.p1238_excess_db,
        {"distance_m": distances, "frequency_mhz": mhz, "power_coefficient": st.floats(15, 35)},
    ),
    "path_loss": (
        propagation.path_loss_db,
        {"free_db": losses, "known_obstacles_db": losses, "undrawn_excess_db": losses, "complete": st.booleans()},
    ),
    "floor_loss": (
        propagation.floor_loss_db,
        {"floors": st.integers(0, 5), "first_floor_db": losses, "further_floor_db": losses},
    ),
    "p2040": (
        lambda t, f, a: p2040_slab_loss_db(
            thickness_m=t, frequency_mhz=f, material=P2040_MATERIALS["brick"], incidence_deg=a, polarisation="TM"
        ),
        {"t": st.floats(0.001, 0.5), "f": mhz, "a": st.floats(0, 80)},
    ),
    "phy_rate": (lambda m, s: phy_rates.phy_rate_mbps(mcs=m, streams=s, **AX), {"m": mcs, "s": streams}),
    "is_combination_allowed": (
        lambda m, s: phy_rates.is_combination_allowed(standard="ac", width_mhz=80, mcs=m, streams=s),
        {"m": st.integers(-1, 12), "s": st.integers(0, 9)},
    ),
    "min_sensitivity": (
        phy_rates.min_sensitivity_dbm,
        {"width_mhz": st.sampled_from((20, 40, 80, 160, 320)), "mcs": mcs},
    ),
    "best_rate": (
        lambda level, margin: phy_rates.best_rate_mbps(level_dbm=level, margin_db=margin, max_streams=2, **AX),
        {"level": levels, "margin": st.floats(0, 15)},
    ),
    "preamble": (lambda s: frames.preamble_us(standard="ax", streams=s, guard_ns=800), {"s": streams}),
    "ppdu": (
        lambda m, s, b: frames.ppdu_us(mcs=m, streams=s, psdu_bytes=b, **AX_LINK),
        {"m": mcs, "s": streams, "b": bytes_},
    ),
    "largest_psdu": (
        lambda m, s, t: frames.largest_psdu_bytes(mcs=m, streams=s, longest_us=t, **AX_LINK),
        {"m": mcs, "s": streams, "t": st.floats(300, 5484)},
    ),
    "ofdm_frame": (
        frames.ofdm_frame_us,
        {"frame_bytes": bytes_, "rate_mbps": st.sampled_from((6, 9, 12, 18, 24, 36, 48, 54))},
    ),
    "dsss_frame": (frames.dsss_frame_us, {"frame_bytes": bytes_, "rate_mbps": st.sampled_from((1, 2, 5.5, 11))}),
    "control_rate": (lambda m: airtime.control_rate_mbps(mcs=m, mac=MAC), {"m": mcs}),
    "exchange": (lambda m, s: airtime.exchange_us(mcs=m, streams=s, mac=MAC, **AX_LINK), {"m": mcs, "s": streams}),
    "small_frame": (
        lambda m, s: airtime.small_frame_us(mcs=m, streams=s, mac=MAC, **AX_LINK),
        {"m": mcs, "s": streams},
    ),
    "goodput udp": (
        lambda m, s: airtime.goodput_mbps(mcs=m, streams=s, mac=MAC, transport="udp", **AX_LINK),
        {"m": mcs, "s": streams},
    ),
    "goodput tcp": (
        lambda m, s: airtime.goodput_mbps(mcs=m, streams=s, mac=MAC, transport="tcp", **AX_LINK),
        {"m": mcs, "s": streams},
    ),
    "goodput_cases": (
        lambda m, s: airtime.goodput_cases_mbps(mcs=m, streams=s, mac=MAC, **AX_LINK),
        {"m": st.integers(-1, 11), "s": st.integers(0, 8)},
    ),
    "beacon_share": (lambda n: airtime.beacon_share(band="2.4", mac=MAC, names=n), {"n": st.integers(1, 8)}),
    "access_overhead": (
        airtime.access_overhead_us,
        {"exchange_us": durations, "delivered_bytes": bytes_, "phy_rate_mbps": st.floats(6, 2400)},
    ),
    "bianchi tau": (lambda n: sharing.bianchi(contenders=n).tau, {"n": counts}),
    "bianchi p": (lambda n: sharing.bianchi(contenders=n).p, {"n": counts}),
    "saturation_share": (
        lambda n, t: sharing.saturation_share(contenders=n, payload_us=t, success_us=t, collision_us=t, slot_us=9.0),
        {"n": counts, "t": durations},
    ),
    "collision_efficiency": (lambda n: sharing.collision_efficiency(contenders=n), {"n": counts}),
    "best_tau": (
        lambda n, t: sharing.best_tau(contenders=n, collision_us=t, slot_us=9.0),
        {"n": counts, "t": durations},
    ),
    "rate_anomaly": (
        lambda n, r: sharing.rate_anomaly(hosts=n, fast_mbps=54.0, slow_mbps=r).each_mbps,
        {"n": st.integers(2, 30), "r": st.floats(1, 54)},
    ),
}


@pytest.mark.parametrize("name", ELEMENTWISE)
@settings(max_examples=25, deadline=None)
@given(data=st.data())
def test_an_array_gives_what_its_numbers_give(name: str, data: st.DataObject) -> None:
    function, inputs = ELEMENTWISE[name]
    cases = data.draw(st.lists(st.fixed_dictionaries(inputs), min_size=1, max_size=6))
    together = np.asarray(function(**{key: np.array([case[key] for case in cases]) for key in inputs}))
    assert together.shape == (len(cases),)
    for index, case in enumerate(cases):
        alone = function(**case)
        assert np.ndim(alone) == 0
        assert together[index] == pytest.approx(alone, rel=1e-12, abs=1e-12)


@settings(deadline=None)
@given(near=distances, far=distances, frequency=mhz)
def test_loss_grows_with_distance(near: float, far: float, frequency: float) -> None:
    near, far = sorted((near, far))
    for loss in (
        lambda d: propagation.free_space_loss_db(distance_m=d, frequency_mhz=frequency),
        lambda d: propagation.p1238_loss_db(distance_m=d, frequency_mhz=frequency, power_coefficient=28.0),
        lambda d: propagation.p1238_abg_loss_db(distance_m=d, frequency_mhz=frequency, alpha=1.46, beta_db=35, gamma=2),
        lambda d: propagation.p1238_excess_db(distance_m=d, frequency_mhz=frequency, power_coefficient=28.0),
    ):
        assert loss(far) >= loss(near)


@settings(deadline=None)
@given(free=losses, known=losses, more=losses, excess=losses)
def test_more_obstacles_never_reduce_the_loss(free: float, known: float, more: float, excess: float) -> None:
    for complete in (False, True):
        before = propagation.path_loss_db(
            free_db=free, known_obstacles_db=known, undrawn_excess_db=excess, complete=complete
        )
        after = propagation.path_loss_db(
            free_db=free, known_obstacles_db=known + more, undrawn_excess_db=excess, complete=complete
        )
        assert after >= before


@settings(deadline=None)
@given(free=losses, known=losses, excess=losses)
def test_an_incomplete_plan_is_never_more_optimistic(free: float, known: float, excess: float) -> None:
    row = {"free_db": free, "known_obstacles_db": known, "undrawn_excess_db": excess}
    assert propagation.path_loss_db(complete=False, **row) >= propagation.path_loss_db(complete=True, **row)


@pytest.mark.parametrize(
    ("standard", "width_mhz"), [("n", 20), ("n", 40), ("ac", 20), ("ac", 80), ("ax", 160), ("be", 320)]
)
@settings(deadline=None)
@given(weak=levels, strong=levels)
def test_rate_never_falls_with_level(standard: str, width_mhz: int, weak: float, strong: float) -> None:
    weak, strong = sorted((weak, strong))
    row = {"standard": standard, "width_mhz": width_mhz, "max_streams": 4, "margin_db": 5.0}
    assert phy_rates.best_rate_mbps(level_dbm=strong, **row) >= phy_rates.best_rate_mbps(level_dbm=weak, **row)


@settings(deadline=None)
@given(level=levels)
def test_the_chosen_rate_is_the_rate_of_its_row_and_its_need_is_met(level: float) -> None:
    best = phy_rates.best_rate(level_dbm=level, max_streams=2, margin_db=3.0, **AX)
    if best.mcs < 0:
        assert (best.rate_mbps, best.streams) == (0.0, 0)
        assert level < phy_rates.min_sensitivity_dbm(width_mhz=80, mcs=0) + 3.0
    else:
        assert best.rate_mbps == phy_rates.phy_rate_mbps(mcs=best.mcs, streams=best.streams, **AX)
        need = phy_rates.min_sensitivity_dbm(width_mhz=80, mcs=best.mcs) + 3.0 + 10.0 * np.log10(best.streams)
        assert level >= need


@settings(deadline=None)
@given(n=st.floats(1.0, 59.0), more=st.floats(0.0, 20.0))
def test_collisions_grow_with_contenders(n: float, more: float) -> None:
    assert sharing.bianchi(contenders=n + more).p >= sharing.bianchi(contenders=n).p - 1e-12


@settings(deadline=None)
@given(first=st.floats(2400, 2500), second=st.floats(2400, 2500))
def test_overlap_is_a_share(first: float, second: float) -> None:
    assert 0.0 <= bands.overlap_share((first, first + 20), (second, second + 20)) <= 1.0
