"""The file: written whole or not at all, and never over what somebody else wrote."""

from __future__ import annotations

import os
import random
from pathlib import Path

import pytest

from advisor.errors import InputError
from advisor.interview import keep
from advisor.interview.keep import Kept
from advisor.interview.render import read, render
from advisor.interview.session import begin, step
from advisor.interview.splice import additions
from advisor.interview.state import put
from advisor.site.load import load_text
from advisor.site.yaml_out import WIDEST, entry, flow, scalar

ROOT = Path(__file__).parent.parent.parent
FOREIGN = sorted([*(ROOT / "profiles").glob("*.yaml"), ROOT / "advisor" / "data" / "starter.yaml"])
BLOCKS = """\
# by hand
site:
  name: "Mole End"   # a name

nodes:
  gateway:
    role: gateway
    # under the step
  attic:
    role: relay

places:
  desk: {client: laptop,
         # the old one
         count: 2}   # two of them
  # the end
"""


def sat(path: Path, *lines: str) -> Kept:
    """A sitting with a file, saved after each answer."""
    kept = Kept(str(path))
    sitting = begin(kept.state)
    for line in lines:
        sitting, _ = step(sitting, line)
        kept.save(sitting.state)
    return kept


def test_a_new_file_is_saved_after_each_answer(tmp_path: Path) -> None:
    file = tmp_path / "site.yaml"
    kept = Kept(str(file))
    sitting = begin(kept.state)
    assert not kept.save(sitting.state)
    assert not file.exists()
    for line, there in (("Stoat Hall", "name: Stoat Hall"), ("GB", "country: GB")):
        sitting, _ = step(sitting, line)
        assert kept.save(sitting.state)
        assert there in file.read_text(encoding="utf-8")
    assert not kept.save(sitting.state)
    assert [path.name for path in tmp_path.iterdir()] == ["site.yaml"]


def test_its_own_file_is_gone_on_with_and_no_copy_made(tmp_path: Path) -> None:
    file = tmp_path / "site.yaml"
    sat(file, "Stoat Hall", "GB")
    kept = sat(file, "office", "100 50")
    assert not kept.by_hand
    text = file.read_text(encoding="utf-8")
    assert "site: {name: Stoat Hall, country: GB, environment: office}" in text
    assert "internet: {down_mbps: 100, up_mbps: 50}" in text
    assert [path.name for path in tmp_path.iterdir()] == ["site.yaml"]


def test_answers_are_added_to_a_file_by_hand_and_a_copy_kept(tmp_path: Path) -> None:
    file = tmp_path / "site.yaml"
    file.write_text(BLOCKS, encoding="utf-8")
    sat(file, "GB", "100 50", "2", "timber", "den 3x3", "", "", "den", "home-router", "", "den", "gateway", "5")
    text = file.read_text(encoding="utf-8")
    lines = iter(text.splitlines())
    assert all(line in lines for line in BLOCKS.splitlines())  # each after the one before
    assert "\n  country: GB\n" in text
    assert "\n    room: den\n    gear: home-router\n" in text
    assert "\n    uplink: {to: gateway, band: 5}\n" in text
    assert "\nfloors:\n  ground: {level: 0}\n  upper: {level: 1, slab: floor-timber}\n" in text
    assert load_text(text, "").site.rooms["den"].size_m == (3, 3)
    assert (tmp_path / "site.yaml.bak").read_text(encoding="utf-8") == BLOCKS


@pytest.mark.parametrize("path", FOREIGN, ids=lambda path: path.stem)
def test_nothing_answered_changes_nothing(path: Path, tmp_path: Path) -> None:
    file = tmp_path / "site.yaml"
    file.write_bytes(path.read_bytes())
    kept = sat(file, *[""] * 80)
    assert kept.by_hand
    assert not kept.written
    assert file.read_bytes() == path.read_bytes()
    assert [entry.name for entry in tmp_path.iterdir()] == ["site.yaml"]


ANSWERS = (
    "1",
    "GB",
    "home-router",
    "gateway",
    "5",
    "brick",
    "100 50",
    "browsing",
    "all",
    "no",
    "wpa2-personal",
    "6",
    "9 brick",
)


@pytest.mark.parametrize("path", FOREIGN, ids=lambda path: path.stem)
def test_lines_taken_out_of_a_site_come_back_and_the_rest_stays(path: Path, tmp_path: Path) -> None:
    """Every line that stood there stands there afterwards, perhaps with more at its end, in the same order."""
    chance = random.Random(path.stem)
    data = path.read_text(encoding="utf-8").replace(", country: GB", "").replace("  country: GB\n", "")
    file = tmp_path / "site.yaml"
    file.write_text(data, encoding="utf-8")
    sat(file, "IE", *(chance.choice(ANSWERS) for _ in range(60)))
    after = file.read_text(encoding="utf-8")
    load_text(after, "site.yaml")
    lines = iter(after.splitlines())
    for line in data.splitlines():
        begun = line.rstrip("}").rstrip()
        assert any(found.startswith(begun) for found in lines), line


@pytest.mark.parametrize(
    "text",
    [
        "{site: {name: x}, nodes: {gateway: {role: gateway}}}",
        "site: {name: x}\nnodes: {gateway: {role: gateway}}",
        "site: {name: x}\r\nnodes:\r\n  gateway:\r\n    role: gateway\r\n",
        "\ufeffsite: {name: x}\nnodes: {gateway: {role: gateway}}\n",
        "site:\n  name: |\n    x\nnodes: {gateway: {role: gateway}}\n# end\n",
        "site: {name: x, # why\n  }\nnodes: {gateway: {role: gateway}}\n",
        "site: {\n  name: x,\n}\nnodes: {gateway: {role: gateway}}\n",
        "---\nsite: {name: 'x'}\nnodes: {\"gateway\": {role: gateway}}\n",
        "site: {name: x}\nnodes: {gateway: {role: gateway, power: {}}}\n",
        "site: &s {name: x}\nnodes: {gateway: {role: gateway}}\n...\n",
    ],
)
def test_many_ways_of_writing_take_an_answer(text: str, tmp_path: Path) -> None:
    file = tmp_path / "site.yaml"
    file.write_bytes(text.encode())
    sat(file, "GB", "100 50", "1", "den 3x3", "", "den")
    data = file.read_bytes()
    loaded = load_text(data, "site.yaml").site
    assert loaded.site.country == "GB"
    assert loaded.internet.up_mbps == 50
    assert loaded.nodes["gateway"].room == "den"
    assert data.startswith(b"\xef\xbb\xbf") == text.startswith("\ufeff")
    assert data.count(b"\n") == data.count(b"\r\n") or "\r" not in text


@pytest.mark.parametrize(
    "text",
    [
        "site: {name: x, country: }\nnodes: {gateway: {role: gateway}}\n",
        "nodes: {gateway: {role: gateway, room: }}\nsite: {name: x, country: GB}\n"
        "internet: {down_mbps: 1, up_mbps: 1}\n",
    ],
)
def test_what_cannot_be_added_safely_is_refused_with_the_words_to_add(text: str, tmp_path: Path) -> None:
    file = tmp_path / "site.yaml"
    file.write_text(text, encoding="utf-8")
    lines = ("GB", "100 50", "1") if "GB" not in text else ("1", "den 3x3", "", "den")
    with pytest.raises(InputError) as caught:
        sat(file, *lines)
    assert "the file was left as it is" in str(caught.value)
    assert "Add it by hand: " in str(caught.value)


def test_an_answer_about_what_is_repeated_is_written_out_where_it_is(tmp_path: Path) -> None:
    file = tmp_path / "site.yaml"
    text = "nodes: {gateway: &n {role: gateway}, two: *n}\nsite: {name: x, country: GB}\n"
    file.write_text(text + "internet: {down_mbps: 1, up_mbps: 1, at: two}\n", encoding="utf-8")
    sat(file, "1", "den 3x3", "", "den")  # where the line comes in: `two`
    loaded = load_text(file.read_bytes(), "site.yaml").site
    assert (loaded.nodes["gateway"].room, loaded.nodes["two"].room) == (None, "den")
    assert "gateway: &n {role: gateway}, two: {role: gateway, room: den}" in file.read_text(encoding="utf-8")


def test_its_own_file_changed_by_hand_keeps_the_change(tmp_path: Path) -> None:
    file = tmp_path / "site.yaml"
    sat(file, "Stoat Hall", "", "house", "100 50", "1", "den 3x3", "", "den", "1", ".")
    changed = file.read_text(encoding="utf-8").replace(
        "gear: home-router}", "gear: home-router, radios: {r5: {band: 5, channel: 36}}}  # read off its page"
    )
    file.write_text(changed, encoding="utf-8")
    kept = sat(file, "", "fernhill", "", "2", "phone", "1", "video", "no", "6", "")
    assert begin(kept.state).question.step.id == "boxes"  # as if nobody had changed it
    assert kept.by_hand
    text = file.read_text(encoding="utf-8")
    assert "channel: 36}}}  # read off its page" in text
    assert "fernhill: {name: fernhill, security: wpa2-personal}" in text
    assert "# not known: the country" in text
    again = begin(read(text.encode(), "site.yaml"))
    assert again.question is not None
    assert again.question.key == "country"  # all else is told; this was left open
    sat(file, "GB")
    text = file.read_text(encoding="utf-8")
    assert "country: GB" in text
    assert "# not known: the country" not in text
    assert "left open: country" not in text


def test_a_file_changed_meanwhile_is_left_and_the_answers_put_beside(tmp_path: Path) -> None:
    file = tmp_path / "site.yaml"
    kept = Kept(str(file))
    sitting = begin(kept.state)
    sitting, _ = step(sitting, "Stoat Hall")
    kept.save(sitting.state)
    file.write_text("somebody else\n", encoding="utf-8")
    sitting, _ = step(sitting, "GB")
    with pytest.raises(InputError, match="another program changed this file"):
        kept.save(sitting.state)
    assert file.read_text(encoding="utf-8") == "somebody else\n"
    assert "country: GB" in (tmp_path / "site.yaml.answers").read_text(encoding="utf-8")


def test_copies_do_not_run_over_one_another(tmp_path: Path) -> None:
    file = tmp_path / "site.yaml"
    (tmp_path / "site.yaml.bak").write_text("older\n", encoding="utf-8")
    file.write_text(BLOCKS, encoding="utf-8")
    kept = sat(file, "GB")
    assert kept.copied == "site.yaml.bak-2"
    assert (tmp_path / "site.yaml.bak").read_text(encoding="utf-8") == "older\n"
    assert (tmp_path / "site.yaml.bak-2").read_text(encoding="utf-8") == BLOCKS


def test_a_link_and_the_permissions_stay(tmp_path: Path) -> None:
    (tmp_path / "real.yaml").write_text(BLOCKS, encoding="utf-8")
    (tmp_path / "real.yaml").chmod(0o640)
    (tmp_path / "site.yaml").symlink_to("real.yaml")
    sat(tmp_path / "site.yaml", "GB")
    assert (tmp_path / "site.yaml").is_symlink()
    assert "country: GB" in (tmp_path / "real.yaml").read_text(encoding="utf-8")
    assert (tmp_path / "real.yaml").stat().st_mode & 0o777 == 0o640


def test_a_write_that_fails_leaves_the_old_file(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    file = tmp_path / "site.yaml"
    kept = sat(file, "Stoat Hall")
    before = file.read_bytes()

    def no_space(descriptor: int) -> None:
        raise OSError(28, "No space left on device")

    monkeypatch.setattr(keep.os, "fsync", no_space)
    with pytest.raises(InputError, match="No space left on device"):
        kept.save(put(kept.state, ("site", "country"), "GB"))
    assert file.read_bytes() == before
    assert [path.name for path in tmp_path.iterdir()] == ["site.yaml"]


@pytest.mark.parametrize("name", ["missing/site.yaml", "file.txt/site.yaml", ".", "x\0y.yaml", "x" * 300])
def test_where_no_file_can_be_it_is_said_before_anything_is_asked(name: str, tmp_path: Path) -> None:
    (tmp_path / "file.txt").write_text("x", encoding="utf-8")
    with pytest.raises(InputError) as caught:
        Kept(str(tmp_path / name))
    assert "\n    " in str(caught.value)


@pytest.mark.skipif(os.geteuid() == 0, reason="root may write anywhere")
def test_a_folder_one_may_not_write_to(tmp_path: Path) -> None:
    tmp_path.chmod(0o500)
    with pytest.raises(InputError, match="may not be written here"):
        Kept(str(tmp_path / "site.yaml"))


def test_a_refused_folder_is_told_in_plain_words(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    def refused(path: Path, data: bytes) -> int:
        raise PermissionError(13, "Permission denied")

    monkeypatch.setattr(Path, "write_bytes", refused)
    with pytest.raises(InputError, match="the file may not be written here"):
        Kept(str(tmp_path / "site.yaml"))


def test_a_file_that_is_no_site_is_refused_as_check_does(tmp_path: Path) -> None:
    file = tmp_path / "site.yaml"
    file.write_text("site: {nam: x}\n", encoding="utf-8")
    with pytest.raises(InputError, match='Did you mean "name"'):
        Kept(str(file))
    file.write_bytes(b" \n")
    assert not Kept(str(file)).by_hand


def test_what_is_new_is_found_as_the_largest_new_block() -> None:
    before = {"a": {"b": 1}, "d": [1]}
    after = {"a": {"b": 1, "c": {"x": 2}}, "d": [1, 2], "e": {}}
    assert list(additions(before, after)) == [(("a", "c"), {"x": 2}), (("d",), [1, 2]), (("e",), {})]


@pytest.mark.parametrize(
    "value",
    [
        "x",
        "no",
        "12",
        "2.4",
        "",
        " x",
        "x ",
        "a: b",
        "a #b",
        "{",
        "'",
        '"',
        "\\",
        "é",
        "🐦",
        "\u2028",
        "a  b",
        "-",
        "~",
        "010",
        "x:",
    ],
)
def test_text_is_written_so_that_it_is_read_as_it_was(value: str) -> None:
    text = f"site: {{name: x, note: {scalar(value)}}}\nnodes: {{gateway: {{role: gateway}}}}\n"
    assert load_text(text, "").document.value["site"]["note"] == value


def test_wide_entries_are_written_over_several_lines() -> None:
    value = {"one": "x" * 60, "two": {"three": "y" * 60}}
    lines = entry("id", value, 2)
    assert lines == ["  id:", f"    one: {'x' * 60}", f"    two: {{three: {'y' * 60}}}"]
    assert all(len(line) <= WIDEST for line in lines)
    assert flow({"a": [1, 2.5, True], "b": {}}) == "{a: [1, 2.5, true], b: {}}"


def test_the_same_state_gives_the_same_bytes(tmp_path: Path) -> None:
    kept = sat(tmp_path / "site.yaml", "Stoat Hall", "GB", "house")
    state = read((tmp_path / "site.yaml").read_bytes(), "site.yaml")
    assert render(state).encode() == kept.there
