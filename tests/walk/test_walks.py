"""Whole walks: what the trade knows of clients that move must come out of their behaviour, not of a special case."""

from __future__ import annotations

import numpy as np
import pytest

from advisor.advice.causes import diagnose_walk, trouble_of
from advisor.facts.walks import Course, course_of_place, course_of_walk, crossings
from advisor.physics.call_quality import r_factor
from advisor.walk.records import Track
from advisor.walk.speech import gaps_of, speech
from tests.walk.corridor import book_of, corridor


def course(**about: object) -> Course:
    return course_of_walk(book_of(corridor(**about)), "along")  # type: ignore[arg-type]


def lost_share(own: Course) -> float:
    silent = own.tracks.gap_s / own.trail.step_s
    return float(np.mean(np.clip(silent + (1.0 - silent) * own.tracks.loss, 0.0, 1.0)))


def leaving(own: Course) -> float:
    """When the node is changed on average; the end of the walk where it never is."""
    ends = [row[0].at_s if row else float(own.trail.times_s[-1]) for row in own.tracks.changes]
    return float(np.mean(ends))


@pytest.mark.parametrize("apart_m", [30, 40, 50])
def test_trimmed_powers_and_a_name_of_its_own_hardly_lose_a_packet(apart_m: float) -> None:
    """Common practice, no source: a laptop on 5 GHz walks between two nodes that meet in the middle with hardly a lost
    ping."""
    own = course(apart_m=apart_m)
    assert lost_share(own) < 0.01
    assert trouble_of(own).any < 0.1
    (crossing,) = crossings(own)
    middle = own.trail.times_s[np.searchsorted(own.trail.walked_m, own.trail.walked_m[-1] / 2)]
    assert crossing.at_s == pytest.approx(middle, abs=1.5)


@pytest.mark.parametrize("apart_m", [40, 50, 60, 70])
@pytest.mark.parametrize("louder_db", [6, 9, 12])
def test_a_louder_node_is_held_on_to(apart_m: float, louder_db: float) -> None:
    """Common practice, no source: with the louder node untrimmed the client holds on too long."""
    trimmed, loud = course(apart_m=apart_m), course(apart_m=apart_m, west_dbm=14 + louder_db)
    assert leaving(loud) > leaving(trimmed)
    assert crossings(loud)[0].at_s >= crossings(trimmed)[0].at_s


@pytest.mark.parametrize("apart_m", [50, 60, 70])
@pytest.mark.parametrize("walls", [("plasterboard",) * 5, ("brick", "brick")])
def test_under_one_name_it_may_change_band_on_the_far_node(apart_m: float, walls: tuple[str, ...]) -> None:
    """Common practice, no source: with one name over both bands it may change band instead of node; those calls have a
    gap more than those that change node once."""
    one = course(apart_m=apart_m, one_name=True, client="phone", walls=walls)
    apart = course(apart_m=apart_m, client="phone", walls=walls)
    assert one.band_changes >= 0.05
    assert apart.band_changes <= 0.01
    radios = one.trail.radios
    twice = [
        row
        for row in one.tracks.changes
        if any(radios[change.from_radio].node == radios[change.to_radio].node for change in row)
    ]
    assert twice
    assert np.mean([len(row) for row in twice]) > np.mean([len(row) for row in apart.tracks.changes])


def test_a_relay_in_router_mode_ends_the_call() -> None:
    own = course(east="role: access-point, mode: router\n    uplink: {to: west, over: ethernet}", apart_m=70)
    changed = np.array([bool(row) for row in own.tracks.changes])
    assert changed.any()
    assert np.array_equal(own.calls.dropped, changed | (own.calls.longest_s >= 5.0))
    found = diagnose_walk(
        loaded := corridor(east="role: access-point, mode: router\n    uplink: {to: west, over: ethernet}", apart_m=70),
        book_of(loaded),
        "along",
    )
    assert found.causes[0].id == "router east"
    assert found.causes[0].change is not None


def test_different_names_are_the_cause_that_is_found() -> None:
    names = "one: {name: kite, nodes: [west], security: wpa2-personal}\n  two: {name: heron, nodes: [east], security: wpa2-personal}"  # noqa: E501
    loaded = corridor(apart_m=90, networks=names, client="phone")
    found = diagnose_walk(loaded, book_of(loaded), "along")
    assert found.now.long_gap > 0.3
    assert found.causes[0].id == "names"
    assert found.causes[0].without.any < found.now.any


def test_no_trouble_no_causes() -> None:
    loaded = corridor(apart_m=20)
    found = diagnose_walk(loaded, book_of(loaded), "along")
    assert (found.causes, found.pairs, found.tried) == ((), (), 0)


def test_an_unrelated_node_changes_no_draw() -> None:
    far = "neighbours: {n: {band: 5, channel: 100, heard_dbm: {west: -90}}}"
    plain, more = corridor(apart_m=50), corridor(apart_m=50, more=far)
    one, two = (course_of_walk(book_of(loaded), "along") for loaded in (plain, more))
    assert np.array_equal(one.tracks.serving, two.tracks.serving)
    third = "  attic: {role: access-point, gear: open-node, at: [20, 400], floor: ground, uplink: {to: west, over: ethernet}, radios: {r5: {band: 5, channel: 149, eirp_dbm: 5}}}\nnetworks:"  # noqa: E501
    from advisor.site.load import load_text

    added = load_text(plain.document.text.replace("networks:", third, 1), "third.yaml")
    again = course_of_walk(book_of(added), "along")
    names = [[radio.name for radio in own.trail.radios] for own in (one, again)]
    assert names[1][0] == "attic.r5"
    shifted = np.where(again.tracks.serving >= 0, again.tracks.serving - 1, again.tracks.serving)
    assert np.array_equal(one.tracks.serving, shifted)
    assert np.array_equal(one.tracks.gap_s, again.tracks.gap_s)


def test_same_seed_same_course() -> None:
    one, two = course(apart_m=60), course(apart_m=60)
    assert np.array_equal(one.tracks.gap_s, two.tracks.gap_s)
    assert one.calls.worst_mos.tolist() == two.calls.worst_mos.tolist()


def test_a_call_at_a_desk_stays_where_it_is() -> None:
    own = course_of_place(book_of(corridor()), "a")
    assert own.node_changes == 0.0
    assert trouble_of(own).any == 0.0
    assert set(own.time_on) <= {"west.r5", "west.r24", "east.r5"}


def test_gaps_are_joined_across_steps() -> None:
    silent = np.array([0.0, 0.04, 0.1, 0.1, 0.02, 0.0, 0.05])
    assert [(round(gap.at_s, 1), gap.seconds) for gap in gaps_of(silent, 0.1)] == [(0.1, 0.26), (0.6, 0.05)]


@pytest.mark.parametrize(("gap_ms", "lost"), [(60, 3), (100, 5), (300, 15), (1000, 50)])
def test_one_gap_in_a_window_is_rated_as_published(gap_ms: int, lost: int) -> None:
    """One gap of n packets in 8 s: P = n / 400, BurstR = n (1 - P) (ITU-T G.107); R by the E-model at our delay."""
    steps = 80
    silent = np.zeros((1, steps))
    silent[0, 10 : 10 + gap_ms // 100] = 0.1
    if gap_ms % 100:
        silent[0, 10] = gap_ms / 1e3
    quiet = np.zeros((1, steps))
    track = Track(np.zeros((1, steps), dtype=np.int64), silent, quiet, quiet, quiet, ((),), np.zeros(1, dtype=bool))
    found = speech(track, 0.1)
    share = lost / 400
    expected = r_factor(delay_ms=100.0, loss_pct=100 * share, burst_ratio=max(lost * (1 - share), 1.0))
    assert found.r[0, 0] == pytest.approx(float(expected), abs=0.2)


ASKING = "all: {name: kite, bands: [5], security: wpa2-personal, aids: {v: true}}"
SILENT = "all: {name: kite, bands: [5], security: wpa2-personal, aids: {v: false}}"


@pytest.mark.parametrize("apart_m", [60, 80])
def test_a_node_that_asks_is_left_no_later(apart_m: float) -> None:
    """802.11v: the client may move although it would not look by itself; it decides, so only to what is no worse."""
    asked = course(apart_m=apart_m, west_dbm=24, networks=ASKING)
    plain = course(apart_m=apart_m, west_dbm=24, networks=SILENT)
    reasons = {change.why for row in asked.tracks.changes for change in row}
    assert "asked" in reasons
    assert "asked" not in {change.why for row in plain.tracks.changes for change in row}
    assert leaving(asked) <= leaving(plain)
    for row in asked.tracks.changes:
        assert all(change.level_after_dbm >= change.level_before_dbm - 8.0 for change in row if change.why == "asked")


def test_a_node_that_throws_clients_off_makes_a_gap_of_a_search() -> None:
    loaded = corridor(60, client="phone")
    text = loaded.document.text.replace(
        "r5: {band: 5, channel: 36, ", "r5: {drops_below_dbm: -68, band: 5, channel: 36, "
    )
    from advisor.site.load import load_text

    thrown = course_of_walk(book_of(load_text(text, "thrown.yaml")), "along")
    off = [change for row in thrown.tracks.changes for change in row if change.why == "thrown off"]
    assert off
    assert all(change.gap_s >= 0.2 for change in off)
    plain = course_of_walk(book_of(loaded), "along")
    assert not [change for row in plain.tracks.changes for change in row if change.why == "thrown off"]


def test_what_counts_as_disturbed_is_the_files_to_say() -> None:
    strict, lax = "calls: {long_ms: 20, mos: 4.4}", "calls: {long_ms: 60000, dropped_s: 60, mos: 1}"
    usual = trouble_of(course(apart_m=60, client="phone"))
    assert trouble_of(course(apart_m=60, client="phone", more=strict)).any > usual.any
    assert trouble_of(course(apart_m=60, client="phone", more=lax)).any == 0.0
    low = course(apart_m=60, client="phone", more="calls: {codec: G.729A+VAD}")
    assert low.calls.worst_mos.max() < course(apart_m=60, client="phone").calls.worst_mos.max()


def test_powers_are_tried_as_the_equipment_has_them_and_the_best_one_is_told() -> None:
    """Every power is walked with; where several help, one cause stands for all, and it is the one that helps most."""
    loaded = corridor(60, west_dbm=23, client="phone", walls=("plasterboard",) * 5)
    found = diagnose_walk(loaded, book_of(loaded), "along", draws=60)
    fixed = loaded.document.text.replace("  west:\n", "  west:\n    settable: {power: no}\n").replace(
        "power: no", 'power: "no"'
    )
    from advisor.site.load import load_text

    refusing = load_text(fixed, "fixed.yaml")
    again = diagnose_walk(refusing, book_of(refusing), "along", draws=60)
    assert found.tried == again.tried
    assert len({cause.what for cause in found.causes}) == len(found.causes)
    for cause in again.causes:
        if cause.id.startswith("power west"):
            assert cause.change is not None
            assert cause.change.refused == "west does not let its power be set"
    steps = loaded.document.text.replace(
        "  west:\n", "  west:\n    settable: {power: steps, power_steps_dbm: [8, 17, 23]}\n"
    )
    stepped = load_text(steps, "steps.yaml")
    tried = diagnose_walk(stepped, book_of(stepped), "along", draws=60).tried
    assert tried < found.tried
