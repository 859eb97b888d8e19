"""Commands as a person uses them: exit codes, streams, formats, wrong arguments."""

from __future__ import annotations

import json
import subprocess
import sys
from pathlib import Path

import jsonschema
import pytest

ROOT = Path(__file__).parent.parent.parent
DEMO = "profiles/kestrel-yard.yaml"
CLEAN = "profiles/wired-annex.yaml"


def advisor(*arguments: str, cwd: Path = ROOT) -> subprocess.CompletedProcess[str]:
    return subprocess.run(
        [sys.executable, "-m", "advisor", *arguments],
        cwd=cwd,
        capture_output=True,
        text=True,
        encoding="utf-8",
        check=False,
    )


@pytest.mark.parametrize(
    ("arguments", "code"),
    [
        (("check", CLEAN), 0),
        (("check", CLEAN, "--fail-on", "note"), 0),
        (("check", DEMO), 1),
        (("check", DEMO, "--only", "names"), 1),
        (("check", DEMO, "--only", "names", "--fail-on", "error"), 0),
        (("check", "no-such-file.yaml"), 2),
        (("check",), 2),
        (("check", DEMO, "--format", "xml"), 2),
        (("check", DEMO, "--only", "no-such-rule"), 2),
        (("why", DEMO, "nobody", "goodput"), 2),
        (("why", DEMO, "stair", "no-such-fact"), 2),
        (("rules", "show", "no-such-rule"), 2),
        (("capacity", DEMO), 0),
        (("--version",), 0),
    ],
)
def test_exit_codes(arguments: tuple[str, ...], code: int) -> None:
    result = advisor(*arguments)
    assert result.returncode == code, result.stderr
    assert (result.stdout == "") == (code == 2)


def test_a_near_name_is_offered() -> None:
    assert 'Did you mean "stair"?' in advisor("why", DEMO, "stiar", "goodput").stderr
    assert (
        'Did you mean "names-differ-between-nodes"?'
        in advisor("check", DEMO, "--only", "names-differ-between-node").stderr
    )


def test_skip_and_only_choose_rules() -> None:
    def rules(*arguments: str) -> set[str]:
        output = json.loads(advisor("check", DEMO, "--format", "json", *arguments).stdout)
        return {entry["rule"] for group in output["groups"] for entry in (group["cause"], *group["leads_to"])}

    every, names = rules(), rules("--only", "names")
    assert names == {"names-differ-between-nodes", "backhaul-tied-to-clients"}
    assert rules("--skip", "names") == every - names


@pytest.mark.parametrize(("command", "site"), [("check", DEMO), ("check", CLEAN), ("capacity", DEMO)])
def test_json_keeps_its_schema(command: str, site: str) -> None:
    schema = json.loads(advisor("schema", command).stdout)
    jsonschema.Draft202012Validator.check_schema(schema)
    jsonschema.validate(json.loads(advisor(command, site, "--format", "json").stdout), schema)


def test_site_schema_is_a_schema() -> None:
    schema = json.loads(advisor("schema").stdout)
    jsonschema.Draft202012Validator.check_schema(schema)
    assert schema["$defs"]["Radio"]["properties"]["eirp_dbm"]["unit"] == "dBm"


def test_new_writes_a_file_that_checks_and_never_overwrites(tmp_path: Path) -> None:
    made = advisor("new", "site.yaml", cwd=tmp_path)
    assert made.returncode == 0
    assert made.stdout == ""
    checked = advisor("check", "site.yaml", cwd=tmp_path)
    assert checked.returncode in (0, 1)
    assert checked.stderr == ""
    before = (tmp_path / "site.yaml").read_bytes()
    again = advisor("new", "site.yaml", cwd=tmp_path)
    assert again.returncode == 2
    assert (tmp_path / "site.yaml").read_bytes() == before


HOSTILE = "{{7*7}}<script>"


def test_a_hostile_name_is_printed_inertly(tmp_path: Path) -> None:
    text = (ROOT / "profiles" / "two-nodes.yaml").read_text(encoding="utf-8")
    named = text.replace("name: fernhill, security", f"name: '{HOSTILE}', nodes: [gateway], security")
    named = named.replace(
        "networks: {", 'networks: {odd: {name: "[bold]x\\e[31m\\u202Ey", nodes: [landing], security: open}, '
    )
    (tmp_path / "site.yaml").write_text(named, encoding="utf-8")
    result = advisor("check", "site.yaml", "--format", "json", cwd=tmp_path)
    assert HOSTILE in result.stdout
    why = advisor("why", "site.yaml", "gateway/landing", "name_in_common", cwd=tmp_path)
    assert why.returncode == 0, why.stderr
    assert HOSTILE in why.stdout
    assert "[bold]x\\x1b[31m\\u202ey" in why.stdout
    assert "\x1b" not in why.stdout
    assert "49" not in why.stdout.replace("0.49", "")


def test_a_pipe_that_closes_early_is_no_crash() -> None:
    command = f"{sys.executable} -m advisor check {DEMO} | head -1"
    result = subprocess.run(command, shell=True, cwd=ROOT, capture_output=True, text=True, check=False)
    assert result.stderr == ""


def test_a_broken_rule_ends_with_three(tmp_path: Path) -> None:
    code = (
        "import advisor.assess as a, advisor.rulebook.load as l, pathlib\n"
        f"folder = pathlib.Path({str(tmp_path)!r})\n"
        "l.find_rules = lambda: folder\n"
        "import advisor.cli.app as app, sys\n"
        f"sys.argv = ['advisor', 'check', {DEMO!r}]\n"
        "app.main()\n"
    )
    (tmp_path / "air").mkdir()
    (tmp_path / "air" / "broken.yaml").write_text("id: broken\n", encoding="utf-8")
    result = subprocess.run([sys.executable, "-c", code], cwd=ROOT, capture_output=True, text=True, check=False)
    assert result.returncode == 3
    assert "broken" in result.stderr
    assert result.stdout == ""


def test_a_day_that_is_none_is_told_how_to_write_it() -> None:
    result = advisor("check", DEMO, "--on", "30.9.2026")
    assert result.returncode == 2
    assert result.stderr == "--on: '30.9.2026' is no day\n    Write it as year, month, day: --on 2026-09-30.\n"
    assert advisor("check", CLEAN, "--on", "2026-09-30").returncode == 0
