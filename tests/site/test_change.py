"""The edits of several changes together: what the file is to become after all of them."""

import itertools
import pickle
from dataclasses import FrozenInstanceError

import pytest
from hypothesis import given
from hypothesis import strategies as st

from advisor.site.change import Change, edits_of
from advisor.site.edit import REMOVE, Edit, applied


def change(*edits: Edit) -> Change:
    return Change("retune", "radio=gateway.r5", "Set it to another channel.", edits)


CHANNEL = ("nodes", "gateway", "channel")
WIDTH = ("nodes", "gateway", "width_mhz")


def test_no_change_has_no_edits() -> None:
    assert edits_of([]) == ()
    assert edits_of([change()]) == ()


def test_edits_at_different_places_are_all_kept_in_order() -> None:
    first, second, third = Edit(CHANNEL, 36), Edit(WIDTH, 80), Edit(("site",), {"name": "Fernhill"})
    assert edits_of([change(first, second), change(third)]) == (first, second, third)
    assert edits_of(change(edit) for edit in (third, first)) == (third, first)


def test_the_last_one_at_a_path_wins_and_stands_last() -> None:
    edits = edits_of([change(Edit(CHANNEL, 36), Edit(WIDTH, 80)), change(Edit(CHANNEL, 44))])
    assert edits == (Edit(WIDTH, 80), Edit(CHANNEL, 44))
    assert edits_of([change(Edit(CHANNEL, 36), Edit(CHANNEL, 40))]) == (Edit(CHANNEL, 40),)


def test_what_is_removed_takes_the_edits_before_it_inside_along() -> None:
    before = change(Edit(CHANNEL, 36), Edit(("nodes", "stair", "channel"), 1), Edit(("nodes", "gateway"), {"band": 5}))
    gone = Edit(("nodes", "gateway"), REMOVE)
    assert edits_of([before, change(gone)]) == (Edit(("nodes", "stair", "channel"), 1), gone)
    gone = Edit(("nodes",), REMOVE)
    assert edits_of([before, change(gone)]) == (gone,)


def test_a_path_that_only_begins_alike_stays() -> None:
    other = Edit(("nodes", "gateway-two", "channel"), 36)
    above = Edit(("nodes",), {})
    gone = Edit(("nodes", "gateway"), REMOVE)
    assert edits_of([change(above, other), change(gone)]) == (above, other, gone)


def test_what_comes_after_a_removal_is_kept() -> None:
    gone, inside = Edit(("nodes", "gateway"), REMOVE), Edit(CHANNEL, 36)
    assert edits_of([change(gone), change(inside)]) == (gone, inside)
    assert edits_of([change(Edit(CHANNEL, REMOVE)), change(inside)]) == (inside,)
    assert edits_of([change(inside), change(Edit(CHANNEL, REMOVE))]) == (Edit(CHANNEL, REMOVE),)


PATHS = [steps for length in (1, 2, 3) for steps in itertools.product("ab", repeat=length)]
SINGLE = st.builds(Edit, st.sampled_from([steps for steps in PATHS if len(steps) == 3]), st.integers(0, 3))
GONE = st.builds(Edit, st.sampled_from(PATHS), st.just(REMOVE))


def bare(value: object) -> object:
    """Without mappings that hold nothing: a key set and removed again may leave one behind."""
    if not isinstance(value, dict):
        return value
    kept = {key: bare(part) for key, part in value.items()}
    return {key: part for key, part in kept.items() if part != {}}


@given(st.lists(st.lists(SINGLE | GONE, max_size=3), max_size=4))
def test_they_do_to_a_site_what_the_changes_do_one_after_the_other(groups: list[list[Edit]]) -> None:
    site = {one: {two: {"a": 7, "b": 8} for two in "ab"} for one in "ab"}
    after = site
    for group in groups:
        after = applied(after, group)
    edits = edits_of(change(*group) for group in groups)
    assert bare(applied(site, edits)) == bare(after)
    assert len({edit.path for edit in edits}) == len(edits)


def test_a_change_costs_nothing_known_and_is_not_refused_until_told() -> None:
    plain = change(Edit(CHANNEL, 36))
    assert (plain.effort_min, plain.cost, plain.refused) == (0.0, None, "")
    assert plain == change(Edit(CHANNEL, 36))
    with pytest.raises(FrozenInstanceError):
        plain.cost = 1.0  # type: ignore[misc]


def test_what_is_to_go_is_shown_by_name() -> None:
    assert repr(Edit(("site",), REMOVE)) == "Edit(path=('site',), value=REMOVE)"


def test_what_is_to_go_is_the_same_thing_in_another_process() -> None:
    change = Change("o", "s", "told", (Edit(("nodes", "a", "uplink"), REMOVE),))
    again = pickle.loads(pickle.dumps(change))
    assert again == change and again.edits[0].value is REMOVE
