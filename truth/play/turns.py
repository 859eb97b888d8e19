"""One channel played turn by turn: who speaks next, who collides, what queues where.

Every sender counts down its own backoff (IEEE 802.11-2020 10.3.4, 10.23.2); the smallest count speaks, equal counts
collide, a loser keeps what is left of its count. Queues feed each other: the packets of one hop are the arrivals of the
next, and every second segment delivered is an acknowledgement that waits at the receiver. The draws come from a
generator of one fixed seed, so the same question has the same answer. Where each mean can be had in closed form,
`saturation` gives it; this is for chains of queues, whose shares depend on each other.

What a collision destroys follows from where the devices are: a receiver needs the preamble above the threshold, and
those packets of an aggregate are lost that overlap another frame and are not strong enough for their rate.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field
from math import ceil, hypot, log10
from random import Random

SATURATED = 10**9
"""Packets in a queue that never empties."""


@dataclass(frozen=True, slots=True)
class Air:
    """What all senders of the channel have in common, microseconds and slots."""

    slot_us: float
    sifs_us: float
    aifs_us: float
    cw_min: int
    cw_max: int
    timeout_us: float
    """How long the sender of the last frame of a collision waits in vain while others already count."""
    spoilt_us: float
    """How much longer than after a good frame a device waits after one it could not read (EIFS less DIFS)."""
    preamble_db: float
    """How much stronger than the rest a preamble must be to be noticed in a collision."""
    path_exponent: float


@dataclass(slots=True)
class Stream:
    """Packets that one device sends to another in frames of their own."""

    sender: int
    receiver: int
    frame_us: Sequence[float]
    """Duration of a frame by the number of packets in it; the last entry is the fullest frame."""
    answer_us: Sequence[float]
    """SIFS and answer: to a single packet, to several."""
    request_us: float
    """The request for a lost answer."""
    need_db: float
    """Signal over interference at which half of the packets survive."""
    waiting: float = 0.0
    limit: float = SATURATED
    """Packets the queue holds; more are dropped."""
    feeds: int = -1
    """The stream that a delivered packet adds to, and how many packets it adds."""
    adds: float = 1.0
    per_s: float = 0.0
    """Packets arriving per second from outside, and whether at random (Poisson) or evenly spaced."""
    random_arrivals: bool = False
    window: int = 64
    """Packets that may be on the way from the first one not acknowledged on (block-ack window)."""
    reserve_us: float = 0.0
    """RTS, SIFS, CTS and SIFS before each frame; 0 without."""
    reserve_lost_us: float = 0.0
    """What a collision costs then: the RTS alone."""
    delivered: float = field(default=0.0, init=False)
    sent_frames: int = field(default=0, init=False)
    sent_packets: float = field(default=0.0, init=False)
    lost_packets: float = field(default=0.0, init=False)


@dataclass(frozen=True, slots=True)
class Outcome:
    """What came through in the time played."""

    seconds: float
    packets: tuple[float, ...]
    """Packets delivered by each stream."""
    frames: tuple[int, ...]
    per_frame: tuple[float, ...]
    retries: tuple[float, ...]
    """Share of packets sent that were lost, by stream."""

    def per_s(self, stream: int) -> float:
        return self.packets[stream] / self.seconds


def play(
    air: Air,
    places: Sequence[tuple[float, float]],
    streams: Sequence[Stream],
    *,
    turns: int = 12_000,
    warm_turns: int = 2_000,
    seed: int = 1,
) -> Outcome:
    """Play `turns` transmissions after `warm_turns` and count what is delivered. `places` are metres by device."""
    table = _Table(air, places, list(streams), Random(seed))
    table.run(warm_turns)
    for stream in table.streams:
        stream.delivered = stream.sent_packets = stream.lost_packets = 0.0
        stream.sent_frames = 0
    began = table.now
    table.run(turns)
    return Outcome(
        seconds=(table.now - began) / 1e6,
        packets=tuple(s.delivered for s in table.streams),
        frames=tuple(s.sent_frames for s in table.streams),
        per_frame=tuple(s.sent_packets / max(s.sent_frames, 1) for s in table.streams),
        retries=tuple(s.lost_packets / max(s.sent_packets, 1) for s in table.streams),
    )


class _Table:
    """The state of all senders between turns."""

    def __init__(self, air: Air, places: Sequence[tuple[float, float]], streams: list[Stream], rng: Random) -> None:
        self.air, self.places, self.streams, self.rng = air, places, streams, rng
        count = len(places)
        self.own: list[list[int]] = [[] for _ in range(count)]
        for index, stream in enumerate(streams):
            self.own[stream.sender].append(index)
        self.speakers = [device for device in range(count) if self.own[device]]
        self.windows = [min((air.cw_min + 1) << k, air.cw_max + 1) for k in range(11)]
        self.counter = [0] * count
        self.lag = [0.0] * count
        self.stage = [0] * count
        self.asks = [-1] * count
        self.again = [-1] * count
        self.room = [SATURATED] * count
        self.now = 0.0
        self.outside = [k for k, s in enumerate(streams) if s.per_s > 0.0]
        self.next_us = {k: self._gap_us(streams[k]) for k in self.outside}
        self.strength: dict[tuple[int, tuple[int, ...]], float] = {}
        for device in self.speakers:
            self.counter[device] = self._draw(0)

    def _gap_us(self, stream: Stream) -> float:
        gap = 1e6 / stream.per_s
        return self.rng.expovariate(1.0) * gap if stream.random_arrivals else gap

    def _draw(self, stage: int) -> int:
        return int(self.rng.random() * self.windows[stage])

    def _has(self, device: int) -> bool:
        if self.asks[device] >= 0:
            return True
        streams = self.streams
        return any(streams[index].waiting >= 1.0 for index in self.own[device])

    # -- arrivals ---------------------------------------------------------------------------------------------------

    def _arrive_until(self, time_us: float) -> None:
        """All arrivals from outside up to a moment of a busy channel: a sender that was idle draws a backoff."""
        for index in self.outside:
            at = self.next_us[index]
            if at > time_us:
                continue
            stream = self.streams[index]
            was_empty = not self._has(stream.sender)
            while at <= time_us:
                stream.waiting = min(stream.waiting + 1.0, stream.limit)
                at += self._gap_us(stream)
            self.next_us[index] = at
            if was_empty and self.counter[stream.sender] == 0:
                self.counter[stream.sender] = self._draw(0)

    def _add(self, index: int, packets: float) -> None:
        """Packets from another stream; they come while the channel is busy."""
        stream = self.streams[index]
        was_empty = not self._has(stream.sender)
        stream.waiting = min(stream.waiting + packets, stream.limit)
        if was_empty and stream.waiting >= 1.0 and self.counter[stream.sender] == 0:
            self.counter[stream.sender] = self._draw(0)

    # -- turns ------------------------------------------------------------------------------------------------------

    def run(self, turns: int) -> None:
        for _ in range(turns):
            self._turn()

    def _turn(self) -> None:
        counter, lag = self.counter, self.lag
        ready = [d for d in self.speakers if self._has(d)]
        first: float = min((counter[d] + lag[d] for d in ready), default=SATURATED)
        if self.outside:
            first, ready = self._arrivals_in_silence(first, ready)
        if not ready:
            raise ValueError("nobody ever has anything to send")
        latest = first + 1e-6
        speaking = [d for d in ready if counter[d] + lag[d] <= latest]
        for d in self.speakers:
            passed = int(latest - lag[d])
            if passed > 0:
                counter[d] = counter[d] - passed if counter[d] > passed else 0
            lag[d] = 0.0
        start = self.now + self.air.aifs_us + first * self.air.slot_us
        if self.outside:
            self._arrive_until(start)
        if len(speaking) == 1:
            self._alone(speaking[0], start)
        else:
            self._collide(speaking, start)
        if self.outside:
            self._arrive_until(self.now)

    def _arrivals_in_silence(self, first: float, ready: list[int]) -> tuple[float, list[int]]:
        """Arrivals while nobody speaks: an idle sender whose count has run out speaks at once, else counts on."""
        air = self.air
        for index in sorted(self.outside, key=lambda k: self.next_us[k]):
            stream, at = self.streams[index], self.next_us[index]
            if first < SATURATED and at >= self.now + air.aifs_us + first * air.slot_us:
                break
            if stream.sender in ready:
                continue
            stream.waiting += 1.0
            self.next_us[index] = at + self._gap_us(stream)
            passed = max(ceil((at - self.now - air.aifs_us) / air.slot_us), 0)
            if passed > self.counter[stream.sender]:
                self.counter[stream.sender] = passed
            ready.append(stream.sender)
            first = min(first, self.counter[stream.sender] + self.lag[stream.sender])
        return first, ready

    def _pick(self, device: int) -> Stream:
        """The stream whose turn it is: one to repeat, else the one that waited longest (moved to the end)."""
        own = self.own[device]
        index = self.again[device]
        if index < 0 or self.streams[index].waiting < 1.0:
            index = next(k for k in own if self.streams[k].waiting >= 1.0)
            if len(own) > 1:
                own.remove(index)
                own.append(index)
        return self.streams[index]

    def _count(self, stream: Stream) -> int:
        return int(min(stream.waiting, len(stream.frame_us) - 1, self.room[stream.sender]))

    def _alone(self, device: int, start: float) -> None:
        index = self.asks[device]
        if index >= 0:
            stream = self.streams[index]
            length = stream.request_us + stream.answer_us[1]
            self.asks[device] = -1
        else:
            stream = self._pick(device)
            count = self._count(stream)
            length = stream.reserve_us + stream.frame_us[count] + stream.answer_us[count > 1]
            self.again[device], self.room[device] = -1, SATURATED
            stream.sent_frames += 1
            stream.sent_packets += count
            self._deliver(stream, count)
        self.stage[device] = 0
        self.counter[device] = self._draw(0)
        self.now = start + length

    def _deliver(self, stream: Stream, count: int) -> None:
        if stream.waiting < SATURATED:
            stream.waiting -= count
        stream.delivered += count
        if stream.feeds >= 0:
            self._add(stream.feeds, count * stream.adds)

    def _collide(self, speaking: list[int], start: float) -> None:
        frames = [self._frame(device) for device in speaking]
        ends, answered = 0.0, []
        for device, (stream, count, length) in zip(speaking, frames, strict=True):
            others = [d for d in speaking if d != device]
            overlap = max(frames[speaking.index(d)][2] for d in others)
            heard = stream.receiver not in speaking and self._above_db(stream, others) >= self.air.preamble_db
            lost = count
            if heard and stream.reserve_us == 0.0:
                strong = self._above_db(stream, others) >= stream.need_db
                lost = 0 if strong else min(ceil(count * overlap / length), count)
            got_answer = heard and length > overlap and lost < max(count, 1)
            if count:
                stream.sent_frames += 1
                stream.sent_packets += count
                stream.lost_packets += lost
                if count > lost:
                    self._deliver(stream, count - lost)
                self.again[device] = self.streams.index(stream) if lost else -1
                self.room[device] = lost + max(stream.window - count, 0) if lost else SATURATED
            answered.append(got_answer)
            ends = max(ends, length + (stream.answer_us[count != 1] if got_answer else 0.0))
        for device, (stream, count, length), good in zip(speaking, frames, answered, strict=True):
            if good:
                self.stage[device], self.asks[device] = 0, -1
            else:
                self.stage[device] = min(self.stage[device] + 1, len(self.windows) - 1)
                if count > 1 and stream.reserve_us == 0.0:
                    self.asks[device] = self.streams.index(stream)
                self.lag[device] = max((length - ends + self.air.timeout_us) / self.air.slot_us, 0.0)
            self.counter[device] = self._draw(self.stage[device])
        self._spoil(speaking, frames)
        self.now = start + ends

    def _spoil(self, speaking: list[int], frames: list[tuple[Stream, int, float]]) -> None:
        """Devices that noticed a frame of a collision but could not read it to its end wait longer."""
        lengths = [length for _, _, length in frames]
        for device in self.speakers:
            if device in speaking:
                continue
            for sender, (stream, _, length) in zip(speaking, frames, strict=True):
                others = [d for d in speaking if d != sender]
                above = self._power_db(sender, device, others)
                if above >= self.air.preamble_db:
                    if above < stream.need_db and length <= max(
                        x for d, x in zip(speaking, lengths, strict=True) if d != sender
                    ):
                        self.lag[device] = self.air.spoilt_us / self.air.slot_us
                    break

    def _frame(self, device: int) -> tuple[Stream, int, float]:
        """What a device sends: the stream, the packets in it (0: a request), the duration without the answer."""
        index = self.asks[device]
        if index >= 0:
            return self.streams[index], 0, self.streams[index].request_us
        stream = self._pick(device)
        count = self._count(stream)
        return stream, count, stream.reserve_lost_us if stream.reserve_us else stream.frame_us[count]

    def _above_db(self, stream: Stream, others: list[int]) -> float:
        return self._power_db(stream.sender, stream.receiver, others)

    def _power_db(self, sender: int, receiver: int, others: list[int]) -> float:
        """How far a sender is above all others together, at the receiver; nearer than one metre counts as one."""
        key = (sender * len(self.places) + receiver, tuple(others))
        if key not in self.strength:
            x, y = self.places[receiver]

            def power(device: int) -> float:
                away = hypot(self.places[device][0] - x, self.places[device][1] - y)
                return float(max(away, 1.0) ** -self.air.path_exponent)

            self.strength[key] = 10.0 * log10(power(sender) / sum(power(device) for device in others))
        return self.strength[key]
