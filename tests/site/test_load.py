"""Loading a site: values as written, places by path, everything wrong told at once."""

import json
import random
from pathlib import Path

import jsonschema
import pytest
import yaml
from hypothesis import given, settings
from hypothesis import strategies as st

from advisor.errors import InputError
from advisor.site import starter
from advisor.site.load import LoadedSite, load_site, load_text

SMALL = """\
site: {name: Kestrel Yard}
nodes:
  gateway:
    role: gateway
    radios:
      r5:
        band: 5
        channel: 36
  stair:
    role: relay
    uplink: {to: gateway}
choices:
  channels: {2.4: [1, 6], "5": [36]}
  powers_dbm: {gateway.r5: [10, 20]}
"""


def small(**changes: str) -> LoadedSite:
    text = SMALL
    for old, new in changes.items():
        text = text.replace(old, new)
    return load_text(text, "small.yaml")


def test_where_tells_the_place_of_a_value() -> None:
    loaded = small()
    assert loaded.where("nodes.gateway.radios.r5.channel") == "small.yaml:8:18"
    assert loaded.line("nodes.gateway.radios.r5.channel") == "small.yaml:8"
    assert loaded.where(("nodes", "gateway", "radios", "r5", "channel")) == "small.yaml:8:18"


def test_where_of_a_block_is_the_word_above_it() -> None:
    assert small().where("nodes.gateway.radios.r5") == "small.yaml:6:7"


def test_where_falls_back_to_the_nearest_block() -> None:
    loaded = small()
    assert loaded.where("nodes.gateway.radios.r5.eirp_dbm") == "small.yaml:6:7"
    assert loaded.where(("nodes", "gateway", "power", "circuit")) == "small.yaml:3:3"
    assert loaded.where("internet.delay_ms") == "small.yaml:1:1"


def test_where_finds_keys_with_dots_and_list_items() -> None:
    loaded = small()
    assert loaded.where("choices.channels.2.4.1") == "small.yaml:13:23"
    assert loaded.where("choices.powers_dbm.gateway.r5.0") == "small.yaml:14:29"


def test_gave() -> None:
    loaded = load_text(SMALL + "internet: {down_mbps: , up_mbps: 5}", "f")
    assert loaded.gave("nodes.stair.uplink.to")
    assert loaded.gave("internet.up_mbps")
    assert not loaded.gave("internet.down_mbps")
    assert not loaded.gave("nodes.stair.uplink.band")
    assert not loaded.gave("nodes.nobody.uplink")


@pytest.mark.parametrize("written", ["12345", "true", "no", "1e3", "0x1F", "12:30", "2025-01-01", "1.50", "-0"])
def test_a_network_name_is_read_as_written(written: str) -> None:
    loaded = load_text(SMALL + f"networks: {{n: {{name: {written}}}}}", "f")
    assert loaded.site.networks["n"].octets == written.encode()


@pytest.mark.parametrize("written", ["5", '"5"', "'5'"])
def test_a_band_may_be_a_plain_number(written: str) -> None:
    assert small(**{"band: 5": f"band: {written}"}).site.nodes["gateway"].radios["r5"].band == "5"


@pytest.mark.parametrize(("written", "channel"), [("36", 36), ("36.0", 36), ("1e2", 100), ("auto", "auto")])
def test_whole_numbers_however_written(written: str, channel: object) -> None:
    radio = small(**{"channel: 36": f"channel: {written}"}).site.nodes["gateway"].radios["r5"]
    assert radio.channel == channel
    assert type(radio.channel) is type(channel)


@pytest.mark.parametrize("written", ["true", "'36'", "36.5", "[36]", "{a: 36}", "3_6", "0x24", "yes"])
def test_what_is_no_channel_is_refused(written: str) -> None:
    with pytest.raises(InputError, match=r"small\.yaml:8:18: nodes\.gateway\.radios\.r5\.channel is ") as caught:
        small(**{"channel: 36": f"channel: {written}"})
    assert len(caught.value.problems) == 1


@pytest.mark.parametrize("written", ["no", "yes", "on", "'true'", "1", "0"])
def test_only_true_and_false_are_booleans(written: str) -> None:
    with pytest.raises(InputError, match="true or false"):
        small(**{"role: relay": f"role: relay\n    outdoor: {written}"})


def test_the_order_of_sections_and_entries_does_not_matter() -> None:
    document = yaml.safe_load(starter.text())
    shuffle = random.Random(7).shuffle

    def shuffled(value: object) -> object:
        if not isinstance(value, dict):
            return value
        entries = [(str(key), shuffled(item)) for key, item in value.items()]
        shuffle(entries)
        return dict(entries)

    again = load_text(json.dumps(shuffled(document)), "f").site
    assert again == load_text(starter.text(), "f").site


def test_a_reordered_file_is_the_same_site() -> None:
    head, nodes, choices = (
        SMALL.partition("nodes:")[0],
        SMALL[SMALL.index("nodes:") : SMALL.index("choices:")],
        SMALL[SMALL.index("choices:") :],
    )
    assert load_text(choices + nodes + head, "f").site == load_text(SMALL, "f").site


def test_the_json_schema_accepts_the_starter() -> None:
    """The JSON Schema validator is the reference: what loads here must be valid there, with bands written in quotes."""
    from advisor.site.schema import json_schema

    schema = json_schema()
    jsonschema.Draft202012Validator.check_schema(schema)
    text = starter.text().replace("band: 2.4", 'band: "2.4"').replace("band: 5", 'band: "5"')
    validator = jsonschema.Draft202012Validator(schema)
    document = yaml.safe_load(text)
    assert list(validator.iter_errors(document)) == []
    document["nodes"]["gateway"]["chanel"] = 36
    assert len(list(validator.iter_errors(document))) == 1


def test_bytes_and_text_load_alike(tmp_path: Path) -> None:
    file = tmp_path / "a.yaml"
    file.write_bytes(b"\xef\xbb\xbf" + SMALL.encode())
    assert load_site(file).site == load_text(SMALL, "f").site == load_text(SMALL.encode(), "f").site
    assert load_site(str(file)).file == str(file)


def refuses_or_loads(data: bytes) -> None:
    try:
        loaded = load_text(data, "fuzz.yaml")
    except InputError as error:
        assert error.problems
        assert all(problem.what for problem in error.problems)
        assert "pydantic" not in str(error)
        assert str(error).isprintable() or "\x1b" not in str(error)
    else:
        assert loaded.site.nodes


@settings(deadline=None)
@given(st.binary(max_size=300))
def test_random_bytes_never_crash(data: bytes) -> None:
    refuses_or_loads(data)


@settings(deadline=None)
@given(st.text(st.sampled_from(list("ab:-[]{}&*!|>'\"%@`#,?~\\\n\t 01.e<\x1b\u202e\ud800")), max_size=80))
def test_random_grammar_never_crashes(text: str) -> None:
    refuses_or_loads(text.encode("utf-8", "surrogatepass"))


PIECES = [
    "\t",
    "- ",
    ": ",
    "[",
    "]",
    "{",
    "}",
    "'",
    '"',
    "&a ",
    "*a",
    "!x ",
    "010",
    ".nan",
    "no",
    "\n",
    "  ",
    "null",
    "{}",
    "[]",
    "true",
    "1e9",
    "<<: ",
    "? ",
    "---\n",
    "99999999999999999999999",
    "é",
    "[key]",
    "int",
    "nodes",
    "gateway",
]


@settings(max_examples=300, deadline=None)
@given(st.data())
def test_a_damaged_site_file_never_crashes(data: st.DataObject) -> None:
    text = starter.text()
    for _ in range(data.draw(st.integers(1, 3))):
        start = data.draw(st.integers(0, len(text)))
        cut = data.draw(st.integers(0, 12))
        text = text[:start] + data.draw(st.sampled_from(PIECES)) + text[start + cut :]
    refuses_or_loads(text.encode())


VALUES = st.recursive(
    st.none()
    | st.booleans()
    | st.integers()
    | st.floats(allow_nan=False, allow_infinity=False)
    | st.sampled_from(["no", "gateway", "stair", "5", "auto", "[key]", "int", "x y", "", "internet"]),
    lambda inside: (
        st.lists(inside, max_size=3)
        | st.dictionaries(st.sampled_from(["to", "a", "band", "[key]", "gateway", "int", "5", ""]), inside, max_size=3)
    ),
    max_leaves=8,
)


def places_in(value: object, path: tuple[object, ...] = ()) -> list[tuple[object, ...]]:
    found = [path] if path else []
    if isinstance(value, dict):
        for key, item in value.items():
            found += places_in(item, (*path, key))
    return found


@settings(max_examples=300, deadline=None)
@given(st.data())
def test_any_value_anywhere_never_crashes(data: st.DataObject) -> None:
    document = yaml.safe_load(starter.text())
    for _ in range(data.draw(st.integers(1, 2))):
        path = data.draw(st.sampled_from(places_in(document)))
        owner = document
        for part in path[:-1]:
            owner = owner[part]
        owner[path[-1]] = data.draw(VALUES)
    refuses_or_loads(json.dumps(document).encode())
