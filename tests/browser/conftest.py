"""One browser for all tests of this folder in a worker; without a browser they are skipped and say so."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path

import pytest

from tests.browser import chromium, sites

HERE = Path(__file__).parent


def pytest_collection_modifyitems(items: list[pytest.Item]) -> None:
    why = chromium.missing()
    for item in items:
        if why is not None and HERE in item.path.parents:
            item.add_marker(pytest.mark.skip(reason=why))


@pytest.fixture(scope="session")
def browser() -> Iterator[chromium.Browser]:
    with chromium.started() as found:
        yield found


@pytest.fixture(scope="session")
def reports(tmp_path_factory: pytest.TempPathFactory) -> sites.Reports:
    return sites.shared(tmp_path_factory)
