"""Call quality against ITU-T G.107, G.113, Cole & Rosenbluth 2001 and RFC 3550 (see SOURCES.md)."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import numpy as np
import pytest
import yaml
from hypothesis import given
from hypothesis import strategies as st

from advisor.data import catalogue
from advisor.physics.call_quality import (
    Connection,
    basic_rating,
    burst_ratio,
    codec,
    codec_names,
    equipment_impairment,
    good_or_better,
    interarrival_jitter_ms,
    markov_burst_ratio,
    mos,
    noise_dbm0p,
    poor_or_worse,
    pure_delay_impairment,
    r_factor,
    r_for_mos,
    rating,
    short_delay_impairment,
    short_r_factor,
    simultaneous_impairment,
)

CHECKS: list[dict[str, Any]] = yaml.safe_load((Path(__file__).parent / "data" / "call_quality.yaml").read_text())
BY_NAME = {check["name"]: check for check in CHECKS}
FIELDS = dict.fromkeys(("Ds", "Dr", "qdu"), "") | {"Nc": "_dbm0p", "Nfor": "_dbmp", "Ps": "_dba", "Pr": "_dba"}
FIELDS |= dict.fromkeys(("SLR", "RLR", "STMR", "TELR", "WEPL"), "_db")
"""Parameters of the standard and the units their fields end in."""
TERMS = {"Ie": "ie", "Bpl": "bpl", "Ppl": "loss_pct", "BurstR": "burst_ratio", "A": "advantage"}


def named(prefix: str) -> list[Any]:
    return [pytest.param(check, id=check["name"]) for check in CHECKS if check["name"].startswith(prefix)]


def near(check: dict[str, Any], expected: Any = None) -> Any:
    return pytest.approx(check["expected"] if expected is None else expected, abs=check["tolerance"] or 1e-12)


def test_rows_are_named_once() -> None:
    assert len(BY_NAME) == len(CHECKS)
    assert {check["status"] for check in CHECKS} <= {"found", "computed", "memory"}


def test_the_default_connection() -> None:
    found, check, constants = rating(), BY_NAME["terms_default"], BY_NAME["terms_constants"]
    assert found.r == near(BY_NAME["g107_default_R"])
    terms = {"Ro": found.ro, "Is": found.simultaneous, "Id": found.talker_echo + found.listener_echo + found.delay}
    assert terms == near(check)
    assert {"No": noise_dbm0p(), "Is": found.simultaneous} == near(constants)
    assert Connection().lstr_db == 18.0
    assert r_factor(delay_ms=0.0) == found.r


@pytest.mark.parametrize("check", named("g107_full_delay_"))
def test_delay_in_the_full_model(check: dict[str, Any]) -> None:
    inputs = check["inputs"]
    found = rating(delay_ms=inputs["Ta"], echo_delay_ms=inputs["T"], loop_delay_ms=inputs["Tr"])
    assert {"R": found.r, "Idd": found.delay} == near(check)
    assert found.r == rating(delay_ms=inputs["Ta"]).r


@pytest.mark.parametrize("check", named("cole_rosenbluth_"))
def test_delay_in_the_short_form(check: dict[str, Any]) -> None:
    assert short_r_factor(delay_ms=check["inputs"]["d_ms"]) == near(check)


def test_the_short_form_keeps_near_the_full_one_up_to_300_ms() -> None:
    delay_ms = np.linspace(0.0, 300.0, 601)
    apart = np.abs(short_r_factor(delay_ms=delay_ms) - r_factor(delay_ms=delay_ms))
    assert 0.8 < apart.max() < 1.0
    assert 170.0 < delay_ms[apart.argmax()] < 180.0
    assert r_factor(delay_ms=400.0) - short_r_factor(delay_ms=400.0) == pytest.approx(3.1, abs=0.1)
    assert r_factor(delay_ms=500.0) - short_r_factor(delay_ms=500.0) == pytest.approx(9.1, abs=0.1)


@pytest.mark.parametrize("check", named("other_code_"))
def test_other_telephones_rooms_and_echoes(check: dict[str, Any]) -> None:
    """A second transcription, away from the defaults: sidetone below 9 and above 20 dB, sensitivity, noise."""
    inputs = check["inputs"]
    fields: dict[str, Any] = {name.lower() + FIELDS[name]: value for name, value in inputs.items() if name in FIELDS}
    fields["sensitivity"] = inputs.get("cls", "Default").lower().replace(" ", "_")
    echo_ms = inputs.get("T", 0.0)
    found = rating(
        delay_ms=inputs.get("Ta", echo_ms),
        echo_delay_ms=echo_ms,
        loop_delay_ms=inputs.get("Tr", 2.0 * echo_ms),
        connection=Connection(**fields),
        **{TERMS[name]: value for name, value in inputs.items() if name in TERMS},
    )
    assert found.r == near(check)


@pytest.mark.parametrize("check", named("g107_mos_"))
def test_opinion_scores(check: dict[str, Any]) -> None:
    r, expected = check["inputs"]["R"], check["expected"]
    assert mos(r=r) == near(check, expected["MOS"])
    assert 100.0 * good_or_better(r) == pytest.approx(expected["GoB_pct"], abs=0.006)
    assert 100.0 * poor_or_worse(r) == pytest.approx(expected["PoW_pct"], abs=0.006)


@pytest.mark.parametrize("check", named("g107_tableB1_"))
def test_limits_of_the_categories(check: dict[str, Any]) -> None:
    assert mos(r=check["inputs"]["R"]) == near(check, check["expected"]["mos"])


def test_from_score_to_rating_and_back() -> None:
    r = np.linspace(6.6, 100.0, 500)
    assert r_for_mos(mos(r=r)) == pytest.approx(r, abs=1e-9)
    assert r_for_mos(np.array([0.5, 1.0, 4.5, 5.0])) == pytest.approx([6.515, 6.515, 100.0, 100.0], abs=1e-3)
    scores = np.linspace(1.01, 4.49, 100)
    h = np.arctan2(15.0 * np.sqrt(-903522.0 + 1113960.0 * scores - 202500.0 * scores**2), 18566.0 - 6750.0 * scores) / 3
    printed = 20.0 / 3.0 * (8.0 - np.sqrt(226.0) * np.cos(h + np.pi / 3.0))
    assert r_for_mos(scores) == pytest.approx(printed, abs=0.005)  # Appendix I with its rounded constants, from memory


@pytest.mark.parametrize("check", named("g113_"))
def test_codecs(check: dict[str, Any]) -> None:
    found = codec(check["name"].removeprefix("g113_"))
    assert found.ie == check["expected"]["Ie"]
    assert found.bpl == check["expected"].get("Bpl")


@pytest.mark.parametrize("name", codec_names())
def test_every_codec_is_complete(name: str) -> None:
    entry, found = catalogue("codecs")["codecs"][name], codec(name)
    assert entry["status"] in ("found", "memory")
    assert ("from memory" in found.source) == (entry["status"] == "memory")
    assert 0.0 <= found.ie <= 55.0
    assert found.packet_ms in (10.0, 20.0, 30.0)
    assert 4.0 < 8.0 * found.payload_bytes / found.packet_ms <= 64.0  # kb/s
    assert found.impairment() == found.ie
    if found.bpl is None:
        with pytest.raises(ValueError, match="no Bpl"):
            found.impairment(loss_pct=1.0)


def test_a_codec_nobody_knows() -> None:
    with pytest.raises(KeyError):
        codec("tin can")


@pytest.mark.parametrize("check", named("ieeff_"))
def test_lost_packets(check: dict[str, Any]) -> None:
    inputs = check["inputs"]
    lost = codec(inputs["codec"]).impairment(loss_pct=inputs["Ppl"], burst_ratio=inputs["BurstR"])
    assert {"Ieeff": lost, "R": 93.2 - lost, "MOS": mos(r=93.2 - lost)} == near(check)


@pytest.mark.parametrize("check", named("call_"))
def test_delay_and_loss_in_the_short_form(check: dict[str, Any]) -> None:
    inputs, of = check["inputs"], codec(check["inputs"]["codec"])
    assert of.bpl is not None
    r = short_r_factor(delay_ms=inputs["delay_ms"], loss_pct=inputs["loss_pct"], ie=of.ie, bpl=of.bpl)
    assert {"R": r, "MOS": mos(r=r)} == near(check)


@pytest.mark.parametrize("check", named("example_"))
def test_worked_examples(check: dict[str, Any]) -> None:
    inputs, of = check["inputs"], codec(check["inputs"]["codec"])
    assert of.bpl is not None
    found = rating(delay_ms=inputs["delay_ms"], loss_pct=inputs["loss_pct"], ie=of.ie, bpl=of.bpl)
    delay = found.talker_echo + found.listener_echo + found.delay
    assert {"Id": delay, "Ieeff": found.equipment, "R": found.r, "MOS": mos(r=found.r)} == near(check)


@pytest.mark.parametrize("check", named("ie_1999_"))
def test_the_tables_that_robustness_replaced(check: dict[str, Any]) -> None:
    """Impairments once tabulated by loss; Bpl was fitted to them."""
    found = codec(check["inputs"]["codec"]).impairment(loss_pct=np.array(check["inputs"]["loss_pct"]))
    assert found == near(check)


@pytest.mark.parametrize("check", named("markov_"))
def test_losses_of_a_two_state_chain(check: dict[str, Any]) -> None:
    inputs = check["inputs"]
    ratio = markov_burst_ratio(to_loss=inputs["p"], from_loss=inputs["q"])
    loss_pct = 100.0 * inputs["p"] / (inputs["p"] + inputs["q"])
    lost = codec(inputs["codec"]).impairment(loss_pct=loss_pct, burst_ratio=ratio)
    assert {"loss_pct": loss_pct, "BurstR": ratio, "Ieeff": lost} == near(check)


@pytest.mark.parametrize("check", named("gap_"))
def test_one_gap_in_a_window(check: dict[str, Any]) -> None:
    lost, of = check["inputs"]["lost"], codec("G.711+PLC")
    packets = round(1000.0 * check["inputs"]["window_s"] / of.packet_ms)
    share = lost / packets
    ratio = lost * (1.0 - share)
    if lost == int(lost):
        row = np.zeros(packets, dtype=bool)
        row[40 : 40 + int(lost)] = True
        assert burst_ratio(row) == pytest.approx(ratio, rel=1e-12)
    assert 93.2 - of.impairment(loss_pct=100.0 * share, burst_ratio=ratio) == near(check)


def test_a_gap_of_two_seconds_leaves_nothing_of_eight() -> None:
    assert 93.2 - codec("G.711+PLC").impairment(loss_pct=25.0, burst_ratio=75.0) < 0.0


def test_burst_ratio_of_drawn_rows() -> None:
    """Random losses give 1, a two-state chain 1 / (p + q); rows with nothing or everything lost give 1."""
    draws = np.random.default_rng(20)
    assert burst_ratio(draws.random((4, 200_000)) < 0.05) == pytest.approx(np.ones(4), abs=0.03)
    chances, row = draws.random(400_000), np.zeros(400_000, dtype=bool)
    for packet in range(1, row.size):
        row[packet] = chances[packet] >= 0.3 if row[packet - 1] else chances[packet] < 0.02
    expected = markov_burst_ratio(to_loss=0.02, from_loss=0.3)
    assert burst_ratio(row) == pytest.approx(expected, rel=0.03)
    assert list(burst_ratio(np.array([[0, 0, 0, 0], [1, 1, 1, 1], [1, 0, 0, 1], [1, 1, 0, 0]]))) == [1, 1, 0.5, 1]


def test_jitter() -> None:
    check = BY_NAME["rfc3550_jitter"]
    sent = 20.0 * np.arange(len(check["inputs"]["D"]) + 1)
    received = sent + 1e6 + np.concatenate([[0.0], np.cumsum(check["inputs"]["D"])])
    found = interarrival_jitter_ms(sent, received)
    assert found[0] == 0.0
    assert list(found[1:]) == near(check)
    both = interarrival_jitter_ms(np.array([sent, sent]), np.array([received, sent]))
    assert both == pytest.approx(np.array([found, np.zeros(sent.size)]), abs=1e-9)


def test_jitter_settles_at_the_mean_change_of_transit() -> None:
    sent = 20.0 * np.arange(2000)
    transit = np.where(np.arange(2000) % 2 == 0, 5.0, 13.0)
    assert interarrival_jitter_ms(sent, sent + transit)[-1] == pytest.approx(8.0, abs=1e-9)


def test_the_rating_never_rises_with_delay_loss_or_bursts() -> None:
    """Beyond 1 ms of delay, where the echo starts to count (eq. 7-19); up to there within 0.2."""
    delay_ms = np.linspace(1.0, 800.0, 4000)
    assert np.all(np.diff(r_factor(delay_ms=delay_ms)) < 0.0)
    assert np.ptp(r_factor(delay_ms=np.linspace(0.0, 1.0, 50))) < 0.2
    assert np.all(np.diff(short_r_factor(delay_ms=delay_ms)) < 0.0)
    assert np.all(np.diff(r_factor(delay_ms=20.0, loss_pct=np.linspace(0.0, 100.0, 1001))) < 0.0)
    for name in codec_names():
        of = codec(name)
        if of.bpl is not None:
            assert np.all(np.diff(of.impairment(loss_pct=2.0, burst_ratio=np.linspace(1.0, 50.0, 500))) > 0.0)
    for telr_db in (65.0, 55.0, 45.0, 35.0):
        echoing = rating(delay_ms=delay_ms[delay_ms > 3.0], connection=Connection(telr_db=telr_db))
        assert np.all(np.diff(echoing.talker_echo) >= 0.0)
        assert np.all(np.diff(echoing.r) < 0.0)


def test_less_sensitive_users_mind_delay_less() -> None:
    """To within 0.001: around 150 ms the class `low` stands that little above the default."""
    delay_ms = np.linspace(0.0, 1000.0, 5000)
    default, low, very_low = (
        pure_delay_impairment(delay_ms=delay_ms, sensitivity=s) for s in ("default", "low", "very_low")
    )
    assert np.all(low <= default + 0.001)
    assert np.all(very_low <= low + 1e-9)
    assert np.all(np.diff(default) >= -1e-9)


@given(st.floats(-200.0, 300.0), st.floats(0.0, 50.0))
def test_scores_stay_on_the_scale_and_never_fall_as_the_rating_rises(r: float, more: float) -> None:
    assert 1.0 <= mos(r=r) <= mos(r=r + more) + 1e-12 <= 4.5 + 1e-9


def test_arrays_give_what_single_numbers_give() -> None:
    delay, loss, ratio = (
        np.array(row) for row in ([0.0, 90.0, 240.0, 420.0], [0.0, 0.5, 3.0, 12.0], [1.0, 1.2, 2.0, 8.0])
    )
    rows = rating(delay_ms=delay, loss_pct=loss, burst_ratio=ratio, ie=11.0, bpl=19.0)
    for case in range(4):
        one = rating(delay_ms=delay[case], loss_pct=loss[case], burst_ratio=ratio[case], ie=11.0, bpl=19.0)
        assert rows.r[case] == pytest.approx(one.r, abs=1e-12)
        assert np.ndim(one.r) == 0
    assert mos(r=rows.r).shape == r_for_mos(mos(r=rows.r)).shape == good_or_better(rows.r).shape == (4,)
    for plain_number in (
        basic_rating(),
        simultaneous_impairment(),
        pure_delay_impairment(delay_ms=120.0),
        short_delay_impairment(delay_ms=200.0),
        equipment_impairment(ie=0.0, bpl=4.3, loss_pct=1.0),
        burst_ratio([True, False]),
        markov_burst_ratio(to_loss=0.1, from_loss=0.5),
        good_or_better(50.0),
    ):
        assert isinstance(plain_number, float)
    assert rating(connection=Connection(ps_dba=np.array([35.0, 60.0]))).r.shape == (2,)
