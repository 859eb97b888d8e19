"""How much air a lone sender of single packets takes: what a user would read as a neighbour's busy share."""

from __future__ import annotations

from typing import Any, NamedTuple

import numpy as np

from advisor.physics.airtime import (
    DELIMITER_BYTES,
    LLC_BYTES,
    UDP_HEADER_BYTES,
    UDP_PACKET_BYTES,
    Link,
    filling,
    round_up,
)

MOST = 0.98
"""More than this nobody reads off a channel."""
LONGEST_QUEUE = 400


class Alone(NamedTuple):
    """A sender that nobody disturbs."""

    busy_share: float
    """Share of time with its frames and their answers on the air."""
    packets_per_frame: float


def alone(link: Link, offered_mbps: float) -> Alone:
    """How a lone sender fares to whom full UDP packets come at random (Poisson).

    Each turn takes what has come during the last one: AIFS, mean backoff, frame, SIFS, answer. A packet that finds the
    sender idle goes out at once. The queue at the beginning of a turn is a Markov chain; its mean over the long run.
    """
    most = int(filling(link, UDP_PACKET_BYTES).packets)
    per_us = offered_mbps / (8.0 * (UDP_PACKET_BYTES - UDP_HEADER_BYTES))
    queue = np.arange(1, LONGEST_QUEUE + 1)
    sent = np.minimum(queue, most)
    air_us = _on_air_us(link, most)[sent - 1]
    turn_us = air_us + link.mac.aifs_us(link.band) + link.mac.best_effort.mean_backoff_slots * link.mac.slot_us
    come = np.array([_poisson(per_us * each) for each in turn_us])
    step = np.zeros((LONGEST_QUEUE, LONGEST_QUEUE))
    for state, left in enumerate((queue - sent).tolist()):
        after = np.clip(left + np.arange(LONGEST_QUEUE), 1, LONGEST_QUEUE) - 1
        np.add.at(step[state], after, come[state])
    often = _in_the_long_run(step)
    idle_us = np.where(queue == sent, come[:, 0], 0.0) / per_us
    share = float(often @ air_us / (often @ (turn_us + idle_us)))
    return Alone(share, float(often @ sent))


def busy_share(link: Link, offered_mbps: float) -> float:
    """What a user would read off the channel while the neighbour alone is active."""
    return min(alone(link, offered_mbps).busy_share, MOST) if offered_mbps > 0.0 else 0.0


def _on_air_us(link: Link, most: int) -> Any:
    """Time on the air of frames of 1, 2, … packets with their answers."""
    counts = np.arange(1, most + 1)
    alone = DELIMITER_BYTES + link.mac_bytes + LLC_BYTES + UDP_PACKET_BYTES
    octets = (counts - 1.0) * round_up(alone) + alone
    if link.standard == "n":
        octets[0] -= DELIMITER_BYTES
    return link.data_frame_us(octets) + link.mac.sifs_us(link.band) + link.answer_us(counts)


def _poisson(mean: float) -> Any:
    """Chances of 0, 1, 2, … arrivals."""
    counts = np.arange(LONGEST_QUEUE)
    logs = counts * np.log(mean) - mean - np.concatenate(([0.0], np.cumsum(np.log(counts[1:]))))
    return np.exp(logs)


def _in_the_long_run(step: Any) -> Any:
    """How often a chain is in each state: the fixed point of its steps, by squaring."""
    step = step / step.sum(axis=1, keepdims=True)
    for _ in range(12):
        step = step @ step
        step = step / step.sum(axis=1, keepdims=True)
    return step.mean(axis=0)
