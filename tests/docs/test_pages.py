"""The generated pages are what their scripts make, and what the pages show holds. `ACCEPT_GOLDEN=1` writes them."""

from __future__ import annotations

import importlib.util
import os
import re
from pathlib import Path
from statistics import median
from types import ModuleType
from typing import Any

import pytest
import yaml

from advisor.assess import shipped_rules
from advisor.facts import catalogue
from advisor.physics.materials import construction_ids
from advisor.report import rules_pages
from advisor.rulebook.examples import run_examples
from advisor.rulebook.load import read_rule
from advisor.site.load import load_text
from advisor.site.schema import json_schema

ROOT = Path(__file__).parent.parent.parent
DOCS = ROOT / "docs"
PAGES = sorted(path for path in [*DOCS.rglob("*.md"), ROOT / "DEVELOPERS.md", ROOT / "CHANGELOG.md"])


def script(path: Path) -> ModuleType:
    spec = importlib.util.spec_from_file_location(path.stem, path)
    assert spec is not None
    assert spec.loader is not None
    module = importlib.util.module_from_spec(spec)
    spec.loader.exec_module(module)
    return module


SITE_FILE = script(DOCS / "make_site_file.py")
SITE_PAGE = (DOCS / "site-file.md").read_text(encoding="utf-8")


def agrees(page: Path, made: str) -> None:
    if os.environ.get("ACCEPT_GOLDEN") == "1":
        page.write_text(made, encoding="utf-8")
    assert page.read_text(encoding="utf-8") == made


def test_the_site_file_page_is_what_the_schema_says() -> None:
    agrees(DOCS / "site-file.md", SITE_FILE.page(SITE_PAGE, json_schema()))


MADE = rules_pages.pages(shipped_rules())


@pytest.mark.parametrize("name", sorted(MADE))
def test_a_rules_page_is_what_the_rules_say(name: str) -> None:
    agrees(DOCS / "rules" / name, MADE[name])


def test_no_page_is_left_of_a_topic_that_is_gone() -> None:
    assert {path.name for path in (DOCS / "rules").iterdir()} == set(MADE)


def tables() -> str:
    return SITE_PAGE.partition(SITE_FILE.MARKER)[2]


def test_every_field_of_the_site_file_stands_in_a_table() -> None:
    schema = json_schema()
    for block in [schema, *schema["$defs"].values()]:
        for field, entry in block["properties"].items():
            assert re.search(rf"^\| \[?`{field}`", tables(), re.MULTILINE), field
            assert "description" in entry or "$ref" in entry, field


def test_a_lost_marker_is_refused() -> None:
    with pytest.raises(ValueError, match="lost its marker"):
        SITE_FILE.page("# The site file\n", json_schema())


def test_every_construction_is_named() -> None:
    head = SITE_PAGE.partition(SITE_FILE.MARKER)[0]
    (listed,) = re.findall(r"^Constructions: (.+?)\.$", head, re.MULTILINE | re.DOTALL)
    assert re.findall(r"`([a-z-]+)`", listed) == list(construction_ids())


BASE = """
site: {name: Kestrel Yard, country: GB, environment: house, invented: true}
nodes: {gateway: {role: gateway}}
networks: {yard: {name: kestrel-yard, security: wpa2-personal}}
places: {study: {client: laptop}}
"""
EXAMPLES = re.findall(r"```yaml\n(.*?)```", SITE_PAGE, re.DOTALL)


@pytest.mark.parametrize("example", EXAMPLES, ids=lambda text: text.split(":")[0] + f"-{len(text)}")
def test_examples_load_in_a_small_site(example: str) -> None:
    """Each section of an example replaces that of the small site."""
    site: dict[str, Any] = yaml.safe_load(BASE) | yaml.safe_load(example)
    loaded = load_text(yaml.safe_dump(site, sort_keys=False, allow_unicode=True), "example.yaml")
    assert all(loaded.gave(section) for section in yaml.safe_load(example))


def test_there_are_examples() -> None:
    assert len(EXAMPLES) == 9


@pytest.mark.parametrize("page", PAGES, ids=lambda page: page.name)
def test_links_between_pages_lead_somewhere(page: Path) -> None:
    text = re.sub(r"```.*?```|`[^`\n]*`", "", page.read_text(encoding="utf-8"), flags=re.DOTALL)
    for target in re.findall(r"\]\(([^)#:]+)(?:#[^)]*)?\)", text):
        assert (page.parent / target).exists(), f"{page.name}: {target}"


@pytest.mark.parametrize("page", PAGES, ids=lambda page: page.name)
def test_files_named_on_the_pages_are_there(page: Path) -> None:
    for name in re.findall(
        r"`((?:advisor|tests|rules|docs|profiles|bench)/[\w./-]+\.(?:py|md|yaml|csv|txt))`",
        page.read_text(encoding="utf-8"),
    ):
        assert (ROOT / name).exists(), f"{page.name}: {name}"


def test_the_example_rule_for_developers_keeps_its_examples() -> None:
    text = (ROOT / "DEVELOPERS.md").read_text(encoding="utf-8")
    ((file, rule_text),) = re.findall(r"<!-- rule: (\S+) -->\n```yaml\n(.*?)```", text, re.DOTALL)
    rule, problems = read_rule(rule_text, file, catalogue.lookup, catalogue.entries)
    assert problems == []
    assert rule is not None
    assert run_examples(rule, catalogue.lookup) == []


def test_every_folder_of_the_program_is_on_the_map() -> None:
    text = (ROOT / "DEVELOPERS.md").read_text(encoding="utf-8")
    folders = {path.name for path in (ROOT / "advisor").iterdir() if path.is_dir() and path.name != "__pycache__"}
    assert all(f"| `advisor/{folder}/` |" in text for folder in folders)


def test_the_layers_for_developers_are_those_that_are_tested() -> None:
    text = " ".join((ROOT / "DEVELOPERS.md").read_text(encoding="utf-8").split())
    (told,) = re.findall(r"Imports go down: (.+?)\.", text)
    layers = script(ROOT / "tests" / "test_layers.py")
    assert [set(re.split(r" \| |, ", part)) for part in told.split(" → ")] == list(layers.LAYERS)


def test_the_measured_agreement_is_the_one_told() -> None:
    """The table of the model page against the rows of the packet simulator, computed anew."""
    links = script(ROOT / "tests" / "reference" / "test_single_links.py")
    told = re.findall(
        r"^\| (UDP|TCP), (single|other)[^|]* \| (\d+) \| ([\d.]+) % \| ([\d.]+) %",
        (DOCS / "model.md").read_text(encoding="utf-8"),
        re.MULTILINE,
    )
    found = [(transport, "single", links.errors(transport)) for transport in ("udp", "tcp")]
    for transport in ("udp", "tcp"):
        rows = [param.values[0] for param in links.VARIANTS if param.values[0]["transport"] == transport]
        found.append((transport, "other", [abs(links.error(row, links.with_variant(row))) for row in rows]))
    assert told == [
        (transport.upper(), kind, str(len(errors)), f"{100 * median(errors):.2f}", f"{100 * max(errors):.2f}")
        for transport, kind, errors in found
    ]


@pytest.mark.parametrize("folder", ["physics", "network", "facts"])
def test_every_part_of_the_folders_that_compute_is_on_the_map(folder: str) -> None:
    text = (ROOT / "DEVELOPERS.md").read_text(encoding="utf-8")
    (row,) = re.findall(rf"^\| `advisor/{folder}/` \|(.+)$", text, re.MULTILINE)
    named = {name.removesuffix(".py") for name in re.findall(r"`([\w.]+)`", row)}
    assert {path.stem for path in (ROOT / "advisor" / folder).glob("*.py")} - {"__init__"} <= named


def test_the_rules_are_counted() -> None:
    (told,) = re.findall(r"the (\d+) rules", (ROOT / "CHANGELOG.md").read_text(encoding="utf-8"))
    assert int(told) == len(shipped_rules())
