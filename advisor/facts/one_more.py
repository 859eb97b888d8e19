"""What one more client would get beside everybody else, taking nothing from anybody."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import Any

import numpy as np

from advisor.network.air import NOBODY, Air
from advisor.network.capacity import Sharing, domain_share
from advisor.values import Cases

WEIGHTLESS = 1e-9
"""Share of time one Mb/s of the client takes: it waits like everybody and takes nothing."""


@dataclass(frozen=True, slots=True)
class OneMore:
    """One more flow: what it waits for, by number, who sends it over the air, and what it asks for."""

    resources: tuple[int, ...]
    senders: tuple[str, ...]
    asks_mbps: float


def rates_of_one_more(problem: Sharing, flows: Sequence[OneMore]) -> Cases:
    """What flows that weigh nothing get beside those of the site (flows × cases)."""
    cases, before = problem.free.shape[1], len(problem.demand_mbps)
    uses = [
        (resource, before + number) for number, flow in enumerate(flows) for resource in sorted(set(flow.resources))
    ]
    flow_of = np.concatenate((problem.flow, [flow for _, flow in uses])).astype(np.int64)
    resource_of = np.concatenate((problem.resource, [resource for resource, _ in uses])).astype(np.int64)
    order = np.lexsort((flow_of, resource_of))
    extra = np.full((len(uses), cases), WEIGHTLESS)
    more = np.array([np.full(cases, flow.asks_mbps) for flow in flows]).reshape(len(flows), cases)
    wider = replace(
        problem,
        flow=flow_of[order],
        resource=resource_of[order],
        time_per_mbps=np.concatenate((problem.time_per_mbps, extra))[order],
        own=np.concatenate((problem.own, extra > 0))[order],
        demand_mbps=np.concatenate((problem.demand_mbps, more)),
        pace=np.concatenate((problem.pace, np.ones_like(more))),
        dead=np.concatenate((problem.dead, np.zeros(more.shape, dtype=bool))),
        air=_with_light_legs(problem.air, flows, before, order) if problem.air is not None else None,
    )
    found: Cases = domain_share(wider).rates_mbps[before:]
    return found


def _with_light_legs(air: Air, flows: Sequence[OneMore], before: int, order: Cases) -> Air:
    """The same air with a leg for each sender of each flow. A sender there is sends it among its own frames; a new one
    has frames like those of the others."""
    legs = [(before + number, name) for number, flow in enumerate(flows) for name in flow.senders]
    number = {name: index for index, name in enumerate(air.names)}
    new = sorted({name for _, name in legs} - set(number))
    number |= {name: len(air.names) + index for index, name in enumerate(new)}
    first = {int(sender): leg for leg, sender in reversed(list(enumerate(air.sender.tolist())))}
    usual = np.median(air.frame_mbit[air.own_flows[air.flow]], axis=0)
    senders = [number[name] for _, name in legs]
    frame = [air.frame_mbit[first[sender]] if sender in first else usual for sender in senders]
    count, cases = len(legs), air.times.shape[1]

    def longer(rows: Cases, more: Any) -> Cases:
        return np.concatenate((rows, np.asarray(more, dtype=rows.dtype).reshape(-1, *rows.shape[1:])))

    ones = np.ones((count, cases))
    return replace(
        air,
        flow=longer(air.flow, [flow for flow, _ in legs]),
        sender=longer(air.sender, senders),
        answerer=longer(air.answerer, [NOBODY] * count),
        before=longer(air.before, [NOBODY] * count),
        times=longer(air.times, ones),
        frame_mbit=longer(air.frame_mbit, np.array(frame).reshape(count, cases)),
        payload_us=longer(air.payload_us, ones),
        packet_mbit=longer(air.packet_mbit, ones),
        overhead_us=longer(air.overhead_us, np.zeros(count)),
        members=longer(air.members, np.ones(len(new))),
        deafening=longer(air.deafening, np.zeros((len(order) - len(air.deafening), cases)))[order],
        own_flows=longer(air.own_flows, np.ones(len(flows), dtype=bool)),
        names=(*air.names, *new),
        luck=longer(air.luck, np.ones((len(new), cases))),
        light=longer(air.light, np.ones(count, dtype=bool)),
    )
