"""Differences of a site that uses every section, with edits and new ids thrown at random in all of them."""

from __future__ import annotations

from collections import Counter
from pathlib import Path
from typing import Any

import pytest

from advisor.compare.changes import Renaming, apply_all, apply_one, changes_of, together
from advisor.compare.meaning import same_meaning
from advisor.compare.records import Difference, Structure
from advisor.compare.structure import origin, structural
from advisor.errors import InputError
from advisor.site.change import Change
from advisor.site.edit import edited
from advisor.site.load import LoadedSite, load_site, load_text
from tests.compare.random_edits import IDS, called_otherwise, loaded_from, thrown

FULL = load_site(str(Path(__file__).parent / "full_site.yaml"))
SEEDS = range(30)
OTHER_WAY = {"added": "removed", "removed": "added", "changed": "changed", "renamed": "renamed"}


def turned(structure: Structure) -> list[Any]:
    """The differences as they look from the other side."""

    def back(path: Any) -> Any:
        return origin(path, structure.moved)

    return [
        (
            *(back(it.path), OTHER_WAY[it.kind], it.after, it.before, it.where_after, it.where_before, it.pattern),
            tuple(back(part) for part in it.parts),
        )
        for it in structure.differences
    ]


def plainly(it: Difference) -> Any:
    return (it.path, it.kind, it.before, it.after, it.where_before, it.where_after, it.pattern, it.parts)


def pairs() -> list[tuple[LoadedSite, LoadedSite]]:
    return [(thrown(FULL, seed), thrown(FULL, seed + 1000)) for seed in SEEDS]


PAIRS = pairs()
each_pair = pytest.mark.parametrize(("first", "second"), PAIRS, ids=map(str, SEEDS))


def test_the_sites_differ_everywhere_and_in_every_way() -> None:
    """What is thrown reaches every section but those that hold hardly anything, and every kind of difference."""
    found = [it for one, other in PAIRS for it in structural(one, other).differences]
    assert {it.kind for it in found} == set(OTHER_WAY)
    assert {it.pattern.split(".")[0] for it in found} >= set(FULL.document.value)
    assert Counter(it.kind for it in found)["renamed"] > 40


@each_pair
def test_turned_round_it_is_the_mirror(first: LoadedSite, second: LoadedSite) -> None:
    there, back = structural(first, second), structural(second, first)
    assert sorted(turned(there), key=str) == sorted(map(plainly, back.differences), key=str)
    how = {"written out": "left out", "left out": "written out", "another order": "another order"}
    assert sorted((str(origin(it.path, there.moved)), how[it.how]) for it in there.restated) == sorted(
        (str(it.path), it.how) for it in back.restated
    )


@each_pair
def test_all_changes_give_the_other_site(first: LoadedSite, second: LoadedSite) -> None:
    structure = structural(first, second)
    changes = changes_of(structure)
    assert same_meaning(apply_all(first, changes).site, second.site)
    assert same_meaning(edited(first, [edit for change in changes for edit in change.edits]).site, second.site)
    assert structural(apply_all(first, changes), second).differences == ()
    assert len(changes) == len(structure.differences)


def valid_alone(loaded: LoadedSite, change: Change) -> bool:
    try:
        apply_one(loaded, change)
    except InputError:
        return False
    return True


@each_pair
def test_every_group_can_be_made_alone_and_larger_ones_only_where_they_must_be(
    first: LoadedSite, second: LoadedSite
) -> None:
    changes = changes_of(structural(first, second))
    groups = together(first, changes)
    assert sorted((change for group in groups for change in group), key=str) == sorted(changes, key=str)
    for group in groups:
        made = apply_all(first, group)
        if len(group) == 1:
            assert same_meaning(apply_one(first, group[0]).site, made.site)
        else:
            assert not all(valid_alone(first, change) for change in group)


@each_pair
def test_nothing_differs_from_the_same_content(first: LoadedSite, second: LoadedSite) -> None:
    """Written anew without comments, sections the other way round."""
    again = loaded_from(dict(reversed(first.document.value.items())))
    found = structural(first, again)
    assert (found.differences, found.renames, found.restated) == ((), (), ())
    assert structural(second, second).same


@pytest.mark.parametrize("old", IDS)
def test_an_id_called_otherwise_everywhere_is_one_difference(old: str) -> None:
    renamed = called_otherwise(FULL, old, "quite-new")
    structure = structural(FULL, renamed)
    (found,) = structure.differences
    assert (found.kind, found.before, found.after) == ("renamed", old, "quite-new")
    assert found.told.endswith(" is probably called quite-new now")
    (change,) = changes_of(structure)
    assert isinstance(change, Renaming)
    made = apply_one(FULL, change)
    assert made.site == renamed.site
    assert made.document.text.count("\n") == FULL.document.text.count("\n")
    assert made.document.text.count("# by the line") == 1


def test_an_id_and_what_it_holds_can_change_together_and_be_made_apart() -> None:
    text = FULL.document.text.replace(
        "{band: 5, channel: 36, width_mhz: 80}\n    uplink", "{band: 5, channel: 100}\n    uplink"
    )
    other = called_otherwise(load_text(text, "other.yaml"), "ledge", "landing")
    structure = structural(FULL, other)
    assert [it.told for it in structure.differences] == [
        "node ledge is probably called landing now",
        "landing.mid5: channel 36 → 100",
        "landing.mid5: channel width 80 MHz → not told",
    ]
    changes = changes_of(structure)
    assert [len(group) for group in together(FULL, changes)] == [1, 1, 1]
    alone = apply_one(FULL, changes[0])
    assert alone.site.nodes["ledge"].radios["mid5"].channel == 100


def test_what_refers_to_something_new_stands_in_one_group_with_it() -> None:
    value = dict(FULL.document.value)
    value["nodes"] = value["nodes"] | {
        "shed": {"role": "relay", "gear": "home-relay", "uplink": {"to": "porch", "band": 5}}
    }
    value["places"] = value["places"] | {
        "yard": {"client": "phone", "to": "shed", "paths": {"shed": {"distance_m": 5}}}
    }
    value["internet"] = value["internet"] | {"down_mbps": 200}
    changes = changes_of(structural(FULL, loaded_from(value)))
    assert [change.operator for change in changes] == ["faster-line", "add-node", "tell"]
    told = [[change.operator for change in group] for group in together(FULL, changes)]
    assert told == [["faster-line"], ["add-node", "tell"]]
