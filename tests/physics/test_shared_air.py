"""How full a channel is with what its senders send: published cases, cases by hand, and what must hold always."""

from __future__ import annotations

from typing import Any

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from advisor.physics.shared_air import Answers, Senders, Timing, alone_terms, fullness
from advisor.physics.sharing import bianchi

NO_REQUESTS = Timing(43.0, 48.0, 0.0)


def saturated(payload_us: list[float], *, members: list[float] | None = None, level: float = 1.0) -> Senders:
    """Senders that always have more, each sending `level` full frames a second."""
    count = len(payload_us)
    one = np.ones((count, 1))
    payload = level * np.array(payload_us)[:, None] / 1e6
    many = one if members is None else np.array(members)[:, None]
    return Senders(level * one, 1e9 * one, payload, 88.0, many, one, one)


def share(senders: Senders, timing: Timing = NO_REQUESTS) -> float:
    return float(fullness(senders, timing).share[0])


@pytest.mark.parametrize("count", [2, 5, 10, 30])
def test_equal_senders_share_as_bianchi_says(count: int) -> None:
    """Bianchi 2000, eqs (7), (9) and (13), W = 16, six doublings; frames of 4 ms."""
    tau, _ = bianchi(contenders=count)
    idle, single = (1 - tau) ** count, count * tau * (1 - tau) ** (count - 1)
    busy_us = 43.0 + 88.0 + 4000.0
    slot_us = idle * 9.0 + single * busy_us + (1 - idle - single) * (busy_us - 48.0)
    each_per_s = 1e6 * single / slot_us / count
    assert 1.0 / share(saturated([4000.0] * count)) == pytest.approx(each_per_s, rel=2e-3)


def test_one_sender_alone_waits_seven_and_a_half_slots() -> None:
    """AIFS 43 us, 7.5 slots of 9 us, the frame and its answer."""
    assert share(saturated([4000.0])) == pytest.approx((43.0 + 67.5 + 88.0 + 4000.0) / 1e6, rel=1e-6)


def test_members_of_a_group_are_senders_like_others() -> None:
    assert share(saturated([900.0], members=[5.0])) == pytest.approx(share(saturated([900.0] * 5)), rel=1e-9)


def test_a_collision_lasts_as_long_as_its_longest_frame() -> None:
    """Two senders of 5 ms and 0.5 ms: what collisions add to the perfect turns is nearer to the long frame's."""
    long, short, mixed = (share(saturated(frames)) for frames in ([5000.0] * 2, [500.0] * 2, [5000.0, 500.0]))
    lost = [2 * (total - frames / 1e6) for total, frames in ((long, 2 * 5131.0), (short, 2 * 631.0))]
    of_mixed = 2 * (mixed - (5131.0 + 631.0) / 1e6)
    assert of_mixed > 0.5 * (lost[0] + lost[1]) * 1.3


def test_a_sender_that_waits_for_packets_sends_what_has_come() -> None:
    """One packet of 100 us every 10 ms beside a sender that always has 4 ms: each goes out alone, with its overhead."""
    full, packets = np.array([[200.0], [100.0 / 40.0]]), np.array([[1e9], [100.0]])
    payload = np.array([[0.8], [100.0 * 100e-6]])
    one = np.ones((2, 1))
    found = fullness(Senders(full, packets, payload, 88.0, one, one, one), NO_REQUESTS)
    assert found.frames_per_s[1, 0] == pytest.approx(1.0 / (1.0 / 200.0 + 1.0 / 100.0), rel=1e-6)
    assert found.turn_us[1, 0] == pytest.approx(88.0 + 1e6 * 0.01 / found.frames_per_s[1, 0], rel=1e-6)


def test_acknowledgements_are_a_sender_of_their_own() -> None:
    """Alone, 0.6 to 0.7 answering frames for each data frame: the chain of two counters (IEEE 802.11-2020 10.3.4)."""
    data, one = np.array([[100.0], [0.0]]), np.ones((2, 1))
    answers = Answers(np.array([1]), np.array([0]), np.ones((1, 1)))
    payload = np.array([[0.3], [0.01]])
    found = fullness(Senders(data, 1e9 * (data > 0), payload, 88.0, one, one, one, answers), Timing())
    assert 0.6 <= found.frames_per_s[1, 0] / 100.0 <= 0.7


def test_a_flow_alone_takes_what_its_terms_say() -> None:
    for tcp in (False, True):
        fixed, stretched = alone_terms(tcp=tcp, overhead_us=88.0, timing=Timing())
        assert fixed > 88.0 + 43.0
        assert stretched >= 1.0
    assert (
        alone_terms(tcp=True, overhead_us=88.0, timing=Timing())[0]
        > alone_terms(tcp=False, overhead_us=88.0, timing=Timing())[0]
    )


def test_who_is_heard_half_takes_half() -> None:
    """Half heard, a like sender adds about half of what it adds wholly heard; less, since it collides less as well."""
    added = []
    for weight in (0.0, 0.5, 1.0):
        two = saturated([3000.0, 3000.0])
        heard = np.array([[1.0], [weight]])
        added.append(share(two._replace(weight=heard, waits=np.array([[1.0], [0.0]]))))
    assert 0.4 < (added[1] - added[0]) / (added[2] - added[0]) < 0.5


rates = st.lists(st.floats(0.5, 400.0), min_size=1, max_size=6)


@st.composite
def mixes(draw: st.DrawFn) -> Senders:
    full = np.array(draw(rates))[:, None]
    count = len(full)
    frames = np.array([draw(st.floats(50.0, 5400.0)) for _ in range(count)])[:, None]
    packets = np.array([draw(st.integers(1, 60)) for _ in range(count)])[:, None]
    one = np.ones((count, 1))
    return Senders(full, full * packets, full * frames / 1e6, 88.0, one, one, one)


@given(mixes(), st.floats(0.01, 100.0))
@settings(max_examples=80, deadline=None)
def test_twice_the_traffic_is_twice_as_full(senders: Senders, times: float) -> None:
    scaled = senders._replace(
        full_per_s=senders.full_per_s * times,
        arrivals_per_s=senders.arrivals_per_s * times,
        payload=senders.payload * times,
    )
    assert share(scaled, Timing()) == pytest.approx(times * share(senders, Timing()), rel=1e-9)


@given(mixes())
@settings(max_examples=80, deadline=None)
def test_a_sender_less_leaves_a_channel_less_full(senders: Senders) -> None:
    def without(row: Any) -> Any:
        return row[:-1] if isinstance(row, np.ndarray) else row

    if len(senders.full_per_s) > 1:
        fewer = Senders(*(without(row) for row in senders))
        assert share(fewer, Timing()) <= share(senders, Timing()) * (1 + 1e-3)


@given(mixes())
@settings(max_examples=60, deadline=None)
def test_full_air_holds_no_more_than_its_time(senders: Senders) -> None:
    """What is on the air with its silence never exceeds the share found."""
    found = fullness(senders, Timing())
    on_air = float((senders.payload + found.frames_per_s * 88e-6).sum())
    assert float(found.share[0]) >= on_air * (1 - 1e-9)


@given(st.data())
@settings(max_examples=30, deadline=None)
def test_an_array_of_cases_gives_what_each_gives(data: st.DataObject) -> None:
    parts = [data.draw(mixes()) for _ in range(3)]
    count = min(len(part.full_per_s) for part in parts)
    rows = [Senders(*(row[:count] if isinstance(row, np.ndarray) else row for row in part)) for part in parts]
    both = Senders(
        *(
            np.concatenate([row[index] for row in rows], axis=1)
            if isinstance(rows[0][index], np.ndarray)
            else rows[0][index]
            for index in range(len(rows[0]))
        )
    )
    together = fullness(both, Timing()).share
    assert together == pytest.approx([share(row, Timing()) for row in rows], rel=1e-9)
