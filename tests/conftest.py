"""What several folders of tests need."""

from __future__ import annotations

from datetime import date
from pathlib import Path
from typing import TYPE_CHECKING

import pytest

if TYPE_CHECKING:
    from advisor.report.page.gather import Content

DEMO = Path(__file__).parent.parent / "profiles" / "kestrel-yard.yaml"


@pytest.fixture(scope="session")
def demo_content() -> Content:
    """Everything the demo's report shows; it takes some seconds, so it is computed once."""
    from advisor.report.page.gather import Wanted, gather
    from advisor.site.load import load_site

    return gather(load_site(DEMO), Wanted(today=date(2026, 1, 15)))


@pytest.fixture(scope="session")
def demo_page(demo_content: Content) -> str:
    """The demo's report as HTML."""
    from advisor.report.page.render import html

    return html(demo_content)
