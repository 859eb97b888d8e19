"""Exchanges term by term, and what contention leaves."""

from __future__ import annotations

import dataclasses

import numpy as np
import pytest

from advisor.physics.airtime import (
    Link,
    Transport,
    beacon_share,
    control_rate_mbps,
    filling,
    goodput_cases_mbps,
    goodput_mbps,
    small_frame_us,
    tcp_cycle,
    udp_exchange,
)
from advisor.physics.contention import turn_shares
from advisor.physics.mac import GEAR_SETS, MAC_SETS, mac_settings
from advisor.physics.sharing import collision_efficiency

SIMULATOR = mac_settings("simulator")
N20 = Link("n", "2.4", 20, 7, 2, 800, SIMULATOR)


def test_the_worked_exchange() -> None:
    """Worked example published with the simulated rows: 42 packets, 4038 + 10 + 38 + 37 + 67.5 us, beacons 1.35 %."""
    exchange = udp_exchange(N20)
    terms = (exchange.data_us, exchange.sifs_us, exchange.answer_us, exchange.silence_us, exchange.backoff_us)
    assert terms == (4038.0, 10.0, 38.0, 37.0, 67.5)
    assert exchange.delivered_bytes == 42 * 1472
    assert beacon_share(band="2.4", mac=SIMULATOR) == pytest.approx(0.0135, abs=3e-4)
    assert goodput_mbps(
        standard="n", band="2.4", width_mhz=20, mcs=7, streams=2, guard_ns=800, transport="udp", mac=SIMULATOR
    ) == pytest.approx(116.4, abs=0.1)


def test_low_rates_are_limited_by_duration() -> None:
    assert filling(N20._replace(mcs=0, streams=1), 1500).frames == 2
    assert filling(N20, 1500).frames == 42


def test_packets_in_an_a_msdu_and_the_rest_in_a_last_frame() -> None:
    """Simulated with 7935 B A-MSDUs under a 65 535 B A-MPDU: 9 frames, the last one not full."""
    limits = SIMULATOR.aggregation("n")
    mac = mac_settings("simulator")
    mac = type(mac)(**{**vars(mac), "aggregations": (("n", type(limits)(65535, 64, 7935, 32)),)})
    fill = filling(N20._replace(mac=mac), 1500)
    assert fill.frames == 9
    assert 8 * 5 < fill.packets < 9 * 5
    assert fill.psdu_bytes <= 65535


def test_control_frames_follow_the_data() -> None:
    rates = control_rate_mbps(mcs=np.arange(8), mac=SIMULATOR)
    assert rates.tolist() == [6, 12, 12, 24, 24, 24, 24, 24]


def test_every_lost_answer_is_asked_for_once() -> None:
    shares = turn_shares(cw_min=15, cw_max=1023)
    assert shares.data_requests == pytest.approx(shares.data_ack_collisions + shares.data_request_collisions)
    assert shares.ack_requests == pytest.approx(shares.data_ack_collisions + shares.request_ack_collisions)


def test_the_chain_agrees_with_drawn_backoffs() -> None:
    """The same rules played out with drawn numbers, all doublings allowed: within three standard errors or so."""
    rng = np.random.default_rng(7)
    data = acks = collisions = slots = 0
    stage, asks, backlogged = [0, 0], [False, False], False

    def draw(side: int) -> int:
        return int(rng.integers(0, min(16 * 2 ** stage[side], 1024)))

    count = [draw(0), draw(1)]
    while data < 60_000:
        start = min(count) if backlogged else count[0]
        slots += start
        count = [count[0] - start, count[1] - start]
        if backlogged and count[0] == count[1]:
            collisions += 1
            stage = [min(stage[0] + 1, 6), min(stage[1] + 1, 6)]
            longer = 1 if asks[0] and not asks[1] else 0
            both_short = asks[0] and asks[1]
            asks = [True, True]
            count = [draw(0), draw(1)]
            if not both_short:
                count[longer] += 5
        elif not backlogged or count[0] == 0:
            delivered = not asks[0]
            data += delivered
            stage[0], asks[0] = 0, False
            count[0] = draw(0)
            if not backlogged:
                if delivered:
                    backlogged = True
                    count[1] = count[1] if count[1] > 0 else draw(1)
                else:
                    count[1] = max(count[1], 0)
        else:
            acks += not asks[1]
            backlogged = asks[1]
            stage[1], asks[1] = 0, False
            count[1] = draw(1)
    shares = turn_shares(cw_min=15, cw_max=1023)
    assert shares.ack_frames == pytest.approx(acks / data, abs=0.006)
    assert shares.collisions == pytest.approx(collisions / data, abs=0.004)
    assert shares.idle_slots == pytest.approx(slots / data, abs=0.1)


def test_rarer_acknowledgements_collide_less() -> None:
    often = turn_shares(cw_min=15, cw_max=1023, acks_per_data=1.0)
    rarely = turn_shares(cw_min=15, cw_max=1023, acks_per_data=0.25)
    assert rarely.collisions < often.collisions
    assert rarely.ack_frames == pytest.approx(0.25, abs=0.05)


def test_tcp_spends_most_of_its_time_on_data() -> None:
    cycle = tcp_cycle(N20)
    assert cycle.data_us / cycle.total_us > 0.85
    assert cycle.total_us > udp_exchange(N20).total_us


def test_encryption_costs_sixteen_bytes_of_every_frame() -> None:
    """By hand, 802.11n 20 MHz MCS 0, one stream, 26 data bits a symbol: bits rounded up to symbols."""
    gear = mac_settings("usual-gear")
    clear = dataclasses.replace(gear, encryption_bytes=0)
    row = {"standard": "n", "band": "5", "width_mhz": 20, "mcs": 0, "streams": 1, "guard_ns": 800}
    symbols = [-(-(16 + 6 + 8 * (172 + 28 + 8 + 30 + extra)) // 26) for extra in (0, 16)]
    found = [float(small_frame_us(mac=mac, **row)) for mac in (clear, gear)]
    assert found[1] - found[0] == pytest.approx(4.0 * (symbols[1] - symbols[0]))
    assert mac_settings("simulator").encryption_bytes == 0


@pytest.mark.parametrize("transport", ["udp", "tcp"])
def test_larger_aggregates_carry_more(transport: Transport) -> None:
    for standard, mcs in (("n", 7), ("ac", 9), ("ax", 11)):
        row = {"standard": standard, "band": "5", "width_mhz": 40, "mcs": mcs, "streams": 2, "guard_ns": 800}
        small, usual, large = (goodput_mbps(transport=transport, mac=mac_settings(name), **row) for name in GEAR_SETS)
        assert small <= usual < large


@pytest.mark.parametrize("name", MAC_SETS)
@pytest.mark.parametrize("standard", ["n", "ac", "ax", "be"])
def test_goodput_lies_under_the_phy_rate_and_tcp_under_udp(name: str, standard: str) -> None:
    row = {"standard": standard, "band": "5", "width_mhz": 40, "mcs": np.arange(8), "streams": 2, "guard_ns": 800}
    udp = goodput_mbps(transport="udp", mac=mac_settings(name), **row)
    tcp = goodput_mbps(transport="tcp", mac=mac_settings(name), **row)
    assert np.all(tcp < udp)
    assert np.all(np.diff(udp) > 0)
    assert np.all(np.diff(tcp) > 0)


def test_no_rate_no_goodput() -> None:
    row = {"standard": "ac", "band": "5", "width_mhz": 20, "guard_ns": 800, "transport": "tcp"}
    found = goodput_cases_mbps(mcs=np.array([-1, 0, 9]), streams=np.array([0, 1, 1]), **row)
    assert found[0] == 0.0
    assert found[1] > 0.0
    assert found[2] == 0.0  # 802.11ac has no MCS 9 with one stream at 20 MHz


def test_a_voice_packet_costs_far_more_than_its_bits() -> None:
    """By hand, 802.11n 20 MHz MCS 7, one stream, 2.4 GHz: AIFS 28 + 1.5 slots 13.5 + (36 + 8 * 4 + 6) + 10 + 34 us."""
    airtime_us = small_frame_us(standard="n", band="2.4", width_mhz=20, mcs=7, streams=1, guard_ns=800, mac=SIMULATOR)
    assert airtime_us == 28 + 13.5 + (36 + 8 * 4 + 6) + 10 + (28 + 6)
    assert airtime_us > 5 * 172 * 8 / 65.0


def test_collisions_cost_little_between_two_and_more_among_many() -> None:
    shares = collision_efficiency(contenders=np.array([1.0, 2.0, 5.0, 20.0]))
    assert shares[0] == 1.0
    assert np.all(np.diff(shares) < 0)
    assert shares[1] > 0.9
