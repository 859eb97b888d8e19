"""The report against the rules of WCAG 2.2 AA and good practice, as far as a machine can judge them."""

from __future__ import annotations

from functools import cache
from pathlib import Path
from typing import Any

import pytest

from tests.browser.chromium import DESK, PHONE, Browser
from tests.browser.sites import SITES, Reports, nothing

NODE = Path(__file__).parent / "node"
ENGINE = NODE / "node_modules" / "axe-core" / "axe.min.js"
TAGS = ("wcag2a", "wcag2aa", "wcag21a", "wcag21aa", "wcag22aa", "best-practice")

pytestmark = pytest.mark.skipif(
    not ENGINE.is_file(),
    reason="accessibility tests need axe-core: npm ci --prefix tests/browser/node --ignore-scripts",
)


@cache
def engine() -> str:
    return ENGINE.read_text(encoding="utf-8")


def violations(browser: Browser) -> list[str]:
    """What is wrong with the page shown, one line for each rule and place."""
    browser.run(engine())
    found: dict[str, Any] = browser.run(
        "const found = await window.axe.run(document, {runOnly: {type: 'tag', values: given[0]}});"
        "return {violations: found.violations, passes: found.passes.length};",
        TAGS,
    )
    assert found["passes"] > 10, "the engine judged next to nothing"
    return [
        f"{rule['id']} ({rule['impact']}): {rule['help']}\n    at {' '.join(map(str, node['target']))}\n"
        f"    {node['html'][:160]}\n    {' '.join(node['failureSummary'].split())[:240]}"
        for rule in found["violations"]
        for node in rule["nodes"]
    ]


@pytest.mark.parametrize("size", [DESK, PHONE], ids=["desk", "phone"])
@pytest.mark.parametrize("site", SITES)
def test_no_rule_of_accessibility_is_broken(
    browser: Browser, reports: Reports, site: str, size: tuple[int, int]
) -> None:
    browser.open(reports.path(site), size)
    nothing(violations(browser))


def test_the_engine_sees_what_is_wrong(browser: Browser, reports: Reports) -> None:
    """The same page with three faults put in: text too pale, a picture without words, a heading skipped."""
    browser.open(reports.path("two-nodes"))
    browser.run(
        "const main = document.querySelector('main');main.insertAdjacentHTML('beforeend', given[0]);",
        '<section><h5>deep</h5><p style="color:#bbb">pale</p><img src="data:,"></section>',
    )
    rules = {line.split()[0] for line in violations(browser)}
    assert {"color-contrast", "image-alt", "heading-order"} <= rules
