"""Books made from the text of a site file."""

from __future__ import annotations

from collections.abc import Callable

import pytest

from advisor.facts.book import Book
from advisor.site.load import load_text


@pytest.fixture
def book_of() -> Callable[[str], Book]:
    def make(text: str) -> Book:
        return Book(load_text(text, "site.yaml"))

    return make
