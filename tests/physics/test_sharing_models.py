"""Properties of the models of shared channels."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from advisor.physics.airtime import Link, goodput_mbps
from advisor.physics.mac import mac_settings
from advisor.physics.sharing import bianchi
from truth.closed.chain_share import cells_mbps, chain_mbps, sender_of, together, uplinks_mbps
from truth.closed.saturation import Sender, contend, efficiency
from truth.play.cells import cells_sharing, many_clients
from truth.play.partial_load import beside_neighbour
from truth.play.relays import relay_one_channel, relay_two_channels
from truth.play.voice_delay import Load, voice_delay_ms

MAC = mac_settings("simulator")
FAST = Link("ac", "5", 80, 9, 2, 800, MAC)
SLOW = FAST._replace(mcs=1)
N20 = Link("n", "2.4", 20, 7, 2, 800, MAC)

fixed = st.floats(60.0, 300.0)
each = st.floats(1.0, 300.0)
most = st.integers(2, 64).map(float)
loads = st.floats(1.0, 1e5) | st.just(float("inf"))


def alone(link: Link, transport: str) -> float:
    row = link._asdict()
    return float(goodput_mbps(transport=transport, **row))  # type: ignore[arg-type]


# -- closed form-


@settings(max_examples=40, deadline=None)
@given(data=st.data())
def test_an_array_of_cases_gives_what_each_gives(data: st.DataObject) -> None:
    senders, cases = data.draw(st.integers(1, 4)), data.draw(st.integers(1, 4))

    def draw(values: st.SearchStrategy[float]) -> np.ndarray:
        return np.array([[data.draw(values) for _ in range(cases)] for _ in range(senders)])

    sender = Sender(draw(fixed), draw(each), draw(most), 48.0, 100.0)
    load = draw(loads)
    both = contend(sender, load_per_s=load)
    for case in range(cases):
        one = contend(Sender(*(x[:, case] if np.ndim(x) else x for x in sender)), load_per_s=load[:, case])
        assert both.packets_per_s[:, case] == pytest.approx(one.packets_per_s, rel=1e-9)
        assert both.lost[case] == pytest.approx(one.lost, rel=1e-9)


@settings(max_examples=60, deadline=None)
@given(fixed_us=fixed, each_us=each, packets=most, count=st.integers(2, 30))
def test_equal_senders_get_equal_shares_and_collide_as_bianchi_says(
    fixed_us: float, each_us: float, packets: float, count: int
) -> None:
    sender = Sender(np.full(count, fixed_us), each_us, packets, 48.0, 0.0)
    found = contend(sender, load_per_s=np.inf)
    assert np.ptp(found.packets_per_s) <= 1e-9 * found.packets_per_s.max()
    tau, p = bianchi(contenders=count)
    busy_us = 43.0 + fixed_us + each_us * packets
    idle, one = (1 - tau) ** count, count * tau * (1 - tau) ** (count - 1)
    slot_us = idle * 9.0 + one * busy_us + (1 - idle - one) * (busy_us - 48.0)
    assert found.frames_per_s[0] == pytest.approx(1e6 * tau * (1 - p) / slot_us, rel=1e-3)


@settings(max_examples=60, deadline=None)
@given(fixed_us=fixed, each_us=each, packets=most)
def test_one_sender_has_the_channel_to_itself(fixed_us: float, each_us: float, packets: float) -> None:
    """Alone it waits 7.5 slots on average; a slot of Bianchi's chain starts with one of 17 equal chances, 7.5 idle."""
    found = contend(Sender(np.array([fixed_us]), each_us, packets), load_per_s=np.inf)
    assert found.frames_per_s[0] == pytest.approx(1e6 / (43.0 + 7.5 * 9.0 + fixed_us + each_us * packets), rel=1e-6)
    assert found.lost == 0.0


@settings(max_examples=60, deadline=None)
@given(fixed_us=fixed, each_us=st.floats(50.0, 300.0), count=st.integers(1, 20))
def test_more_senders_of_long_frames_never_carry_more(fixed_us: float, each_us: float, count: int) -> None:
    def total(senders: int) -> float:
        sender = Sender(np.full(senders, fixed_us), each_us, 40.0, 48.0, 100.0)
        return float(contend(sender, load_per_s=np.inf).packets_per_s.sum())

    assert total(count + 1) < total(count) * (1 + 1e-9)


@settings(max_examples=60, deadline=None)
@given(fixed_us=fixed, each_us=each, packets=most, share=st.floats(0.01, 0.8))
def test_a_load_under_the_share_gets_through(fixed_us: float, each_us: float, packets: float, share: float) -> None:
    sender = Sender(np.full(2, fixed_us), each_us, packets, 48.0, 100.0)
    fair = contend(sender, load_per_s=np.inf).packets_per_s[1]
    found = contend(sender, load_per_s=np.array([np.inf, share * fair]))
    assert found.packets_per_s[1] == pytest.approx(share * fair, rel=1e-3)
    assert not found.saturated[1]
    assert found.packets_per_s[0] >= fair * 0.999


def test_no_load_takes_nothing() -> None:
    sender = together([sender_of(FAST, 1500)] * 2)
    found = contend(sender, load_per_s=np.array([np.inf, 0.0]))
    only = contend(together([sender_of(FAST, 1500)]), load_per_s=np.inf)
    assert found.packets_per_s[1] == 0.0
    assert found.packets_per_s[0] == pytest.approx(only.packets_per_s[0], rel=1e-6)


def test_efficiency_is_one_alone_and_falls_with_senders() -> None:
    one = sender_of(N20, 1500)
    shares = [float(efficiency(together([one] * count), silence_us=37.0)) for count in (1, 2, 5, 20)]
    assert shares[0] == pytest.approx(1.0)
    assert np.all(np.diff(shares) < 0)
    assert shares[1] == pytest.approx(0.92, abs=0.03)  # two cells: 0.92 to 0.95 of one in the simulated runs


@pytest.mark.parametrize("transport", ["udp", "tcp"])
@pytest.mark.parametrize("link", [FAST, SLOW, N20])
def test_one_hop_of_the_closed_form_is_the_single_link(link: Link, transport: str) -> None:
    tolerance = 0.001 if transport == "udp" else 0.02
    found = chain_mbps([link], "udp" if transport == "udp" else "tcp")
    assert found == pytest.approx(alone(link, transport), rel=tolerance)


@pytest.mark.parametrize("links", [[FAST, FAST], [FAST, SLOW], [N20, N20._replace(mcs=4)]])
def test_closed_form_and_turns_agree_on_relays(links: list[Link]) -> None:
    assert chain_mbps(links, "tcp") == pytest.approx(relay_one_channel(links, "tcp").total_mbps, rel=0.08)


@pytest.mark.parametrize("links", [[FAST, FAST], [FAST, SLOW], [N20, N20, N20]])
def test_closed_form_and_turns_agree_on_cells(links: list[Link]) -> None:
    closed = cells_mbps(links, offered_mbps=[None] * len(links))
    assert sum(closed) == pytest.approx(cells_sharing(links, "udp").total_mbps, rel=0.06)


# -- turn by turn-


@pytest.mark.parametrize("link", [FAST, SLOW, N20])
def test_one_cell_is_the_single_link(link: Link) -> None:
    assert cells_sharing([link], "udp").total_mbps == pytest.approx(alone(link, "udp"), rel=0.003)
    assert cells_sharing([link], "tcp").total_mbps == pytest.approx(alone(link, "tcp"), rel=0.02)


def test_the_same_question_has_the_same_answer() -> None:
    assert cells_sharing([FAST, SLOW], "tcp") == cells_sharing([FAST, SLOW], "tcp")
    assert cells_sharing([FAST, SLOW], "tcp", seed=2) != cells_sharing([FAST, SLOW], "tcp")


def test_equal_cells_get_equal_shares() -> None:
    """The packets that came through, before cells that are alike are given their mean."""
    packets = cells_sharing([N20] * 3, "udp", turns=60_000).outcome.packets
    assert np.ptp(packets) < 0.05 * np.mean(packets)


def test_a_slow_cell_takes_more_time_than_a_fast_one() -> None:
    """Heusse: equal chances of a turn, so the fast cell falls far below half of what it has alone."""
    fast, slow = cells_sharing([FAST, SLOW], "udp").each_mbps
    assert fast < 0.3 * alone(FAST, "udp")
    assert slow > 0.6 * alone(SLOW, "udp")


@pytest.mark.parametrize("transport", ["udp", "tcp"])
def test_more_cells_never_carry_more(transport: str) -> None:
    kind = "udp" if transport == "udp" else "tcp"
    totals = [cells_sharing([N20] * count, kind).total_mbps for count in (1, 2, 3, 4)]  # type: ignore[arg-type]
    assert np.all(np.diff(totals) < 0.005 * totals[0])


def test_more_uplink_clients_never_carry_more_and_downlink_ones_change_nothing() -> None:
    totals = [uplinks_mbps(N20, clients) for clients in (1, 2, 5, 10, 20)]
    assert totals[0] == pytest.approx(alone(N20, "udp"), rel=0.001)
    assert np.all(np.diff(totals) < 0)
    down = [many_clients(N20, clients, "udp", direction="down").total_mbps for clients in (1, 8)]
    assert down[1] == pytest.approx(down[0], rel=0.003)


@pytest.mark.parametrize("load", [5.0, 20.0, 35.0])
def test_a_neighbours_load_under_its_share_gets_through(load: float) -> None:
    found = beside_neighbour(N20, N20, "udp", neighbour_offered_mbps=load)
    assert found.neighbour_mbps == pytest.approx(load, rel=0.04)
    assert found.own_mbps < alone(N20, "udp") - load


def test_the_victim_keeps_less_the_more_its_neighbour_offers() -> None:
    kept = [beside_neighbour(N20, N20, "tcp", neighbour_offered_mbps=load).own_mbps for load in (0.0, 10.0, 30.0, 90.0)]
    assert np.all(np.diff(kept) < 0)
    assert kept[-1] > 0.4 * kept[0]


def test_a_relay_carries_a_load_it_has_room_for_and_less_than_either_hop() -> None:
    assert relay_one_channel([N20, N20], "udp", offered_mbps=30.0).total_mbps == pytest.approx(30.0, rel=0.02)
    for transport in ("udp", "tcp"):
        kind = "udp" if transport == "udp" else "tcp"
        one = relay_one_channel([N20, N20], kind).total_mbps  # type: ignore[arg-type]
        assert one < 0.5 * alone(N20, transport)
        assert relay_two_channels([N20, FAST], kind) == pytest.approx(alone(N20, transport))  # type: ignore[arg-type]


def test_a_fast_first_hop_starves_a_slow_second_one() -> None:
    """Endless UDP carries less over 130 then 39 Mb/s than the harmonic sum; a load that just fits carries more."""
    slow = N20._replace(mcs=2)
    endless = relay_one_channel([N20, slow], "udp").total_mbps
    fitting = relay_one_channel([N20, slow], "udp", offered_mbps=26.0).total_mbps
    assert endless < 0.92 * fitting


def test_voice_waits_longer_under_load_behind_longer_queues_and_over_more_hops() -> None:
    down = Load("down", 1)
    row = {"category": "best_effort", "direction": "down"}
    quiet = voice_delay_ms([N20], **row)
    short = voice_delay_ms([N20], load=down, queue="fair-short", **row)
    long = voice_delay_ms([N20], load=down, queue="fair", **row)
    plain = voice_delay_ms([N20], load=down, queue="fifo", **row)
    assert quiet < short < long < plain
    first = voice_delay_ms([N20], category="voice", direction="down", load=down)
    assert quiet < first < short
    assert voice_delay_ms([N20, N20], category="voice", direction="down", load=down) > first
