"""Readings and told distances against the rest of the description."""

from __future__ import annotations

from math import hypot

import pytest

from advisor.assess import assess
from advisor.facts.book import Book
from advisor.site.load import load_text
from advisor.subjects import Subject
from advisor.values import Known

SITE = """
site: {name: Kestrel Yard, country: GB, environment: house, invented: true}
internet: {down_mbps: 200, up_mbps: 50}
floors: {ground: {level: 0}}
nodes:
  gateway:
    role: gateway
    gear: open-node
    at: [0, 0]
    floor: ground
    radios: {r5: {band: 5, channel: 36, width_mhz: 20, eirp_dbm: 20, antenna_dbi: 3}}
networks: {home: {name: kestrel, security: wpa2-personal}}
places:
  desk: {client: laptop, at: [3, 4], floor: ground, paths: {gateway: {distance_m: TOLD, complete: true}}}
measured: {reading: {radio: gateway.r5, at: desk, level_dbm: LEVEL}}
"""
"""A laptop has an antenna of 0 dBi and no body loss. Free space over 5 m at 5180 MHz (ITU-R P.525):
32.4478 + 20 log10(5180) + 20 log10(0.005) = 60.71 dB, so 20 dBm are received as -40.7 dBm."""


def book(told: float = 5, level: float = -41) -> Book:
    return Book(load_text(SITE.replace("TOLD", str(told)).replace("LEVEL", str(level)), "site.yaml"))


def number(made: Book, name: str, subject: Subject) -> float:
    value = made.get(name, subject).value
    assert isinstance(value, Known)
    return float(value.centre)


READING = Subject("measured", ("reading",))
PATH = Subject("path", ("desk", "gateway"))


def test_the_described_level_does_not_know_the_reading() -> None:
    for level in (-41, -70):
        made = book(level=level)
        assert number(made, "described_dbm", READING) == pytest.approx(-40.71, abs=0.05)
        assert number(made, "measured_dbm", READING) == level


def test_distances_told_and_drawn() -> None:
    made = book(told=7)
    assert number(made, "told_m", PATH) == 7
    assert number(made, "drawn_m", PATH) == pytest.approx(hypot(5, 2.0 - 1.2), abs=1e-6)


@pytest.mark.parametrize(
    ("told", "level", "rules"),
    [
        (5, -44, set()),
        (5, -60, {"measured-against-computed"}),
        (12, -50, {"told-against-drawn"}),
    ],
)
def test_the_rules_about_them(told: float, level: float, rules: set[str]) -> None:
    text = SITE.replace("TOLD", str(told)).replace("LEVEL", str(level))
    found = {entry.rule for entry in assess(load_text(text, "site.yaml"), only=["information"]).judgement.findings}
    assert found & {"measured-against-computed", "told-against-drawn"} == rules


def test_how_far_off_in_standard_deviations() -> None:
    """A way told as complete has the drawn spread of 4 dB and no walls: 20.3 dB off are some 5 of it."""
    assert number(book(level=-61), "off_in_spreads", READING) == pytest.approx((61 - 40.71) / 4, abs=0.05)
    assert number(book(level=-41), "off_in_spreads", READING) == pytest.approx(0.1, abs=0.1)
