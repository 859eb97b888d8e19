"""What differs in meaning: nothing with itself, mirrored when turned round, and carried out it gives the other file."""

from __future__ import annotations

import random
from contextlib import suppress
from pathlib import Path

import pytest

from advisor.compare.changes import apply_all, apply_one, changes_of, together
from advisor.compare.meaning import same_meaning
from advisor.compare.structure import structural
from advisor.errors import InputError
from advisor.site.edit import REMOVE, CannotEdit, Edit, edited
from advisor.site.load import LoadedSite, load_site, load_text

ROOT = Path(__file__).parents[2]
PROFILES = sorted((ROOT / "profiles").glob("*.yaml"))
SEEDS = range(3)


def profile(name: str) -> LoadedSite:
    return load_site(str(ROOT / "profiles" / f"{name}.yaml"))


def mutated(loaded: LoadedSite, seed: int) -> LoadedSite:
    """The site with one to four valid changes somewhere: numbers, words, entries that go, ids called otherwise."""
    chance = random.Random(seed)
    here = loaded
    wanted = chance.randint(1, 4)
    for _ in range(60):
        if not wanted:
            break
        try:
            here = edited(here, [_one(here, chance)])
            wanted -= 1
        except (CannotEdit, InputError, KeyError):
            continue
    text = here.document.text
    places = sorted(here.site.places)
    if places and chance.random() < 0.4:
        old = chance.choice(places)
        changed = text.replace(f"  {old}: {{client", f"  {old}-new: {{client")
        with suppress(InputError):
            here = load_text(changed, here.file)
    return here


def _one(loaded: LoadedSite, chance: random.Random) -> Edit:
    paths = [path for path in loaded.document.spots if len(path) >= 2]
    path = chance.choice(sorted(paths, key=str))
    value = loaded.document.value
    for step in path:
        value = value[step]
    if isinstance(value, bool):
        return Edit(path, not value)
    if isinstance(value, (int, float)):
        return Edit(path, value + chance.choice([1, 2, 4]))
    if isinstance(value, str):
        words = ["gateway", "fair", "open-node", "wpa2-personal", "brick", "voice", "laptop", "a note"]
        return Edit(path, chance.choice(words))
    return Edit(path, REMOVE)


@pytest.mark.parametrize("file", PROFILES, ids=lambda file: file.stem)
def test_with_itself_nothing_differs(file: Path) -> None:
    found = structural(load_site(str(file)), load_site(str(file)))
    assert found.same
    assert (found.differences, found.renames, found.restated) == ((), (), ())
    assert changes_of(found) == ()


@pytest.mark.parametrize("seed", SEEDS)
@pytest.mark.parametrize("file", PROFILES, ids=lambda file: file.stem)
def test_carried_out_it_gives_the_other_file(file: Path, seed: int) -> None:
    first = load_site(str(file))
    second = mutated(first, seed)
    for one, other in ((first, second), (second, first)):
        found = structural(one, other)
        changes = changes_of(found)
        assert same_meaning(apply_all(one, changes).site, other.site)
        for group in together(one, changes):
            apply_all(one, group)  # raises where it would not be a valid site


@pytest.mark.parametrize("seed", SEEDS)
@pytest.mark.parametrize("file", PROFILES, ids=lambda file: file.stem)
def test_turned_round_it_is_mirrored(file: Path, seed: int) -> None:
    first = load_site(str(file))
    second = mutated(first, seed)
    there, back = structural(first, second), structural(second, first)
    turned = {"added": "removed", "removed": "added", "changed": "changed", "renamed": "renamed"}
    assert sorted((turned[entry.kind], str(entry.after), str(entry.before)) for entry in there.differences) == sorted(
        (entry.kind, str(entry.before), str(entry.after)) for entry in back.differences
    )
    assert {(entry.old, entry.new) for entry in there.renames} == {(entry.new, entry.old) for entry in back.renames}


WORDS = [
    ("stair", ["nodes.stair.uplink.band=2.4"], "stair: its uplink now goes to gateway over the air on 2.4 GHz"),
    ("channel", ["nodes.gateway.radios.r5.channel=100"], "channel 36 → 100"),
    ("power", ["nodes.cafe.radios.r5.eirp_dbm=14"], "20 → 14 dBm"),
    ("password", ["networks.yard.generation=2"], "new password (generation 1 → 2)"),
    ("people", ["places.tables.count=20"], "place tables: 12 → 20 devices"),
]


@pytest.mark.parametrize(("wishes", "told"), [(wishes, told) for _, wishes, told in WORDS], ids=[w[0] for w in WORDS])
def test_differences_are_told_in_the_words_of_the_trade(wishes: list[str], told: str) -> None:
    from advisor.compare.wishes import wishes as edits_of_wishes

    first = profile("kestrel-yard")
    second = edited(first, edits_of_wishes(first, wishes))
    (difference,) = structural(first, second).differences
    assert told in difference.told
    assert (difference.where_before or difference.where_after).startswith(first.file)


def test_a_default_written_out_is_no_difference() -> None:
    first = profile("two-nodes")
    second = edited(first, [Edit(("site", "ceiling_m"), 3.0)])
    found = structural(first, second)
    assert found.differences == ()
    assert len(found.restated) == 1


def test_one_change_can_be_carried_out_alone() -> None:
    first = profile("two-nodes")
    second = edited(first, [Edit(("internet", "down_mbps"), 20), Edit(("places", "study", "count"), 5)])
    changes = changes_of(structural(first, second))
    assert len(changes) == 2
    alone = apply_one(first, changes[0])
    assert len(structural(first, alone).differences) == 1
    assert len(structural(alone, second).differences) == 1
