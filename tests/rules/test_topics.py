"""One whole example site for each topic: exactly the expected findings appear, each goes when its remedy is applied by
hand.

`topics/<topic>.expected.yaml` lists every finding of the whole rule book on `topics/<topic>.yaml`, and for each the
first thing its `do` says as edits of the text.
"""

from __future__ import annotations

from functools import cache
from pathlib import Path
from typing import Any

import pytest
import yaml

from advisor.assess import DEEP, Assessment, assess, shipped_rules
from advisor.site.load import load_text

FOLDER = Path(__file__).parent / "topics"
TOPICS = sorted({rule.topic for rule in shipped_rules()})
EXPECTED: dict[str, list[dict[str, Any]]] = {
    path.name.removesuffix(".expected.yaml"): yaml.safe_load(path.read_text(encoding="utf-8"))["findings"]
    for path in sorted(FOLDER.glob("*.expected.yaml"))
}
CASES = [(topic, entry) for topic, entries in EXPECTED.items() for entry in entries]


def text_of(topic: str) -> str:
    return (FOLDER / f"{topic}.yaml").read_text(encoding="utf-8")


def found(text: str, topic: str) -> dict[str, str]:
    """Identity and verdict of every finding."""
    return {finding.identity: finding.verdict for finding in checked(text, topic in DEEP).judgement.findings}


@cache
def checked(text: str, deep: bool) -> Assessment:
    return assess(load_text(text, "site.yaml"), deep=deep)


def test_every_topic_has_its_example_site() -> None:
    assert sorted(EXPECTED) == TOPICS


@pytest.mark.parametrize("topic", sorted(EXPECTED))
def test_the_topic_fires_on_its_own_site(topic: str) -> None:
    """At least three rules of the topic, or all of them where it has fewer."""
    mine = {rule.id for rule in shipped_rules() if rule.topic == topic}
    fired = {entry["finding"].partition("[")[0] for entry in EXPECTED[topic]} & mine
    assert len(fired) >= min(3, len(mine))


@pytest.mark.parametrize("topic", sorted(EXPECTED))
def test_exactly_the_expected_findings_appear(topic: str) -> None:
    assert found(text_of(topic), topic) == {entry["finding"]: entry["verdict"] for entry in EXPECTED[topic]}


@pytest.mark.parametrize(("topic", "entry"), CASES, ids=[f"{topic}-{entry['finding']}" for topic, entry in CASES])
def test_a_finding_goes_when_its_remedy_is_applied(topic: str, entry: dict[str, Any]) -> None:
    text = text_of(topic)
    for edit in entry["mend"]:
        assert text.count(edit["from"]) == 1, edit["from"]
        text = text.replace(edit["from"], edit["to"])
    assert entry["finding"] not in found(text, topic)
