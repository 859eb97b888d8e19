"""The outcome map: what its classes say, what counts as indoors, and what cannot be mapped."""

from __future__ import annotations

import os
import subprocess
import sys
from pathlib import Path

import pytest

from advisor.facts.checks import open_book
from advisor.network.floor_grid import grids
from advisor.report.page.floor_maps import CLASSES, Maps, UseAt, class_of, floor_maps
from advisor.report.page.patterns import MEANING
from advisor.site.load import load_text
from advisor.tables import place_rows

ROOT = Path(__file__).parent.parent.parent
HEAD = """
site: {name: Invented, country: GB, environment: house, invented: true}
internet: {down_mbps: %s, up_mbps: 30}
networks: {home: {name: home, security: wpa2-personal}}
"""
BOX = "walls: {outer: {line: [[0, 0], [10, 0], [10, 8], [0, 8], [0, 0]], of: brick}}"


def maps_of(text: str, kind: str = "phone") -> Maps:
    book = open_book(load_text(text, "invented.yaml"))
    return floor_maps(book, kind, place_rows(book))


def drawn(walls: str = BOX, down: str = "100", gateway: str = "at: [2, 2], floor: g", places: str = "") -> str:
    return (
        HEAD % down
        + f"floors: {{g: {{level: 0, plan: complete, {walls}}}}}\n"
        + f"nodes: {{gateway: {{role: gateway, {gateway}}}}}\n"
        + f"places: {{here: {{client: phone, at: [8.2, 6.2], floor: g, down_mbps: 1, up_mbps: 0.5}}{places}}}\n"
    )


def test_a_call_that_holds_says_nothing_of_streams() -> None:
    """On a line too slow for a stream calls hold all the same, and the map says both."""
    assert maps_of(drawn(down="100")).floors[0].shares == {"calls": 1.0}
    assert maps_of(drawn(down="4")).floors[0].shares == {"calls, no video": 1.0}
    assert maps_of(drawn(down="1.5")).floors[0].shares == {"calls alone": 1.0}


def test_every_mix_of_verdicts_has_a_class_and_words() -> None:
    for calls in ("works", "may fail", "fails", "not known"):
        for video in ("works", "may fail", "fails", "not known"):
            for browsing in ("works", "may fail", "fails", "not known"):
                words = {"calls": calls, "video": video, "browsing": browsing}
                uses = {use: UseAt.model_validate({"word": word, "chance": None}) for use, word in words.items()}
                assert class_of(uses) in CLASSES
                assert MEANING[class_of(uses)]
    assert (
        class_of({use: UseAt(word="not known", chance=None) for use in ("calls", "video", "browsing")}) == "not known"
    )


def test_what_is_not_known_is_no_verdict() -> None:
    """A gateway nobody has placed: the map does not say that nothing works."""
    found = maps_of(drawn(gateway="gear: home-router"))
    assert found.floors[0].shares == {"not known": pytest.approx(1.0, abs=0.02)}
    assert found.left_out == ["gateway"]


def test_a_room_apart_from_the_others_is_not_known_and_the_rest_is() -> None:
    text = HEAD % "100" + (
        "rooms: {a: {size_m: [3, 3], next_to: {b: brick with door}}, b: {size_m: [3, 3]}, shed: {size_m: [2, 2]}}\n"
        "nodes: {gateway: {role: gateway, room: a}}\n"
        "places: {chair: {client: phone, room: b}}\n"
    )
    (floor,) = maps_of(text).floors
    told = {cell.room: class_of(cell.uses) for cell in floor.cells}
    assert told == {"a": "calls", "b": "calls", "shed": "not known"}


def test_walls_that_enclose_a_corner_only_do_not_hide_the_floor() -> None:
    """An outline with a gap and a closed store: the whole floor is mapped."""
    walls = (
        "walls: {outer: {line: [[0.2, 0], [10, 0], [10, 8], [0, 8], [0, 0]], of: brick}, "
        "store: {line: [[0, 8], [0, 6.5], [1.5, 6.5], [1.5, 8]], of: brick}}"
    )
    (grid,) = grids(load_text(drawn(walls), "gap.yaml").site, 700)
    assert grid.outline.area >= 79.0


def test_however_large_a_floor_is_its_cells_are_few() -> None:
    far = drawn("walls: {long: {line: [[0, 0], [10000, 0], [10000, 10000], [0, 10000], [0, 0]], of: brick}}")
    assert sum(len(grid.cells) for grid in grids(load_text(far, "far.yaml").site, 700)) <= 750


def test_places_on_no_map_are_named() -> None:
    places = (
        ", outdoors: {client: phone, at: [14, 4], floor: g}"
        ", by-distance: {client: phone, paths: {gateway: {distance_m: 5}}}"
        ", twin: {client: phone, at: [8.3, 6.3], floor: g}"
    )
    found = maps_of(drawn(places=places))
    assert found.places_left_out == ["by-distance", "outdoors"]
    assert [cell.places for cell in found.floors[0].cells if cell.places] == [["here", "twin"]]


def test_several_open_uplinks_give_the_same_map_in_every_process() -> None:
    text = drawn().replace(
        "nodes: {",
        "nodes: {one: {role: relay, at: [9, 1], floor: g, uplink: {choice: node}}, "
        "two: {role: relay, at: [1, 7], floor: g, uplink: {choice: node}}, ",
    )
    script = "import sys; from tests.report.test_floor_maps import maps_of; print(maps_of(sys.stdin.read()))"
    runs = {
        subprocess.run(
            [sys.executable, "-c", script],
            input=text,
            capture_output=True,
            text=True,
            check=True,
            cwd=ROOT,
            env={**os.environ, "PYTHONHASHSEED": seed},
        ).stdout
        for seed in ("1", "4", "7")
    }
    assert len(runs) == 1 and "cells=[Cell(" in runs.pop()
