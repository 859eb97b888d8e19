"""Small sites with the findings an installer expects, written before the rules were run on them.

`expect` must be found, `either` may be; anything else that is found is a false alarm. README.md tells how the numbers
of docs/rule-book.md are counted; they are counted anew here.
"""

from __future__ import annotations

from functools import cache
from pathlib import Path
from typing import Any

import pytest
import yaml

from advisor.assess import Assessment, assess, shipped_rules
from advisor.site.load import load_site

FOLDER = Path(__file__).parent
SITES = sorted(path for path in FOLDER.glob("[0-9]*.yaml") if not path.name.endswith(".expected.yaml"))


def expected(site: Path) -> dict[str, Any]:
    content: dict[str, Any] = yaml.safe_load(site.with_suffix(".expected.yaml").read_text(encoding="utf-8"))
    return content


@cache
def checked(site: Path) -> Assessment:
    return assess(load_site(site))


def found(site: Path) -> set[str]:
    return {finding.identity for finding in checked(site).judgement.findings}


def score(sites: list[Path]) -> tuple[int, int, int, list[str]]:
    """Hits, misses and false alarms over all sites, with the last two in words."""
    hits, told = 0, []
    misses = alarms = 0
    for site in sites:
        wanted = expected(site)
        expect, either, got = set(wanted["expect"] or ()), set(wanted.get("either") or ()), found(site)
        hits += len(expect & got)
        misses += len(expect - got)
        alarms += len(got - expect - either)
        told += [f"{site.stem}: missed {name}" for name in sorted(expect - got)]
        told += [f"{site.stem}: false alarm {name}" for name in sorted(got - expect - either)]
    return hits, misses, alarms, told


def test_the_corpus_is_large_enough() -> None:
    assert len(SITES) >= 25
    known = {rule.id for rule in shipped_rules()}
    named = {entry.partition("[")[0] for site in SITES for entry in expected(site)["expect"] or ()}
    assert named <= known
    assert len(named) >= 45


def test_precision_and_recall() -> None:
    """The numbers written in docs/rule-book.md are these."""
    hits, misses, alarms, told = score(SITES)
    page = (FOLDER.parents[1] / "docs" / "rule-book.md").read_text(encoding="utf-8")
    line = (
        f"| {len(SITES)} | {hits} | {misses} | {alarms} | {hits / (hits + alarms):.2f} | {hits / (hits + misses):.2f} |"
    )
    assert line in page, "\n".join([line, *told])


@pytest.mark.parametrize("site", [site for site in SITES if expected(site).get("heads")], ids=lambda site: site.stem)
def test_one_planted_cause_gives_one_headed_group(site: Path) -> None:
    groups = checked(site).groups
    for head in expected(site)["heads"]:
        (group,) = [entry for entry in groups if entry.head.identity == head]
        assert group.consequences
