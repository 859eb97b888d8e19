"""The air as its senders use it: who sends, how long its frames are, who hears whom.

A *leg* is one link of a flow's way over the air. Its sender has a queue for all its legs and takes its turns like any
other; whoever answers with TCP acknowledgements is a sender too.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from functools import cached_property

import numpy as np
from numpy.typing import NDArray

from advisor.network.filling import Array, Bools, Uses
from advisor.physics.shared_air import ACK_PART, Answers, Fullness, Senders, Timing, fullness

Ints = NDArray[np.int64]
NOBODY = -1


@dataclass(frozen=True)
class Heard:
    """What is heard in one cell: a resource, the legs heard there and how much of each (legs × cases)."""

    resource: int
    legs: Ints
    weight: Array
    own: Bools
    """Legs of the cell itself (legs)."""
    timing: Timing


@dataclass(frozen=True)
class Air:
    """Legs sorted by flow; arrays have legs first, then cases."""

    flow: Ints
    sender: Ints
    answerer: Ints
    """Who acknowledges, NOBODY for UDP."""
    before: Ints
    """The leg of the same flow it is fed by, NOBODY for the first."""
    times: Array
    """How often the flow's rate passes its sender: once for each client, 0 where the flow does not take this way."""
    frame_mbit: Array
    """What a full frame carries."""
    payload_us: Array
    """How long its payload takes."""
    packet_mbit: Array
    """What one packet carries."""
    overhead_us: Array
    """What every frame costs beside its payload (legs)."""
    members: Array
    """How many send alike (senders)."""
    heard: tuple[Heard, ...]
    deafening: Array
    """What of each use takes air without collisions: radios of one box that deafen each other (uses × cases)."""
    is_air: Bools
    """Which resources are air."""
    own_flows: Bools
    """Flows of the site; the others are neighbours' networks."""
    names: tuple[str, ...]
    """Names of the senders."""
    doubt: Array
    """By how much air that several share may take longer or shorter than computed (resources × cases)."""
    luck: Array
    """By how much a sender gets more or fewer turns than its share (senders × cases)."""
    light: Bools
    """Legs that weigh nothing: they get what one more would, and take nothing from anybody."""

    @cached_property
    def frames_per_mbps(self) -> Array:
        """Full frames a second of a leg's sender for one Mb/s of its flow."""
        frames: Array = self.times / self.frame_mbit
        return frames

    @cached_property
    def _gather(self) -> Array:
        """Senders × legs: 1 where the leg is the sender's."""
        gather: Array = (np.arange(len(self.members))[:, None] == self.sender[None, :]).astype(float)
        return gather

    @cached_property
    def _first(self) -> tuple[Ints, Ints]:
        present, first = np.unique(self.flow, return_index=True)
        return present, first

    def pace(self, beside: Array) -> Callable[[Bools], Array]:
        """How fast flows rise when every sender rises by one frame a second: a flow with several legs at the pace of
        the slowest, and what it leaves at the others goes to those. `beside`: its weight at its sender."""
        present, first = self._first
        weight = beside[self.flow]
        heavy = (~self.light)[:, None]
        luck = self.luck[self.sender]

        def slowest(legs: Array, at_first: Array) -> Array:
            paces = at_first.copy()
            paces[present] = np.minimum.reduceat(np.where(self.times > 0, legs, np.inf), first, axis=0)
            return np.where(np.isfinite(paces), paces, at_first)

        def paces(active: Bools) -> Array:
            needs = self.frames_per_mbps * active[self.flow]
            total = (self._gather @ (needs * weight * heavy))[self.sender]
            total = np.where(total > 0, total, needs * weight)
            here = luck * weight / np.maximum(total, 1e-30)
            pace = slowest(here, np.ones_like(beside))
            taken = needs * heavy * pace[self.flow] / luck
            held = here <= pace[self.flow] * (1 + 1e-9)
            unused = 1.0 - (self._gather @ taken)[self.sender]
            growing = (self._gather @ (taken * held))[self.sender]
            more = np.where(held, here * (1.0 + unused / np.maximum(growing, 1e-30)), here)
            both: Array = np.maximum(slowest(more, pace), pace)
            return both

        return paces

    def most_beside(self, rates_mbps: Array) -> Array:
        """What a sender of each flow gets that takes as many turns as the busiest of these (flows × cases)."""
        frames = self.frames_per_mbps * rates_mbps[self.flow]
        level = np.max(self._gather @ (frames * self.own_flows[self.flow][:, None]), axis=0)
        most = np.zeros(rates_mbps.shape)
        np.maximum.at(most, self.flow, level * self.frame_mbit)
        return most

    def taken(self, uses: Uses, rates_mbps: Array) -> Array:
        """Time one Mb/s takes of every resource at these rates: of air, with collisions and small frames (uses ×
        cases)."""
        by_resource = np.ones(uses.free.shape)
        contended = uses.time_per_mbps - self.deafening
        plain = uses.per_resource(contended * rates_mbps[uses.flow])
        for one, found in self.fullness(rates_mbps):
            there = plain[one.resource] > 1e-90
            longer = found.share / np.where(there, plain[one.resource], 1.0)
            by_resource[one.resource] = np.where(there, longer * self.doubt[one.resource], 1.0)
        taken: Array = contended * by_resource[uses.resource] + self.deafening
        return taken

    def fullness(self, rates_mbps: Array) -> list[tuple[Heard, Fullness]]:
        """How full the air of every cell is at these rates; cells that hear the same are computed once. A cell with a
        single leg of a single sender is as full as the leg alone makes it, and left out."""
        known: dict[tuple[bytes, bytes, bytes], Fullness] = {}
        found = []
        for one in self.heard:
            if len(one.legs) < 2 and self.members[self.sender[one.legs[0]]] == 1.0:
                continue
            key = (one.legs.tobytes(), one.weight.tobytes(), one.own.tobytes())
            if key not in known:
                known[key] = fullness(self.senders(one, rates_mbps), one.timing)
            found.append((one, known[key]))
        return found

    def senders(self, one: Heard, rates_mbps: Array) -> Senders:
        """Who sends in the hearing of a cell at these rates."""
        legs = one.legs
        sender, answerer = self.sender[legs], self.answerer[legs]
        numbers = np.unique(np.concatenate((sender, answerer[answerer != NOBODY])))
        place = np.full(len(self.members) + 1, -1)
        place[numbers] = np.arange(len(numbers))
        who, answers = place[sender], place[answerer]
        rate = rates_mbps[self.flow[legs]]
        full = self.frames_per_mbps[legs] * rate
        members = self.members[numbers][:, None]
        mine = (np.arange(len(numbers))[:, None] == who[None, :]).astype(float)
        theirs = ((np.arange(len(numbers))[:, None] == answers[None, :]) & (answerer != NOBODY)[None, :]).astype(float)
        payload = full * self.payload_us[legs] / 1e6
        back = ACK_PART * payload * members[who]
        weight = np.zeros((len(numbers), rate.shape[-1]))
        for ends in (who, answers):
            np.maximum.at(weight, ends[ends >= 0], (one.weight * (full > 0))[ends >= 0])
        return Senders(
            full_per_s=mine @ full,
            arrivals_per_s=mine @ self._arrivals(legs, rates_mbps),
            payload=mine @ payload + (theirs @ back) / members,
            overhead_us=self._overhead_us(legs, full, mine, theirs),
            members=members,
            weight=weight,
            waits=(mine @ one.own.astype(float))[:, None],
            answers=self._answers(legs, who, answers, full, mine, theirs),
        )

    def _arrivals(self, legs: Ints, rates_mbps: Array) -> Array:
        """Batches that reach a leg's sender a second: packets of a source, or the frames of the leg before."""
        rate = rates_mbps[self.flow[legs]]
        before = self.before[legs]
        packets = self.times[legs] * rate / self.packet_mbit[legs]
        frames = self.frames_per_mbps[before] * rate
        batches: Array = np.where((before != NOBODY)[:, None] & (frames > 0), np.minimum(frames, packets), packets)
        return batches

    def _overhead_us(self, legs: Ints, full: Array, mine: Array, theirs: Array) -> Array:
        """Overhead of a sender's frames: of its data, else of what it answers."""
        overhead = self.overhead_us[legs][:, None]
        data, answered = mine @ full, theirs @ full
        of_data = (mine @ (full * overhead)) / np.where(data > 0, data, 1.0)
        of_answers = (theirs @ (full * overhead)) / np.where(answered > 0, answered, 1.0)
        return np.where(data > 0, of_data, of_answers)

    def _answers(self, legs: Ints, who: Ints, answers: Ints, full: Array, mine: Array, theirs: Array) -> Answers | None:
        """Who answers whom in this hearing. Acknowledgements that come from a leg further on, in this hearing too, come
        as that leg's frames; else as the data frames of the leg itself."""
        asked = self.answerer[legs] != NOBODY
        if not asked.any():
            return None
        after = {
            int(self.before[leg]): number for number, leg in enumerate(legs.tolist()) if self.before[leg] != NOBODY
        }
        rows = np.flatnonzero(asked)
        of, part = [], []
        sent, answered = np.maximum(mine @ full, 1e-30), np.maximum(theirs @ full, 1e-30)
        for row in rows.tolist():
            follower = after.get(int(legs[row]))
            if follower is not None and asked[follower]:
                of.append(answers[follower])
                part.append(full[follower] / answered[answers[follower]])
            else:
                of.append(who[row])
                part.append(full[row] / sent[who[row]])
        return Answers(answers[rows], np.array(of), np.array(part))
