"""What to find out first: the verdicts said to hang on an answer do, when the answer is written into the file."""

from __future__ import annotations

import re

import numpy as np
import pytest

from advisor.assess import Assessment, assess
from advisor.data import catalogue
from advisor.facts.draws import Z90
from advisor.questions import Pinned, Question
from advisor.site.load import load_text

SITE = """
site: {name: Kestrel Yard, country: GB, environment: house, invented: true}
internet: {down_mbps: 200, up_mbps: 50}
nodes:
  gateway: {role: gateway, gear: open-node, radios: {r5: {band: 5, channel: 36, width_mhz: 20, eirp_dbm: 20}}}
networks: {home: {name: kestrel, security: wpa2-personal}}
neighbours: {flat: {band: 5, channel: 36, heard_dbm: {gateway: -60}}}
places:
  desk: {client: laptop, down_mbps: DOWN, up_mbps: 1, paths: {gateway: {distance_m: 3, complete: true}}}
"""


def checked(text: str) -> Assessment:
    return assess(load_text(text, "site.yaml"))


def named(answer: Assessment, part: str) -> Question:
    (question,) = [entry for entry in answer.questions if part in entry.what]
    return question


def verdict(answer: Assessment, rule: str) -> str:
    found = [entry.verdict for entry in answer.judgement.findings if entry.rule == rule]
    return found[0] if found else "pass"


def test_a_verdict_that_hangs_on_a_neighbour_is_as_it_is_at_both_ends_of_the_range() -> None:
    """The catalogue's range is 2 to 35 %: written into the file, each end gives the verdict told for it."""
    text = SITE.replace("DOWN", "160")
    question = named(checked(text), "how busy flat")
    assert question.ends == ("35%", "2%")
    flips = {flip.rule: (flip.poor, flip.good) for flip in question.flips}
    assert flips["place-below-need"] == ("fail", "pass")
    for share, end in ((0.35, 0), (0.02, 1)):
        given = text.replace("heard_dbm:", f"busy_share: {share}, heard_dbm:")
        told = verdict(checked(given), "place-below-need")
        assert told == flips["place-below-need"][end]


def test_nothing_is_asked_where_no_verdict_hangs_on_it() -> None:
    told = checked(SITE.replace("DOWN", "2").replace("heard_dbm:", "busy_share: 0.02, heard_dbm:"))
    assert told.judgement.findings == ()
    assert told.questions == ()


def test_what_is_missing_is_asked_for_with_the_checks_that_wait() -> None:
    answer = checked(SITE.replace("DOWN", "2").replace("down_mbps: 200, ", ""))
    question = named(answer, "what the internet line delivers")
    assert question.write == "internet.down_mbps and internet.up_mbps"
    assert "Measure with a computer on a cable" in question.how
    assert {flip.rule for flip in question.flips} >= {"place-below-need"}
    assert {flip.poor for flip in question.flips} == {"unknown"}


def test_the_weightiest_comes_first() -> None:
    answer = checked(SITE.replace("DOWN", "160"))
    weights = [entry.weight for entry in answer.questions]
    assert weights == sorted(weights, reverse=True)
    assert all(weights)


def test_a_level_is_asked_for_at_the_place_where_it_decides() -> None:
    """A heavy wall of unknown loss: a reading at the place settles it, and says where to write it."""
    far = SITE.replace("DOWN", "40").replace("distance_m: 3, complete: true", "distance_m: 14, through: [concrete]")
    question = named(checked(far), "the level of gateway at desk")
    assert "radio: gateway.r5, at: desk" in question.write
    poor, good = (int(end.removesuffix(" dBm")) for end in question.ends or ("", ""))
    assert poor < good
    for level, verdicts in ((poor, {"fail", "at-risk"}), (good, {"pass", "at-risk"})):
        reading = f"measured: {{desk: {{radio: gateway.r5, at: desk, level_dbm: {level}}}}}\n"
        assert verdict(checked(far + reading), "place-below-need") in verdicts


def test_pinned_columns_move_one_term_each() -> None:
    pinned = Pinned([{("a",): 1}, {("shadow", "x", "y"): -1}])
    assert np.allclose(pinned.normal("a")[3:], [Z90, -Z90, 0, 0])
    assert np.allclose(pinned.shadow("y", "x", "5", 0.8)[3:], [0, 0, -Z90, Z90])
    assert np.allclose(pinned.normal("b"), [0, -Z90, Z90, 0, 0, 0, 0])


def test_the_same_site_asks_the_same() -> None:
    text = SITE.replace("DOWN", "160")
    assert checked(text).questions == checked(text).questions


def test_one_place_is_asked_for_once_whatever_node_it_is_seen_from() -> None:
    text = SITE.replace("DOWN", "2").replace(", paths: {gateway: {distance_m: 3, complete: true}}", "")
    second = "  back: {role: access-point, gear: open-node, uplink: {to: gateway, over: ethernet, speed_mbps: 1000}}\n"
    answer = checked(text.replace("networks:", second + "networks:"))
    question = named(answer, "where desk is")
    assert len(question.reasons) == 2
    assert question.write == "places.desk: at, room or paths"


@pytest.mark.parametrize(
    "entry",
    [entry for entry in catalogue("questions")["missing"] if entry.get("ask", True)],
    ids=lambda entry: entry["begins"],
)
def test_every_text_for_what_is_missing_can_be_filled(entry: dict[str, str]) -> None:
    words = {"reason": "the channel of x", "path": "nodes.x", "all": "x"} | dict.fromkeys(
        re.compile(entry["begins"]).groupindex, "y"
    )
    for part in ("what", "how", "write"):
        assert "{" not in entry[part].format(**words)


OPEN = """
site: {name: Kestrel Yard, country: GB, environment: house, invented: true}
internet: {down_mbps: 300, up_mbps: 100}
nodes:
  gateway:
    role: gateway
    gear: open-node
    radios: {r24: {band: 2.4, channel: 1, eirp_dbm: 19}, r5: {band: 5, channel: 36, eirp_dbm: 20}}
  loft:
    role: relay
    gear: open-node
    uplink: {to: gateway}
    radios: {r24: {band: 2.4, channel: 1, eirp_dbm: 19}, r5: {band: 5, channel: 36, eirp_dbm: 20}}
    paths: {gateway: {distance_m: 17, through: [brick-double, brick, floor-timber]}}
networks: {home: {name: kestrel, security: wpa2-personal}}
places:
  bed: {client: laptop, down_mbps: 40, up_mbps: 2, paths: {loft: {distance_m: 3, complete: true}}}
"""


def test_what_hangs_on_an_open_uplink_is_judged_for_each_way() -> None:
    """Every verdict told for the worst and the best way is that of a file in which the uplink is fixed to a way."""
    answer = checked(OPEN)
    question = named(answer, "which way the uplink of loft runs")
    assert question.flips
    fixed = [checked(OPEN.replace("{to: gateway}", f"{{to: gateway, band: {band}}}")) for band in ("2.4", "5")]
    for flip in question.flips:
        if flip.subject.kind == "hop" and flip.rule.startswith("uplink-"):
            continue  # rules about the openness itself
        verdicts = {
            next(
                (f.verdict for f in one.judgement.findings if (f.rule, f.subject) == (flip.rule, flip.subject)), "pass"
            )
            for one in fixed
        }
        assert {flip.poor, flip.good} == verdicts, flip


def test_the_speed_of_an_open_uplink_is_asked_for_on_the_way_that_may_fail() -> None:
    """A speed narrows more here than a level (tests/cli/test_asking.py)."""
    question = named(checked(OPEN), "the speed between gateway and loft")
    assert "radio: gateway.r5, at: loft" in question.write


def test_a_limit_of_the_program_is_not_put_as_a_question() -> None:
    text = SITE.replace("DOWN", "2").replace("client: laptop", "client: camera") + "clients: {camera: {standard: a}}\n"
    answer = checked(text)
    assert any("not modelled" in reason for entry in answer.judgement.unknowns for reason in entry.missing)
    assert not any("not modelled" in entry.what for entry in answer.questions)
