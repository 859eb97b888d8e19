"""Chains of hops, where two meet, and what lies below a node."""

from __future__ import annotations

from advisor.network.graph import Hop, below, between, chain

#        gw
#       /  \
#      a    d
#     / \
#    b   c
HOPS = {node: Hop(node, parent, "radio") for node, parent in {"a": "gw", "b": "a", "c": "a", "d": "gw"}.items()}


def nodes(hops: list[Hop]) -> list[str]:
    return [hop.node for hop in hops]


def test_chain_climbs_to_the_node_without_an_uplink() -> None:
    assert nodes(chain("b", HOPS)) == ["b", "a"]
    assert chain("gw", HOPS) == []
    assert chain("stranger", HOPS) == []


def test_a_loop_ends_where_it_would_close() -> None:
    loop = {node: Hop(node, parent, "radio") for node, parent in {"x": "y", "y": "z", "z": "x"}.items()}
    assert nodes(chain("x", loop)) == ["x", "y", "z"]
    assert nodes(chain("y", {"y": Hop("y", "y", "radio")})) == ["y"]
    assert below("x", loop) == {"x", "y", "z"}


def test_between_meets_at_the_nearest_common_node() -> None:
    up, down = between("b", "c", HOPS) or ([], [])
    assert (nodes(up), nodes(down)) == (["b"], ["c"])
    up, down = between("b", "d", HOPS) or ([], [])
    assert (nodes(up), nodes(down)) == (["b", "a"], ["d"])


def test_between_along_one_chain() -> None:
    up, down = between("b", "gw", HOPS) or ([], [])
    assert (nodes(up), nodes(down)) == (["b", "a"], [])
    up, down = between("gw", "b", HOPS) or ([], [])
    assert (nodes(up), nodes(down)) == ([], ["b", "a"])
    assert between("a", "a", HOPS) == ([], [])


def test_between_strangers_there_is_no_way() -> None:
    assert between("b", "stranger", HOPS) is None


def test_below_is_everything_behind_the_uplink() -> None:
    assert below("a", HOPS) == {"a", "b", "c"}
    assert below("b", HOPS) == {"b"}
    assert below("gw", HOPS) == {"gw", "a", "b", "c", "d"}
    assert below("alone", {}) == {"alone"}


def test_an_option_is_named_after_where_and_how() -> None:
    assert Hop("b", "a", "radio", "b.r5", "a.r5", "5").option == "to a on 5 GHz"
    assert Hop("b", "a", "ethernet").option == "to a by ethernet"
