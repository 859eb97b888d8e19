"""The page of constructions is what its script makes. `ACCEPT_GOLDEN=1` writes it."""

from __future__ import annotations

import importlib.util
import os
from pathlib import Path

DOCS = Path(__file__).parent.parent.parent / "docs"


def test_the_constructions_page_is_what_the_catalogue_says() -> None:
    spec = importlib.util.spec_from_file_location("make_constructions", DOCS / "make_constructions.py")
    assert spec is not None
    assert spec.loader is not None
    script = importlib.util.module_from_spec(spec)
    spec.loader.exec_module(script)
    made = script.page()
    if os.environ.get("ACCEPT_GOLDEN") == "1":
        (DOCS / "constructions.md").write_text(made, encoding="utf-8")
    assert (DOCS / "constructions.md").read_text(encoding="utf-8") == made
