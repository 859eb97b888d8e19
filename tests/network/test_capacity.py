"""Sharing among everyone: cases worked by hand, and what must hold for every problem."""

from __future__ import annotations

from typing import Any

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from advisor.network.capacity import Shared, Sharing, domain_share, load_of


def problem(
    uses: dict[tuple[int, int], Any],
    free: list[Any],
    demand: list[Any],
    dead: list[Any] | None = None,
    lends: frozenset[tuple[int, int]] = frozenset(),
) -> Sharing:
    """`uses` maps (resource, flow) to the time one Mb/s takes; numbers or rows of cases. Uses in `lends` take from a
    resource without waiting for it."""
    entries = sorted(uses)
    rows = [*uses.values(), *free, *demand]
    size = max(np.size(row) for row in rows)

    def table(values: list[Any], dtype: Any = float) -> Any:
        rows = [np.broadcast_to(np.asarray(value, dtype=dtype), (size,)) for value in values]
        return np.array(rows).reshape(-1, size)

    return Sharing(
        flow=np.array([flow for _, flow in entries], dtype=np.int64),
        resource=np.array([resource for resource, _ in entries], dtype=np.int64),
        time_per_mbps=table([uses[entry] for entry in entries]),
        own=table([entry not in lends for entry in entries], bool),
        free=table(free),
        demand_mbps=table(demand),
        pace=table([1.0] * len(demand)),
        dead=table(dead or [False] * len(demand), bool),
    )


def rates(answer: Shared) -> list[float]:
    return [float(rate) for rate in answer.rates_mbps[:, 0]]


def test_two_flows_on_one_resource_share_it_equally() -> None:
    answer = domain_share(problem({(0, 0): 0.01, (0, 1): 0.01}, [1.0], [200.0, 200.0]))
    assert rates(answer) == pytest.approx([50.0, 50.0])
    assert list(answer.stopped_by) == [0, 0]
    assert answer.left[0, 0] == pytest.approx(0.0, abs=1e-9)


def test_equal_mbps_where_one_needs_more_time() -> None:
    """0.01 and 0.03 of the time a Mb/s: r (0.01 + 0.03) = 1, the slow one pulls the fast one down."""
    answer = domain_share(problem({(0, 0): 0.01, (0, 1): 0.03}, [1.0], [200.0, 200.0]))
    assert rates(answer) == pytest.approx([25.0, 25.0])


def test_demand_first_then_what_is_left() -> None:
    """10 and 60 of 100 asked: all have it, and the 30 left go one to six, as they were asked for."""
    answer = domain_share(problem({(0, 0): 0.01, (0, 1): 0.01}, [1.0], [10.0, 60.0]))
    assert rates(answer) == pytest.approx([10.0 + 30.0 / 7.0, 60.0 + 180.0 / 7.0])


def test_a_small_demand_is_met_before_the_large_one_gets_more() -> None:
    answer = domain_share(problem({(0, 0): 0.01, (0, 1): 0.01}, [1.0], [10.0, 200.0]))
    assert rates(answer) == pytest.approx([10.0, 90.0])


def test_a_flow_elsewhere_takes_what_is_left_there() -> None:
    """Flow 0 and 1 fill resource 0; flow 2 alone on resource 1 goes on until that is full, not only to its demand."""
    answer = domain_share(problem({(0, 0): 0.2, (0, 1): 0.2, (1, 2): 0.1}, [1.0, 1.0], [1.0, 10.0, 1.0]))
    assert rates(answer) == pytest.approx([1.0, 4.0, 10.0])
    assert list(answer.stopped_by) == [0, 0, 1]


def test_stopped_on_one_resource_frees_the_other() -> None:
    """Flow 1 is held to 10 by resource 1 (a thin wire), so flow 0 takes the other 90 of resource 0."""
    uses = {(0, 0): 0.01, (0, 1): 0.01, (1, 1): 0.1}
    answer = domain_share(problem(uses, [1.0, 1.0], [200.0, 200.0]))
    assert rates(answer) == pytest.approx([90.0, 10.0])
    assert list(answer.stopped_by) == [0, 1]


def test_a_dead_flow_gets_nothing_and_takes_nothing() -> None:
    share = problem({(0, 0): 0.01, (0, 1): 5.0}, [1.0], [200.0, 200.0], dead=[False, True])
    answer = domain_share(share)
    assert rates(answer) == pytest.approx([100.0, 0.0])
    assert load_of(share, np.full((2, 1), 50.0))[0, 0] == pytest.approx(0.5)


def test_a_flow_that_uses_nothing_gets_nothing() -> None:
    answer = domain_share(problem({(0, 0): 0.01}, [1.0], [5.0, 5.0]))
    assert rates(answer)[1] == 0.0


def test_each_case_has_its_own_answer() -> None:
    uses = {(0, 0): [0.01, 0.02], (0, 1): [0.01, 0.02]}
    share = problem(uses, [[1.0, 0.5]], [500.0, 500.0], dead=[[False, True], False])
    assert domain_share(share).rates_mbps == pytest.approx(np.array([[50.0, 0.0], [50.0, 25.0]]))


times = st.sampled_from([0.001, 0.005, 0.01, 0.03, 0.1, 0.5])
shares = st.sampled_from([0.05, 0.3, 0.5, 0.9, 1.0])
demands = st.sampled_from([0.1, 0.5, 1.0, 3.0, 5.0, 20.0, 100.0])


@st.composite
def problems(draw: st.DrawFn, cases: int = 3) -> Sharing:
    flows, resources = draw(st.integers(1, 6)), draw(st.integers(1, 5))
    row = st.lists(times, min_size=cases, max_size=cases)
    uses = {}
    for flow in range(flows):
        for resource in draw(st.sets(st.integers(0, resources - 1), min_size=1)):
            uses[resource, flow] = draw(row)
    free = [draw(st.lists(shares, min_size=cases, max_size=cases)) for _ in range(resources)]
    demand = [draw(demands) for _ in range(flows)]
    dead = [
        draw(st.lists(st.sampled_from([False, False, False, True]), min_size=cases, max_size=cases))
        for _ in range(flows)
    ]
    return problem(uses, free, demand, dead=dead)


@given(problems())
@settings(max_examples=150, deadline=None)
def test_no_resource_over_its_share(share: Sharing) -> None:
    answer = domain_share(share)
    assert np.all(answer.rates_mbps >= 0.0)
    assert np.all(load_of(share, answer.rates_mbps) <= share.free * (1 + 1e-6) + 1e-9)
    assert np.allclose(share.free - load_of(share, answer.rates_mbps), answer.left, atol=1e-6)


def bottlenecked(share: Sharing, rate: Any, flow: int, case: int) -> bool:
    """Some resource the flow uses is full, and nobody on it has more than this flow."""
    load = load_of(share, rate)
    for use in np.flatnonzero(share.flow == flow):
        resource = share.resource[use]
        if load[resource, case] < share.free[resource, case] - 1e-6:
            continue
        others = [share.flow[other] for other in np.flatnonzero(share.resource == resource)]
        if all(rate[other, case] <= rate[flow, case] * (1 + 1e-6) for other in others if not share.dead[other, case]):
            return True
    return False


@given(problems())
@settings(max_examples=150, deadline=None)
def test_nobody_can_have_more_without_another_losing(share: Sharing) -> None:
    """Every live flow meets a full resource."""
    answer = domain_share(share)
    load = load_of(share, answer.rates_mbps)
    full = load >= share.free * (1 - 1e-6) - 1e-9
    for flow in range(len(answer.rates_mbps)):
        on = full[share.resource[share.flow == flow]]
        assert np.all(on.any(axis=0) | share.dead[flow])


@given(problems())
@settings(max_examples=150, deadline=None)
def test_max_min_up_to_the_demands(share: Sharing) -> None:
    """The bottleneck test of max-min fairness (Bertsekas and Gallager, Data Networks, section 6.5): a flow short of
    its demand meets a full resource on which nobody has more, all counted up to their demands."""
    answer = domain_share(share)
    upto = np.minimum(answer.rates_mbps, share.demand_mbps)
    for flow in range(len(upto)):
        for case in range(upto.shape[1]):
            short = upto[flow, case] < share.demand_mbps[flow, case] * (1 - 1e-6)
            if short and not share.dead[flow, case]:
                assert bottlenecked(share, upto, flow, case)


@given(problems(), st.data())
@settings(max_examples=150, deadline=None)
def test_more_to_give_never_lowers_the_smallest_rate(share: Sharing, data: st.DataObject) -> None:
    """Counted up to the demands: what goes beyond them is leftover, and may move from one to another."""
    resource = data.draw(st.integers(0, len(share.free) - 1))
    free = share.free.copy()
    free[resource] += data.draw(st.sampled_from([0.01, 0.2, 1.0]))
    more = Sharing(**{**vars(share), "free": free})

    def smallest(answer: Shared) -> Any:
        met = np.minimum(answer.rates_mbps, share.demand_mbps)
        return np.sort(np.where(share.dead, np.inf, met), axis=0)[0]

    before, after = smallest(domain_share(share)), smallest(domain_share(more))
    assert np.all((after >= before * (1 - 1e-6)) | np.isinf(before))


@given(problems(cases=4))
@settings(max_examples=100, deadline=None)
def test_a_case_alone_gives_what_it_gives_among_others(share: Sharing) -> None:
    together = domain_share(share).rates_mbps
    for case in range(4):
        one = {name: value[:, case : case + 1] if np.ndim(value) == 2 else value for name, value in vars(share).items()}
        assert domain_share(Sharing(**one)).rates_mbps[:, 0] == pytest.approx(together[:, case], rel=1e-9, abs=1e-12)


def test_a_sender_waits_only_for_what_its_own_cell_hears() -> None:
    """Flow 0 takes air from the busy cell 1 as well, but cell 1's neighbours do not hold it up; flow 1 they do."""
    uses = {(0, 0): 0.01, (1, 0): 0.01, (1, 1): 0.01}
    shared = domain_share(problem(uses, [1.0, 0.2], [80.0, 80.0], lends=frozenset({(1, 0)})))
    assert shared.rates_mbps[:, 0] == pytest.approx([100.0, 10.0])
    assert shared.stopped_by.tolist() == [0, 1]
