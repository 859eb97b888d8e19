"""What must hold between two sites that differ in one thing."""

from __future__ import annotations

import json
import os
import re
import subprocess
import sys
from collections.abc import Iterator
from functools import cache
from itertools import product
from pathlib import Path
from typing import Any

import numpy as np
import pytest
import yaml
from hypothesis import given, settings
from hypothesis import strategies as st

from advisor.assess import assess
from advisor.data import catalogue as data
from advisor.facts import catalogue
from advisor.facts.book import Book
from advisor.report.json_v1 import check_json
from advisor.site.load import load_text
from advisor.subjects import place
from advisor.trace import Fact
from advisor.values import Known, Options, Unknown, Value

PROFILES = {path.stem: path for path in sorted((Path(__file__).parents[1] / "profiles").glob("*.yaml"))}
profiles = pytest.mark.parametrize("profile", list(PROFILES))


@cache
def text_of(profile: str) -> str:
    return PROFILES[profile].read_text(encoding="utf-8")


def declared(profile: str) -> dict[str, Any]:
    content = yaml.safe_load(text_of(profile))
    assert isinstance(content, dict)
    return content


def loaded(content: dict[str, Any]) -> Any:
    return load_text(yaml.safe_dump(content, sort_keys=False, allow_unicode=True), "site.yaml")


def book(content: dict[str, Any]) -> Book:
    return Book(loaded(content))


def check(content: dict[str, Any]) -> dict[str, Any]:
    answer = json.loads(check_json(assess(loaded(content))))
    assert isinstance(answer, dict)
    return answer


RESULTS = ("site", "node", "radio", "hop", "place", "need", "domain", "name", "node-pair")
"""Kinds compared; those of single links feed them."""


WHAT_IS_TOLD = {"gear_given", "filled_up", "mount_told", "mount_height_m", "mount_is_exact", "fast_transition_told"}
"""Facts that say whether the file tells something: a default written out is told, so they change."""


def every_fact(book: Book) -> Iterator[tuple[str, Fact]]:
    for spec in catalogue.entries():
        if spec.about not in RESULTS or spec.name in WHAT_IS_TOLD:
            continue
        for subject in book.subjects(spec.about):
            for choice in product(*spec.variants.values()):
                variant = dict(zip(spec.variants, choice, strict=True))
                yield spec.key(subject, **variant), book.get(spec.name, subject, **variant)


def rounded(value: Value) -> Any:
    """A value without its cases, numbers to nine places."""
    if isinstance(value, Options):
        return {name: rounded(answer) for name, answer in value.answers.items()}
    if isinstance(value, Unknown):
        return value.missing
    return [round(end, 9) if isinstance(end, float) else end for end in (value.centre, value.low, value.high)]


def values(book: Book) -> dict[str, Any]:
    return {key: rounded(fact.value) for key, fact in every_fact(book)}


# Walls


def levels(book: Book) -> dict[str, float]:
    """Every level between an own radio and a place or node, at the centre, the open uplinks' ways by name."""
    found = {}
    for name, kind in (("level_dbm", "place-radio"), ("heard_dbm", "radio-pair")):
        for subject in book.subjects(kind):
            value = book.get(name, subject).value
            if isinstance(value, Known):
                found[f"{name} {subject.key}"] = float(value.centre)
    return found


numbers = st.floats(-1.0, 22.0).map(lambda value: round(value, 1))
points = st.tuples(numbers, numbers)
lines = st.lists(points, min_size=2, max_size=4, unique=True)
constructions = st.sampled_from(sorted(data("constructions")["constructions"]))
DRAWN = [
    name
    for name in PROFILES
    if "floors" in declared(name) and all("walls" in floor for floor in declared(name)["floors"].values())
]


@pytest.mark.parametrize("profile", DRAWN)
@given(line=lines, of=constructions, data=st.data())
@settings(max_examples=15, deadline=None)
def test_a_wall_more_never_raises_a_level(profile: str, line: list[Any], of: str, data: st.DataObject) -> None:
    content = declared(profile)
    floor = data.draw(st.sampled_from(sorted(content["floors"])))
    before = levels(book(content))
    content["floors"][floor]["walls"]["further"] = {"line": [list(point) for point in line], "of": of}
    after = levels(book(content))
    for key, level in after.items():
        assert level <= before[key] + 1e-9, key


@pytest.mark.parametrize("profile", DRAWN)
@given(line=lines, of=constructions)
@settings(max_examples=10, deadline=None)
def test_the_less_a_plan_claims_the_less_is_promised(profile: str, line: list[Any], of: str) -> None:
    """The same walls, said to be all there are, some of them, or none of them."""
    content = declared(profile)
    sorted(content["floors"].items())[0][1]["walls"]["further"] = {"line": [list(point) for point in line], "of": of}
    told = []
    for plan in ("none", "partial", "complete"):
        for floor in content["floors"].values():
            floor["plan"] = plan
        told.append(levels(book(content)))
    none, partial, complete = told
    for key in complete:
        assert none[key] <= partial[key] + 1e-9, key
        assert partial[key] <= complete[key] + 1e-9, key


# Defaults


def with_value(content: dict[str, Any], path: str, value: Any) -> dict[str, Any]:
    """The site with a value written at a path. A client kind given in part stays like the catalogue's of its name."""
    content = json.loads(json.dumps(content))
    *blocks, last = path.split(".")
    here = content
    for part in blocks:
        here = here.setdefault(part, {})
    here[last] = value
    if blocks[0] == "clients":
        here.setdefault("like", blocks[1])
    return content


def defaults(profile: str) -> Iterator[tuple[str, Any]]:
    """Every default and catalogue value the site leaves out, with its path."""
    base = declared(profile)
    about = base["site"]
    for name, value in {"environment": "house", "ceiling_m": 3.0}.items():
        if name not in about:
            yield f"site.{name}", value
    yield "internet.at", next(name for name, node in base["nodes"].items() if node["role"] == "gateway")
    for name, value in {"delay_ms": 15.0}.items():
        if name not in base["internet"]:
            yield f"internet.{name}", value
    gear = data("gear")
    for node_id, node in base["nodes"].items():
        kind = node.get("gear", gear["usual"][node["role"]])
        entry = gear["gear"][kind]
        if "gear" not in node:
            yield f"nodes.{node_id}.gear", kind
        if "height_m" not in node:
            yield f"nodes.{node_id}.height_m", 2.0
        if "radios" not in node:
            yield f"nodes.{node_id}.radios", {key: {"band": row["band"]} for key, row in entry["radios"].items()}
            yield f"nodes.{node_id}.radios", entry["radios"]
        for radio_id, radio in node.get("radios", {}).items():
            band = str(radio["band"])
            usual = next((row for row in entry["radios"].values() if row["band"] == band), {})
            for name in ("standard", "streams", "width_mhz"):
                if name not in radio:
                    yield f"nodes.{node_id}.radios.{radio_id}.{name}", usual[name]
            if "antenna_dbi" not in radio:
                yield f"nodes.{node_id}.radios.{radio_id}.antenna_dbi", entry["antenna_dbi"][band]
            for name, value in {"serves_clients": True, "scheduling": entry["scheduling"]}.items():
                yield f"nodes.{node_id}.radios.{radio_id}.{name}", value
        if "uplink" in node:
            for name, value in {"over": "radio", "choice": "fixed"}.items():
                if name not in node["uplink"]:
                    yield f"nodes.{node_id}.uplink.{name}", value
    kinds = data("client-kinds")["kinds"]
    for kind in sorted({row["client"] for row in base["places"].values()}):
        own = base.get("clients", {}).get(kind, {})
        usual = kinds[own.get("like", kind)]
        for name in (
            "bands",
            "standard",
            "streams",
            "width_mhz",
            "security",
            "conducted_dbm",
            "antenna_dbi",
            "body_loss_db",
        ):
            if name not in own:
                yield f"clients.{kind}.{name}", usual[name]
    for place_id, row in base["places"].items():
        count = row.get("count", 1)
        for name, value in {"count": 1, "active": count, "calls": 0, "to": "internet", "height_m": 1.2}.items():
            if name not in row:
                yield f"places.{place_id}.{name}", value
    for floor_id, floor in base.get("floors", {}).items():
        yield f"floors.{floor_id}.base_m", floor["level"] * about.get("ceiling_m", 3.0)
        if "plan" not in floor:
            yield f"floors.{floor_id}.plan", "partial" if floor.get("walls") else "none"
    for network_id, network in base["networks"].items():
        for name, value in {"generation": 1, "purpose": "clients", "hidden": False}.items():
            if name not in network:
                yield f"networks.{network_id}.{name}", value
        if "nodes" not in network:
            yield f"networks.{network_id}.nodes", list(base["nodes"])
        yield f"networks.{network_id}.bands", ["2.4", "5", "6"]
    for neighbour_id, neighbour in base.get("neighbours", {}).items():
        if "width_mhz" not in neighbour:
            yield f"neighbours.{neighbour_id}.width_mhz", 20


def changed(before: dict[str, Any], content: dict[str, Any]) -> dict[str, Any]:
    """Keys whose value is another, with both."""
    after = values(book(content))
    return {key: (before.get(key), after.get(key)) for key in before | after if before.get(key) != after.get(key)}


@pytest.mark.parametrize("profile", [name for name in PROFILES if name != "kestrel-yard"])
def test_a_default_written_out_changes_no_value(profile: str) -> None:
    """Every fourth one alone; all of them at once below."""
    before, written = values(book(declared(profile))), list(defaults(profile))
    assert len(written) > 20
    for path, value in written[::4]:
        assert changed(before, with_value(declared(profile), path, value)) == {}, path


@profiles
def test_all_defaults_written_out_change_no_value(profile: str) -> None:
    content = declared(profile)
    for path, value in defaults(profile):
        content = with_value(content, path, value)
    assert changed(values(book(declared(profile))), content) == {}


# Neighbours

NEIGHBOURS = [
    {"band": "2.4", "channel": 1, "busy_share": 0.5},
    {"band": "2.4", "channel": 8, "width_mhz": 40, "busy_share": 0.3},
    {"band": "5", "channel": 36, "width_mhz": 80, "busy_share": 0.6},
    {"band": "5", "channel": 44, "busy_share": 0.9},
    {"band": "5", "channel": 36, "width_mhz": 160},
]


def centres(fact: Fact) -> dict[str, float]:
    """The centre, or that of each option."""
    if isinstance(fact.value, Options):
        return {name: float(answer.centre) for name, answer in fact.value.answers.items() if isinstance(answer, Known)}
    return {"": float(fact.value.centre)} if isinstance(fact.value, Known) else {}


def met(book: Book) -> list[float]:
    """What share of its demand each place and direction gets with everyone active, the smallest first."""
    return sorted(
        min(amount / float(book.site.places[name].model_dump()[f"{direction}_mbps"] or 1.0), 1.0)
        for name in sorted(book.site.places)
        for direction in ("down", "up")
        for amount in centres(book.get("goodput_everyone_mbps", place(name), dir=direction)).values()
    )


@profiles
@pytest.mark.parametrize("neighbour", NEIGHBOURS, ids=lambda row: f"{row['band']}-{row['channel']}")
def test_a_neighbour_less_never_lowers_what_a_place_gets(profile: str, neighbour: dict[str, Any]) -> None:
    """Alone: no place. With everyone: not who is worst off; others may have lived on what that one could not use."""
    content = declared(profile)
    quiet = book(content)
    busy = book(content | {"neighbours": {**content.get("neighbours", {}), "further": neighbour}})
    for name in sorted(quiet.site.places):
        for direction, transport in product(("down", "up"), ("tcp", "udp")):
            with_it = centres(busy.get("goodput_mbps", place(name), dir=direction, transport=transport))
            without = centres(quiet.get("goodput_mbps", place(name), dir=direction, transport=transport))
            # where all ways of an open uplink give the same, there is one answer without a name
            for option in with_it.keys() | without.keys():
                amount = with_it.get(option, with_it.get(""))
                silent = without.get(option, without.get(""))
                if amount is not None and silent is not None:
                    # what shared air gives is found in steps that end within a millionth
                    assert silent >= amount * (1 - 1e-6), (name, direction, option)
            assert with_it
            assert without
    assert met(quiet)[0] >= met(busy)[0] - 1e-9


@profiles
def test_one_more_asking_never_helps_who_is_worst_off(profile: str) -> None:
    content = declared(profile)
    before = met(book(content))[0]
    for row in content["places"].values():
        row["count"] = row["active"] = row.get("count", 1) + 1
        assert met(book(content))[0] <= before + 1e-9


# The text


def turned(content: Any) -> Any:
    """The same with the words of every block in the opposite order."""
    if isinstance(content, dict):
        return {key: turned(value) for key, value in reversed(content.items())}
    return content


def without_positions(answer: Any) -> Any:
    return json.loads(re.sub(r"site\.yaml:\d+(:\d+)?", "site.yaml", json.dumps(answer)))


@profiles
def test_the_order_of_the_file_changes_nothing_but_positions(profile: str) -> None:
    content = declared(profile)
    assert without_positions(check(turned(content))) == without_positions(check(content))


@profiles
def test_comments_and_style_change_nothing_but_positions(profile: str) -> None:
    written = json.loads(check_json(assess(load_text(text_of(profile), "site.yaml"))))
    assert without_positions(written) == without_positions(check(declared(profile)))


@profiles
def test_the_same_input_gives_the_same_bytes(profile: str) -> None:
    """In programs of their own, with other seeds for the order of sets."""
    outputs = set()
    for seed in ("1", "77"):
        run = subprocess.run(
            [sys.executable, "-m", "advisor", "check", str(PROFILES[profile]), "--format", "json"],
            capture_output=True,
            check=False,
            env={**os.environ, "PYTHONHASHSEED": seed},
        )
        assert run.returncode in (0, 1), run.stderr
        outputs.add(run.stdout)
    assert len(outputs) == 1


@profiles
def test_one_thing_more_elsewhere_leaves_every_level_as_it_was(profile: str) -> None:
    content = declared(profile)
    before = book(content)
    more = dict(content, places={**content["places"], "a-further-seat": {"client": "tablet"}})
    after = book(more)
    for subject in before.subjects("place-radio"):
        one, other = (entry.get("level_dbm", subject).value for entry in (before, after))
        if isinstance(one, Known):
            assert isinstance(other, Known)
            assert np.array_equal(np.asarray(one.raw), np.asarray(other.raw))
