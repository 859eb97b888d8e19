"""The wait of a call's packets in closed form: against simulated calls, and how it moves."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path
from statistics import median

import numpy as np
import pytest

from advisor.physics.airtime import Link, udp_exchange
from advisor.physics.voice_wait import (
    Transfer,
    access_ms,
    activities,
    passing_ms,
    plain_fill,
    setting,
    standing_loss,
    standing_ms,
)
from truth.rows import Row, alone_mbps, links_of, read, words

DATA = Path(__file__).parents[1] / "reference" / "data"
QUEUES = {"def": "fair-deep", "mac64": "fair-short", "pfifo": "plain"}
LOADED = {
    scenario: rows
    for scenario, rows in read(DATA).items()
    if scenario.startswith("G_") and not scenario.endswith("_none")
}
SEGMENT_BYTES = 1460.0


def transfer_of(rows: list[Row], links: list[Link]) -> tuple[float, list[tuple[str, str, int]]]:
    """What the greedy transfer gets by the closed form, and who sends to whom on which hop."""
    name = words(rows[0])
    alone = [alone_mbps(link, "tcp") for link in links]
    if "tcpul" in name:
        return alone[0], [("other", "root", 0)]
    if "tcp2hop" not in name:
        return alone[0], [("root", "other", 0)]
    hops = [("root", "relay-uplink", 0), ("relay", "other", 1)]
    if one_channel(links):
        return TWO_KEEP / sum(1.0 / each for each in alone), hops
    return min(alone), hops


TWO_KEEP = 0.935
"""What two senders that always have more keep of turns without collisions (docs/model.md, section 6)."""


def one_channel(links: list[Link]) -> bool:
    return len({link.band for link in links}) == 1


def predicted(rows: list[Row]) -> Iterator[tuple[Row, float, float]]:
    """Delay and loss of both directions of the call by the closed form."""
    links, name = links_of(rows[0]), words(rows[0])
    rate, moves = transfer_of(rows, links)
    alone = [alone_mbps(link, "tcp") for link in links]
    taken = [rate / alone[hop] for _, _, hop in moves]
    stretch: list[list[Transfer]] = [[] for _ in links]
    for (sender, answerer, hop), share in zip(moves, taken, strict=True):
        whole = sum(taken) if one_channel(links) else 1.0
        turn_ms = float(udp_exchange(links[hop]).total_us) / 1000.0
        for number in range(len(links)):
            if one_channel(links) or number == hop:
                stretch[number].append(Transfer(sender, answerer, share / whole, turn_ms))
    queue = next(QUEUES[word] for word in name if word in QUEUES)
    voice_class = "VO" in name
    for row in rows:
        if row["transport"] != "voip":
            continue
        down = row["flow_src"] == "A"
        senders = ["root", "relay"] if down else ["relay-uplink", "caller"]
        own = senders if len(links) == 2 else ["root" if down else "caller"]
        delay, loss = 0.0, 0.0
        for number, sender in enumerate(own):
            stands = sender == moves[0][0]
            delay += setting("packet_ms")
            delay += access_ms(stretch[number], sender, voice_class=voice_class, standing=stands)
            if stands:
                delay += standing_ms(rate, queue, packet_bytes=SEGMENT_BYTES, voice_class=voice_class)
                loss = float(standing_loss(rate, queue, packet_bytes=SEGMENT_BYTES))
        yield row, delay, loss


def test_delay_and_loss_of_all_simulated_calls_under_load() -> None:
    """Every loaded row, relays and voice class included: mean delay within a factor of 3, at the median within 1.5;
    loss within two points of a hundred."""
    factors: list[float] = []
    for scenario, rows in LOADED.items():
        for row, delay, loss in predicted(rows):
            found = float(row["d_mean_ms"])
            factors.append(max(delay / found, found / delay))
            assert factors[-1] < 3.0, (scenario, row["flow_idx"], found, delay)
            assert abs(loss - float(row["loss"])) < 0.02, (scenario, row["flow_idx"])
    assert len(factors) == 74
    assert median(factors) < 1.5


ONE = [Transfer("node", "laptop", 1.0, 4.0)]


def test_a_packet_on_air_with_one_saturated_sender() -> None:
    """Half a turn of 4 ms for the one on the air, half for each of the two who may go first (data and answers); a whole
    one behind the own node's answers; the voice class waits for the rest of the turn and a tenth."""
    assert access_ms(ONE, "caller", voice_class=False) == pytest.approx(2.0 + 2.0 + 2.0)
    assert access_ms(ONE, "laptop", voice_class=False) == pytest.approx(2.0 + 2.0 + 4.0)
    assert access_ms(ONE, "node", voice_class=False, standing=True) == pytest.approx(2.0)
    assert access_ms(ONE, "caller", voice_class=True) == pytest.approx(2.4)
    assert access_ms([], "caller", voice_class=False) == 0.0


def test_who_takes_little_of_the_air_is_seldom_in_the_way() -> None:
    little = Transfer("till", "node", 0.1, 4.0)
    assert activities([little]) == (pytest.approx(0.1),)
    assert activities([little], other=0.5) == (pytest.approx(0.2),)
    assert activities([Transfer("node", "laptop", 0.9, 4.0), little]) == (pytest.approx(1.0), pytest.approx(1 / 9))
    ten = Transfer("tills", "node", 1.0, 4.0, senders=10)
    assert activities([ten]) == (pytest.approx(10.0),)


def test_two_transfers_of_one_node_are_one_sender() -> None:
    halves = [Transfer("node", name, 0.5, 4.0) for name in ("one", "other")]
    assert access_ms(halves, "caller", voice_class=False) == pytest.approx(access_ms(ONE, "caller", voice_class=False))


def test_queues_in_their_order_and_what_the_voice_class_passes() -> None:
    for rate in (5.0, 30.0, 100.0, 400.0):
        about = {"packet_bytes": 1500.0, "voice_class": False}
        short, deep, plain = (standing_ms(rate, queue, **about) for queue in ("fair-short", "fair-deep", "plain"))
        assert short < deep <= plain
        assert deep <= 250.0
        passed = [standing_ms(rate, q, packet_bytes=1500.0, voice_class=True) for q in ("fair-short", "fair-deep")]
        assert passed == [0.0, 0.0]
    assert standing_ms(100.0, "fair-deep", packet_bytes=1500.0, voice_class=False) == pytest.approx(0.7 * 500 * 0.12)
    assert standing_ms(100.0, "plain", packet_bytes=1500.0, voice_class=True) == pytest.approx(0.5 * 1000 * 0.12)


def test_a_plain_queue_fills_without_a_jump() -> None:
    """At 12 Mb/s a radio's queue of 500 packets lasts its 500 ms: above, the plain queue fills little by little."""
    assert plain_fill(12.0, 1500.0) == pytest.approx(0.0, abs=1e-9)
    assert plain_fill(24.0, 1500.0) == pytest.approx(0.5)
    rates = np.linspace(5.0, 200.0, 400)
    waits = standing_ms(rates, "plain", packet_bytes=1500.0, voice_class=False)
    assert np.max(np.abs(np.diff(waits))) < 20.0
    assert np.max(waits) < 500.0


def test_arrays_and_single_numbers_alike() -> None:
    rates = np.array([5.0, 20.0, 80.0])
    for queue in QUEUES.values():
        row = standing_ms(rates, queue, packet_bytes=1500.0, voice_class=False)
        lost = standing_loss(rates, queue, packet_bytes=1500.0)
        for number, rate in enumerate(rates.tolist()):
            assert row[number] == standing_ms(rate, queue, packet_bytes=1500.0, voice_class=False)
            assert lost[number] == standing_loss(rate, queue, packet_bytes=1500.0)
    shares = np.array([0.0, 0.3, 1.0])
    row = access_ms([Transfer("node", "laptop", shares, 4.0)], "caller", voice_class=False)
    each = [access_ms([Transfer("node", "laptop", s, 4.0)], "caller", voice_class=False) for s in shares.tolist()]
    assert row.tolist() == pytest.approx(each)


def test_behind_a_line_the_wait_grows_up_to_what_stands_there_when_it_is_full() -> None:
    assert passing_ms(0.0, 1.0, 100.0) == 0.0
    assert passing_ms(0.5, 1.0, 100.0) == pytest.approx(0.5)
    assert passing_ms(0.9, 1.0, 100.0) == pytest.approx(4.5)
    assert passing_ms(1.0, 1.0, 100.0) == 100.0
    assert np.all(np.diff(passing_ms(np.linspace(0.0, 1.2, 100), 1.0, 100.0)) >= 0.0)
