"""A client that looks around on a call: how long, and what its pieces away from the channel do to the packets."""

from __future__ import annotations

import numpy as np
import pytest

from advisor.walk.chance import Chance
from advisor.walk.client import follow
from advisor.walk.handover import Look, look_around
from advisor.walk.records import OnWay
from tests.walk.made_trail import PHONE, STEP_S, node, planned


def look(radios: tuple[OnWay, ...], share: float = 0.5) -> Look:
    return look_around(PHONE, radios[0], radios, np.full(1, share))


def with_channels(*channels: int) -> tuple[OnWay, ...]:
    return tuple(node(1 + number, k=True, channel=channel) for number, channel in enumerate(channels))


def test_every_channel_worked_by_hand() -> None:
    """Timers of an open-source kernel: 22 pieces of 61 ms and 16 of 111 ms with 38 pauses of 200 ms are 10.718 s. Of
    each long piece the packets of the first 111 - 80 = 31 ms come later than a buffer of 80 ms: 16 x 31 = 496 ms, 4.6
    %. The others wait (22 x 61^2 / 2 + 16 x 80^2 / 2) / (10718 - 496) = 9.0 ms on average. A look of 2.75 s is a part
    of that."""
    found = look((node(1), node(2)))
    assert found.seconds[0] == pytest.approx(2.75)
    assert found.late[0] == pytest.approx(0.496 / 10.718, rel=1e-6)
    assert found.delay_ms[0] == pytest.approx((22 * 61**2 / 2 + 16 * 80**2 / 2) / (10718 - 496), rel=1e-6)


def test_six_known_channels_worked_by_hand() -> None:
    """802.11k: six pieces of 60 ms, 0.36 s away as published, with five pauses of 0.2 s between; no piece is longer
    than the buffer, and packets wait 6 x 60^2 / 2 / 1360 = 7.9 ms on average."""
    found = look(with_channels(36, 40, 44, 48, 149, 153, 157), share=1.0)
    assert found.seconds[0] == pytest.approx(6 * 0.06 + 5 * 0.2)
    assert found.late[0] == 0.0
    assert found.delay_ms[0] == pytest.approx(6 * 60**2 / 2 / 1360, rel=1e-6)


def test_known_channels_with_radar_duty_are_listened_to() -> None:
    """A client may not ask there first: 111 ms each. Two of them and a pause are 422 ms, 2 x 31 ms of it too late; the
    others wait 2 x 80^2 / 2 / 360 = 17.8 ms."""
    found = look(with_channels(52, 100))
    assert found.seconds[0] == pytest.approx(0.422)
    assert found.late[0] == pytest.approx(62 / 422, rel=1e-6)
    assert found.delay_ms[0] == pytest.approx(6400 / 360, rel=1e-6)


def test_one_known_channel_is_one_piece() -> None:
    found = look(with_channels(36))
    assert found.seconds[0] == pytest.approx(0.045)
    assert found.late[0] == 0.0


def test_a_list_makes_a_look_short_and_harmless() -> None:
    long, short = look((node(1), node(2))), look(with_channels(36, 40, 44))
    assert short.seconds[0] < 0.25 * long.seconds[0]
    assert short.late[0] < long.late[0]
    refusing = look_around(PHONE, node(1, k=False), with_channels(36, 40, 44), np.full(1, 0.5))
    assert refusing.seconds[0] == long.seconds[0]


@pytest.mark.parametrize("listed", [False, True])
def test_what_is_late_is_lost_to_the_call_while_it_looks(listed: bool) -> None:
    """The track of a client that looks once: seconds of packets lost are those late, spread over the look."""
    radios = (node(1, k=listed, channel=52), node(2, k=listed, channel=100))
    track = follow(planned(*radios), PHONE, Chance(1, 1, typical=True))
    found = look(radios)
    assert len(track.changes[0]) == 1
    assert STEP_S * track.loss.sum() == pytest.approx(found.late[0] * found.seconds[0], rel=1e-3)
    looking = track.delay_ms[0] > 0.0
    assert np.count_nonzero(looking) == np.ceil(found.seconds[0] / STEP_S)
    assert STEP_S * track.delay_ms.sum() == pytest.approx(found.delay_ms[0] * found.seconds[0], rel=1e-6)
