"""Hints on positions that look odd, and silence where nothing does."""

from __future__ import annotations

from pathlib import Path

import pytest

from advisor.network.plan_checks import odd
from advisor.site.load import load_site, load_text

PROFILES = Path(__file__).parent.parent.parent / "profiles"
WALLED = (
    "floors: {ground: {level: 0, plan: complete, walls: {outer: {line: [[0, 0], [10, 0], [10, 8], [0, 8], [0, 0]], "
    "of: brick}}}}\n"
)


def hints(nodes: str, places: str = "{}", floors: str = WALLED) -> tuple[str, ...]:
    text = f"site: {{name: A site}}\n{floors}nodes: {nodes}\nplaces: {places}\nnetworks: {{main: {{name: main}}}}\n"
    return odd(load_text(text, "site.yaml").site)


def node(at: str, more: str = "") -> str:
    return f"{{gateway: {{role: gateway, at: {at}, floor: ground{more}}}}}"


def test_inside_nothing_is_odd() -> None:
    assert hints(node("[3, 4]")) == ()


def test_a_swapped_coordinate_lies_outside() -> None:
    assert hints(node("[4, 9]")) == ("gateway at [4, 9] lies outside the walls of ground, whose plan is complete",)


def test_on_the_wall_or_outdoors_is_not_odd() -> None:
    assert hints(node("[10.1, 4]")) == ()
    assert hints(node("[14, 4]", ", outdoor: true")) == ()


@pytest.mark.parametrize("plan", ["partial", "none"])
def test_an_incomplete_plan_has_no_outside(plan: str) -> None:
    assert hints(node("[4, 9]"), floors=WALLED.replace("complete", plan)) == ()


def test_walls_that_close_nothing_have_no_outside() -> None:
    assert hints(node("[4, 30]"), floors=WALLED.replace(", [0, 8], [0, 0]", "")) == ()


def test_walls_that_nearly_meet_are_closed() -> None:
    assert len(hints(node("[4, 9]"), floors=WALLED.replace("[0, 8], [0, 0]]", "[0, 8], [0, 0.2]]"))) == 1


def test_two_nodes_in_one_spot() -> None:
    two = (
        "{gateway: {role: gateway, at: [3, 4], floor: ground}, "
        "spare: {role: access-point, at: [3.0, %s], floor: ground}}"
    )
    assert hints(two % "4.1") == ("gateway and spare are in the same spot, at [3, 4.1] on ground",)
    assert hints(two % "4.2") == ()


def test_a_node_above_a_place_is_not_in_the_same_spot() -> None:
    assert hints(node("[3, 4]"), "{desk: {client: laptop, at: [3, 4], floor: ground}}") == ()


def test_places_of_two_kinds_may_share_a_spot() -> None:
    places = "{a: {client: laptop, at: [3, 4], floor: ground}, b: {client: %s, at: [3, 4], floor: ground}}"
    assert hints(node("[8, 1]"), places % "phone") == ()
    assert hints(node("[8, 1]"), places % "laptop") == ("a and b are in the same spot, at [3, 4] on ground",)


def test_far_from_everything() -> None:
    places = "{desk: {client: laptop, at: [%s, 4], floor: ground}}"
    open_floor = "floors: {ground: {level: 0}}\n"
    assert hints(node("[3, 4]"), places % 63, floors=open_floor) == ()
    found = hints(node("[3, 4]"), places % 63.5, floors=open_floor)
    assert found == (
        "gateway at [3, 4] on ground is 60 m from everything else",
        "desk at [63.5, 4] on ground is 60 m from everything else",
    )


def test_a_lonely_node_is_far_from_nothing() -> None:
    assert hints(node("[900, 4]"), floors="floors: {ground: {level: 0}}\n") == ()


def test_a_wall_without_length() -> None:
    dot = "floors: {ground: {level: 0, walls: {dot: {line: [[1, 1], [1, 1]], of: brick}}}}\n"
    assert hints(node("[3, 4]"), floors=dot) == ("wall dot on ground has no length: all its points are the same",)


@pytest.mark.parametrize("profile", ["kestrel-yard", "two-nodes", "wired-annex"])
def test_the_profiles_are_not_odd(profile: str) -> None:
    assert odd(load_site(PROFILES / f"{profile}.yaml").site) == ()
