"""The ranking as a whole: what it tells is what the written file gives, the same in every run."""

from __future__ import annotations

from functools import lru_cache
from itertools import pairwise
from pathlib import Path

import numpy as np
import pytest

from advisor.advice.axes import leads, versus
from advisor.advice.layouts import kinds_of
from advisor.advice.rank import NEAR, rank
from advisor.advice.records import Axes, Ranking, Score
from advisor.advice.score import asks_of, hopeful, score
from advisor.errors import InputError
from advisor.facts.book import Book
from advisor.facts.checks import open_book
from advisor.facts.draws import Draws
from advisor.report.rank_csv import rank_csv
from advisor.report.rank_json import rank_json
from advisor.site.load import load_site, load_text
from advisor.values import FIRST_DRAW
from tests.advice.random_sites import random_site

PROFILES = Path(__file__).parents[2] / "profiles"


@lru_cache(maxsize=1)
def demo() -> Ranking:
    return rank(load_site(str(PROFILES / "kestrel-yard.yaml")))


def test_every_kind_is_among_the_alternatives_of_the_demo() -> None:
    kinds = {kind for entry in demo().entries for kind in entry.layout.kinds}
    assert kinds >= {
        "as it is",
        "same band",
        "cross-band",
        "wired",
        "star",
        "chain",
        "one name",
        "name per band",
    }
    assert [entry.rank for entry in demo().entries] == sorted(entry.rank for entry in demo().entries)


def test_what_is_told_is_what_the_written_file_gives() -> None:
    """Each layout written as a file and read again has the very score the ranking tells."""
    asks = asks_of(demo().loaded.site)
    for entry in demo().entries:
        if entry.layout.changes:
            text = entry.candidate.loaded.document.text
            again = open_book(load_text(text, "again.yaml"), Draws(1, 0))
            assert score(again, asks, frozenset(demo().hopeless)) == entry.score
            assert kinds_of(again) == entry.layout.kinds[: len(kinds_of(again))]


def test_comments_and_everything_else_stay_in_the_written_file() -> None:
    before = set((PROFILES / "kestrel-yard.yaml").read_text(encoding="utf-8").splitlines())
    taken = demo().entry(demo().recommended)
    after = set(taken.candidate.loaded.document.text.splitlines())
    assert {line for line in before - after if "#" in line.split("{")[0]} == set()
    assert len(before - after) <= sum(len(change.edits) for change in taken.layout.changes)


def test_same_input_same_bytes() -> None:
    loaded = load_site(str(PROFILES / "hillside-house.yaml"))
    assert rank_json(rank(loaded)) == rank_json(rank(loaded))
    assert rank_csv(rank(loaded)) == rank_csv(rank(loaded))


def test_the_layout_to_take_is_nearly_as_sure_as_the_best_with_the_least_work() -> None:
    entries = demo().entries
    taken = demo().entry(demo().recommended)
    most = max(entry.chance for entry in entries if entry.regret.needs == entries[0].regret.needs)
    assert taken.chance >= most - NEAR - 1e-9
    for entry in entries:
        if entry.layout.effort_min < taken.layout.effort_min:
            assert entry.chance < most - NEAR or entry.regret.needs > entries[0].regret.needs


def test_regret_is_nowhere_below_nothing_and_somebody_has_none_of_needs() -> None:
    assert min(entry.regret.needs for entry in demo().entries) == 0
    assert all(entry.regret.needs >= 0 and entry.regret.share >= 0.0 for entry in demo().entries)


def test_flips_name_layouts_of_the_table() -> None:
    ids = {entry.layout.id for entry in demo().entries}
    assert {flip.id for flip in demo().flips} >= {"neighbours", "construction"}
    for flip in demo().flips:
        assert {flip.low, flip.high} <= ids
        assert flip.at or flip.low == flip.high


def test_no_promise_above_what_holds_in_nine_of_ten_draws() -> None:
    taken = demo().entry(demo().recommended)
    lines = {line.place: line for line in taken.places}
    assert {promise.place for promise in demo().promises} == {ask.place for ask in demo().asks}
    for promise in demo().promises:
        line = lines[promise.place]
        for number in _speeds(promise.sentence):
            rows = [value for value in (line.down_mbps, line.up_mbps) if value is not None]
            held = [np.asarray(value.raw, dtype=float)[FIRST_DRAW:] for value in rows if value.cases is not None]
            assert any(np.mean(row >= number - 1e-9) >= 0.9 for row in held)


def _speeds(sentence: str) -> list[float]:
    words = sentence.split("(asked")[0].split()
    return [float(word) for word, unit in pairwise(words) if unit == "Mb/s"]


def test_the_site_as_it_is_counts_as_the_worst_way_an_open_uplink_may_take() -> None:
    loaded = demo().loaded
    original = open_book(loaded, Draws(1, 0))
    asks = asks_of(loaded.site)
    as_it_is = next(entry for entry in demo().entries if not entry.layout.changes)
    for way in original.variants("cafe").values():
        book = Book(loaded, draws=Draws(1, 0), like=original, fixed=way.fixed)
        assert as_it_is.score.key <= score(book, asks, frozenset(demo().hopeless)).key


def test_stopping_gives_the_best_so_far() -> None:
    loaded = random_site(5, 2)

    def stop(done: int, of: int) -> None:
        if done == 3:
            raise KeyboardInterrupt

    found = rank(loaded, progress=stop)
    assert found.search.stopped
    assert not found.search.exact
    assert found.search.computed == 3
    assert found.entries


def test_a_small_budget_says_what_could_be_missed() -> None:
    loaded = random_site(7, 2)
    small, whole = rank(loaded, budget=2), rank(loaded)
    assert small.search.computed <= 2
    assert small.search.exact or small.search.bound >= max(entry.score.key for entry in whole.entries)
    assert whole.search.exact


def test_nothing_to_judge_by() -> None:
    text = "site: {name: Bare, country: GB}\nnodes: {gateway: {role: gateway, gear: home-router}}\n"
    with pytest.raises(InputError, match="no place to judge a layout by"):
        rank(load_text(text, "bare.yaml"))


def test_a_site_with_one_node_and_nothing_to_vary_is_ranked_all_the_same() -> None:
    text = """
site: {name: One, country: GB, environment: house}
internet: {down_mbps: 100, up_mbps: 20}
nodes: {gateway: {role: gateway, gear: locked-router}}
networks: {home: {name: one, security: wpa2-personal}}
places: {sofa: {client: phone, down_mbps: 5, paths: {gateway: {distance_m: 4, complete: true}}}}
"""
    gear = "home-router"
    found = rank(load_text(text.replace("locked-router", gear), "one.yaml"))
    assert found.entries[0].score.asked == 1
    assert found.search.exact


def test_versus_counts_cases_and_calls_even_odds_a_tie() -> None:
    head = np.zeros(FIRST_DRAW)
    first = np.concatenate((head, np.full(10, 1.0)))
    other = np.concatenate((head, [1.2] * 5 + [0.8] * 5))
    assert (versus(first, other).wins, versus(first, other).losses, versus(first, other).tie) == (5, 5, True)
    worse = np.concatenate((head, [0.8] * 10))
    assert not versus(first, worse).tie
    assert versus(np.concatenate((head, [5.0] * 4)), np.concatenate((head, [9.0] * 4))).alike == 4


def test_who_is_ahead_on_what() -> None:
    """Pareto: who is equalled or beaten on everything leads nowhere."""
    score_of = [Score(4, 4, 1.5, "a down"), Score(4, 4, 1.2, "a down"), Score(3, 4, 0.8, "b up")]
    axes = [
        Axes(1.5, 1, ("", 0), None, None, 60, None),
        Axes(1.2, 1, ("", 0), None, None, 90, None),
        Axes(0.8, 1, ("", 0), None, None, 0, None),
    ]
    first, second, third = leads(list(zip(score_of, axes, strict=True)))
    assert first == ("needs met", "worst place", "room to grow")
    assert second == ()
    assert third == ("least work",)


FAR = """
site: {name: Far barn, country: GB, environment: house, invented: true}
internet: {down_mbps: 100, up_mbps: 20}
nodes: {gateway: {role: gateway, gear: home-router}}
networks: {home: {name: far, security: wpa2-personal}}
places:
  sofa: {client: phone, down_mbps: 5, paths: {gateway: {distance_m: 4, complete: true}}}
  barn: {client: phone, down_mbps: 5, paths: {gateway: {distance_m: 900, through: [concrete], complete: true}}}
"""


def test_a_place_nothing_can_serve_is_told_and_says_nothing_about_layouts() -> None:
    found = rank(load_text(FAR, "far.yaml"))
    assert found.hopeless == ("barn",)
    assert {ask.place for ask in hopeful(found.asks, frozenset(found.hopeless))} == {"sofa"}
    assert (found.entries[0].score.met, found.entries[0].score.asked) == (1, 2)
    assert found.entries[0].score.worst > 1.0
    assert [entry.sentence for entry in found.promises if entry.place == "barn"] == ["barn: nothing can be promised."]


def test_one_name_takes_a_security_every_device_can_join() -> None:
    """In the demo a till knows no WPA3, and half of the nodes run nothing else."""
    best = next(entry for entry in demo().entries if "one name" in entry.layout.kinds)
    site = best.candidate.loaded.site
    assert site.networks["yard"].security == "wpa2-wpa3-personal"
    assert best.score.met == best.score.asked
    as_it_is = next(entry for entry in demo().entries if not entry.layout.changes)
    assert as_it_is.score.met < as_it_is.score.asked
