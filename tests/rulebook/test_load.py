"""Reading rule files: what is refused, in which words, and where."""

from __future__ import annotations

from pathlib import Path

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from advisor.errors import RuleError
from advisor.rulebook.load import RuleFilesError, find_rules, load_rules, read_rule


def problems(engine, text, name="weak-hop"):
    rule, found = read_rule(text, f"rules/air/{name}.yaml", engine.lookup, engine.entries)
    assert (rule is None) == bool(found)
    return [problem.text("weak-hop.yaml").replace("\n    ", " ") for problem in found]


def test_the_sample_loads(engine):
    rule = engine.rule_from(engine.sample)
    assert (rule.id, rule.about, rule.topic, rule.file) == ("weak-hop", "hop", "air", "rules/air/weak-hop.yaml")
    assert rule.body.do == ("Move {{ subject.name }} nearer to its parent.", "Or give it a wire.")
    assert rule.body.sources == ("common practice, no source",)


# one change to the sample → the one message
CHANGES = [
    ("id: weak-hop\n", "id: weak_hop\n", "weak-hop.yaml:1:1: id: String should match pattern"),
    ("id: weak-hop\n", "id: other\n", "weak-hop.yaml:1:1: rule other: the id is other but the file is named weak-hop"),
    ("status: trial\n", "status: draft\n", "weak-hop.yaml:3:1: status: Input should be 'stable' or 'trial'"),
    ("level: warning\n", "level: bad\n", "weak-hop.yaml:4:1: level: Input should be 'error', 'warning' or 'note'"),
    ("level: warning\n", "", "weak-hop.yaml:1:1: level is missing"),
    ("about: hop\n", "about: hopp\n", "weak-hop.yaml:6:1: about: unknown subject kind 'hopp'. Allowed: site, node"),
    ("why:", "whyy:", "weak-hop.yaml:12:1: unknown key whyy Nearest: why"),
    (
        "remedies:\n  - {operator",
        "remedies:\n  - {operater: x, operator",
        "unknown key remedies.0.operater Nearest: operator",
    ),
    ("title: The uplink is weak\n", "title: 5\n", "weak-hop.yaml:2:1: title: Input should be a valid string"),
    ("title: The uplink is weak\n", "title: a\ntitle: b\n", "weak-hop.yaml:3:1: the key title stands here twice"),
    ("why: A", "why: !!python/name:os.system A", "weak-hop.yaml:12:6: tags are not used in rule files"),
    ("facts: {medium: air, margin_db: 4}", "facts: &a {medium: *a}", "anchors and aliases are not used"),
    ("why: A", "why: [A", "weak-hop.yaml:13:3: cannot be read as YAML"),
    # parameters
    (', source: "common practice, no source"}', "}", "weak-hop.yaml:10:3: params.least_db.source is missing"),
    ("unit: dB, ", "", "weak-hop.yaml:10:3: params.least_db.unit is missing"),
    ("unit: dB,", "unit: dBm,", "weak-hop.yaml:9:1: params: the name least_db promises dB but the unit is 'dBm'"),
    ("value: 10,", "value: [],", "a list holds values of one type, at least one"),
    ("value: 10,", "value: [1, a],", "a list holds values of one type, at least one"),
    # conditions
    (
        "when: margin_db",
        "when: marjin_db",
        "weak-hop.yaml:8:1: rule weak-hop: when, column 1: unknown fact marjin_db about hop Nearest: margin_db",
    ),
    (
        "when: margin_db < params.least_db",
        "when: margin_db < 10",
        "when, column 13: a bare number compared with dB Make it a parameter with unit and source",
    ),
    (
        "when: margin_db < params.least_db",
        "when: margin_db",
        "when, column 1: must give yes or no; this gives a number",
    ),
    ('where: medium == "air"', "where: medium", "weak-hop.yaml:7:1: rule weak-hop: where, column 1: must give yes or"),
    ("when: margin_db < params.least_db\n", "", "the rule: a rule has either 'when' or 'need'"),
    (
        "when: margin_db",
        "need: {value: margin_db, at_least: params.least_db}\nwhen: margin_db",
        "either 'when' or 'need'",
    ),
    (
        "when: margin_db < params.least_db",
        "need: {value: fixed, at_least: params.least_db}",
        "weak-hop.yaml:8:8: rule weak-hop: need.value, column 1: must give a number; this gives a boolean",
    ),
    (
        "when: margin_db < params.least_db",
        "need: {value: margin_db, at_least: '10'}",
        "need.at_least, column 1: dB compared with a plain number",
    ),
    ("when: margin_db < params.least_db", "need: {value: margin_db, at_leest: 10}", "unknown key need.at_leest"),
    (
        "cause: cause\n",
        "cause: causes\n",
        "rule weak-hop: cause, column 1: unknown fact causes about hop Nearest: cause",
    ),
    ("cause: cause\n", "cause: depth\n", "rule weak-hop: cause: depth is a number; it must be a class fact"),
    # examples
    ("expect: fail", "expect: at-risk", "weak-hop.yaml:21:1: examples: at least one example must expect: fail"),
    ("expect: unknown", "expect: fail", "at least one example must expect: unknown"),
    ("    limit: true\n", "", "one example must stand at the limit itself; mark it limit: true"),
    ("name: strong", "name: weak", "two examples have the same name"),
    ("margin_db: 4", "marjin_db: 4", "rule weak-hop: example 'weak': marjin_db: unknown fact marjin_db about hop"),
    (
        "margin_db: 4",
        "margin_db: strong",
        "weak-hop.yaml:23:26: rule weak-hop: example 'weak': margin_db: 'strong' is no",
    ),
    ("margin_db: 4", "margin_db: " + "9" * 400, "the number is too long"),
    ("value: 10,", "value: " + "9" * 400 + ",", "params.least_db.value"),
    ("margin_db: 4", "margin_db: [5, 4, 6]", "[low, centre, high] must rise"),
    (
        "margin_db: 4",
        "margin_db: {unknwn: x}",
        "is no number. Allowed: a number, [low, centre, high], unknown, options",
    ),
    ("margin_db: 4", "goodput_mbps: 1, goodput_mbps.down: 4", "example 'weak': goodput_mbps.down: given twice"),
    ("medium: ethernet", "medium: true", "True is no class"),
]


@pytest.mark.parametrize(("old", "new", "expected"), CHANGES)
def test_refused(engine, old, new, expected):
    assert engine.sample.count(old) >= 1
    found = problems(engine, engine.sample.replace(old, new, 1))
    assert len(found) >= 1
    assert any(expected in line for line in found), found


def test_yes_and_no_words_are_texts(engine):
    rule = engine.rule_from(engine.sample.replace("medium: ethernet", "medium: no"))
    values = rule.examples[-1][1]
    assert [value.centre for value in values.values()] == ["no"]


HUGE = "x: " + "9" * 5000
DEEP = "[" * 100_000
NO_RULES = [
    HUGE,
    DEEP,
    "x: \x00",
    'x: "\\ud800"',
    "",
    "just a text",
    "- a\n- list",
    "\t- tab",
    "a: [",
    "? [x]\n: y",
    "[" * 50 + "]" * 50,
]


@pytest.mark.parametrize("text", NO_RULES)
def test_what_is_no_rule_is_refused(engine, text):
    assert len(problems(engine, text)) == 1


@given(st.data())
@settings(suppress_health_check=[HealthCheck.too_slow])
def test_no_rule_text_crashes_the_reader(engine, data):
    """The sample with a piece cut out and something else put there: a rule or problems, never another error."""
    text = engine.sample
    start = data.draw(st.integers(0, len(text)))
    length = data.draw(st.integers(0, 20))
    piece = data.draw(st.text("{}[]:,-\n \"'&*!|>#%@0123456789.eaindb<_()", max_size=12))
    rule, found = read_rule(
        text[:start] + piece + text[start + length :], "rules/air/weak-hop.yaml", engine.lookup, engine.entries
    )
    assert (rule is None) == bool(found)


def test_an_empty_rulebook_is_an_error(engine, tmp_path):
    with pytest.raises(RuleError, match="no rule files"):
        load_rules(engine.lookup, engine.entries, tmp_path)


def test_every_error_of_every_rule_is_reported(engine, tmp_path):
    broken = engine.sample.replace("when: margin_db", "when: marjin_db").replace("cause: cause", "cause: casue")
    files = {
        "air/weak-hop.yaml": broken,
        "air/other.yaml": engine.sample,
        "stray.yaml": engine.sample,
        "air/old.yml": "x: 1",
        "wire/bad.yaml": "a: [",
        "wire/latin.yaml": None,
    }
    for name, text in files.items():
        path = tmp_path / name
        path.parent.mkdir(exist_ok=True)
        path.write_bytes(text.encode() if text is not None else b"\xff\xfe\xfa")
    with pytest.raises(RuleFilesError) as caught:
        load_rules(engine.lookup, engine.entries, tmp_path)
    assert isinstance(caught.value, RuleError)
    seen = [(file, problem.what.partition(":")[0]) for file, problem in caught.value.problems]
    assert seen == [
        ("rules/air/old.yml", "a rule stands in rules/<topic>/<id>.yaml"),
        ("rules/air/other.yaml", "rule weak-hop"),
        ("rules/air/weak-hop.yaml", "rule weak-hop"),
        ("rules/air/weak-hop.yaml", "rule weak-hop"),
        ("rules/stray.yaml", "a rule stands in rules/<topic>/<id>.yaml"),
        ("rules/wire/bad.yaml", "cannot be read as YAML"),
        ("rules/wire/latin.yaml", "cannot be read"),
    ]
    assert "rules/air/weak-hop.yaml:8:1: rule weak-hop: when, column 1" in str(caught.value)


def test_rules_come_by_id_and_an_id_is_used_once(engine, tmp_path):
    for topic, name in (("wire", "a-rule"), ("air", "b-rule")):
        (tmp_path / topic).mkdir()
        (tmp_path / topic / f"{name}.yaml").write_text(engine.sample.replace("id: weak-hop", f"id: {name}"))
    loaded = load_rules(engine.lookup, engine.entries, tmp_path)
    assert [(rule.id, rule.topic) for rule in loaded] == [("a-rule", "wire"), ("b-rule", "air")]
    (tmp_path / "wire" / "b-rule.yaml").write_text(engine.sample.replace("id: weak-hop", "id: b-rule"))
    with pytest.raises(RuleFilesError, match="the id b-rule is also used by rules/air/b-rule"):
        load_rules(engine.lookup, engine.entries, tmp_path)


def test_rules_are_found_in_a_checkout_and_when_installed(tmp_path, monkeypatch):
    import advisor

    package = tmp_path / "advisor"
    (tmp_path / "rules").mkdir()
    package.mkdir()
    monkeypatch.setattr(advisor, "__file__", str(package / "__init__.py"))
    assert find_rules() == tmp_path / "rules"
    (package / "rules").mkdir()
    assert find_rules() == package / "rules"
    Path(package / "rules").rmdir()
    (tmp_path / "rules").rmdir()
    with pytest.raises(RuleError, match="no rules found"):
        find_rules()


def test_loading_needs_no_template_engine():
    import subprocess
    import sys

    code = "import sys; from advisor.rulebook import load, judge, group; print('jinja2' in sys.modules)"
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    assert done.stdout.strip() == "False"
