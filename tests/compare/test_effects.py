"""Effects of a difference: nothing with itself, mirrored when turned round, and told apart by change."""

from __future__ import annotations

from pathlib import Path

import pytest

from advisor.compare.because import compare
from advisor.compare.effects import AXES, Moved, Weighed, effects
from advisor.site.edit import Edit, edited
from advisor.site.load import LoadedSite, load_site

ROOT = Path(__file__).parents[2]
PROFILES = ("two-nodes", "wired-annex", "hillside-house")


def profile(name: str) -> LoadedSite:
    return load_site(str(ROOT / "profiles" / f"{name}.yaml"))


CHANGES: dict[str, tuple[str, list[Edit]]] = {
    "a weak uplink": ("two-nodes", [Edit(("nodes", "landing", "uplink", "band"), 2.4)]),
    "a slow line": ("wired-annex", [Edit(("internet", "down_mbps"), 10), Edit(("internet", "up_mbps"), 4)]),
    "more people": ("hillside-house", [Edit(("places", "study-desk", "count"), 6)]),
}


@pytest.mark.parametrize("name", PROFILES)
def test_a_site_against_itself_moves_nothing(name: str) -> None:
    found = compare(profile(name), profile(name))
    assert found.empty
    assert found.effects.moved == ()
    site = Weighed(profile(name))
    again = effects(site, Weighed(profile(name)))
    assert again.moved == ()
    assert {again.verdict(axis) for axis in AXES} == {"same"}


def mirrored(entry: Moved) -> tuple[str, ...]:
    turned = {"better": "worse", "worse": "better", "other": "other"}[entry.verdict]
    before = "" if entry.after == "gone" else entry.after
    after = entry.before or "gone"
    return entry.axis, entry.about, before, after, turned


@pytest.mark.parametrize("case", CHANGES)
def test_turned_round_it_is_mirrored(case: str) -> None:
    name, edits = CHANGES[case]
    first = profile(name)
    second = edited(first, edits)
    there, back = compare(first, second, apart=False).effects, compare(second, first, apart=False).effects
    assert there.moved
    told = {(entry.axis, entry.about, entry.before, entry.after, entry.verdict) for entry in back.moved}
    assert {mirrored(entry) for entry in there.moved if entry.axis != "outages"} == {
        entry for entry in told if entry[0] != "outages"
    }
    for one, other in zip(there.of("places"), back.of("places"), strict=True):
        if one.cases is not None and other.cases is not None:
            assert one.cases.wins == pytest.approx(other.cases.losses, abs=3)  # shares of the larger or smaller figure


def test_a_slower_line_is_worse_and_says_so() -> None:
    name, edits = CHANGES["a slow line"]
    found = compare(profile(name), edited(profile(name), edits))
    assert found.effects.worse
    assert found.effects.verdict("places") == "worse"
    assert all(entry.verdict != "better" for entry in found.effects.of("places"))


def test_each_change_has_its_own_effect() -> None:
    """The line slows everybody down; a new name of the site moves nothing."""
    first = profile("wired-annex")
    second = edited(first, [Edit(("internet", "down_mbps"), 10), Edit(("site", "name"), "Another annex")])
    found = compare(first, second)
    by_told = {" ".join(change.told for change in entry.changes): entry for entry in found.because}
    assert len(by_told) == 2
    line = next(entry for told, entry in by_told.items() if "10" in told)
    name = next(entry for told, entry in by_told.items() if "Another annex" in told)
    assert line.alone.verdict("places") == "worse"
    assert name.alone.moved == ()
    assert [entry.then.verdict("places") for entry in found.because].count("worse") == 1


def test_a_renamed_place_is_the_same_place() -> None:
    text = profile("two-nodes").document.text.replace("  study:", "  library:")
    from advisor.site.load import load_text

    found = compare(profile("two-nodes"), load_text(text, "two-nodes.yaml"))
    assert [entry.kind for entry in found.structure.differences] == ["renamed"]
    assert [(entry.old, entry.new) for entry in found.structure.renames] == [("study", "library")]
    assert found.effects.moved == ()
