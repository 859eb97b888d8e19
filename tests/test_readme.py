"""What the README shows is what the program prints. `ACCEPT_GOLDEN=1` writes the blocks anew."""

from __future__ import annotations

import os
import re
import subprocess
import sys
from pathlib import Path

ROOT = Path(__file__).parent.parent
README = ROOT / "README.md"
BLOCK = re.compile(r"<!-- (site|output): (.+?) -->\n```(\w+)\n(.*?)```\n", re.DOTALL)


def real(kind: str, what: str) -> str:
    if kind == "site":
        return (ROOT / what).read_text(encoding="utf-8")
    command = [sys.executable, "-m", "advisor", *what.split()]
    return subprocess.run(command, cwd=ROOT, capture_output=True, text=True, encoding="utf-8", check=False).stdout


def test_readme_shows_what_is() -> None:
    text = README.read_text(encoding="utf-8")
    if os.environ.get("ACCEPT_GOLDEN") == "1":
        text = BLOCK.sub(lambda m: f"<!-- {m[1]}: {m[2]} -->\n```{m[3]}\n{real(m[1], m[2])}```\n", text)
        README.write_text(text, encoding="utf-8")
    blocks = BLOCK.findall(text)
    assert [(kind, what) for kind, what, _, _ in blocks] == [
        ("site", "profiles/two-nodes.yaml"),
        ("output", "check profiles/two-nodes.yaml"),
    ]
    for kind, what, _, shown in blocks:
        assert shown == real(kind, what)


def test_every_command_is_in_the_readme() -> None:
    text = README.read_text(encoding="utf-8")
    modules = {path.stem for path in (ROOT / "advisor" / "cli").glob("*.py")} - {"__init__", "app", "files", "output"}
    commands = {name.replace("_", "-") for name in modules}
    assert all(f"`advisor {name}" in text for name in commands)
