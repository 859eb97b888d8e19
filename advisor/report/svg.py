"""Plain building blocks of an SVG picture: elements, text that cannot act, and about how wide a text is."""

from __future__ import annotations

import unicodedata
from collections.abc import Iterator
from xml.sax.saxutils import escape, quoteattr

from advisor.units import inert

WIDTHS = (("iljI.,:;'|!", 0.32), ("ftr()[]-/ ", 0.40), ("mwMW@%→×", 0.98))
"""Widths of characters in parts of the text size, a little on the wide side of common sans-serif faces."""


def number(value: float) -> str:
    """A coordinate, to a tenth of a unit.

    >>> number(12.04), number(-0.01), number(7.25)
    ('12', '0', '7.2')
    """
    return f"{round(value, 1) + 0.0:.10g}"


def text_of(content: str) -> str:
    """A text made harmless and escaped, to stand between tags."""
    return escape(inert(content))


def element(name: str, *inside: str, **attributes: str | float | None) -> str:
    """An element; attributes that are None are left out, `_` in their names stands for `-` (`class_` for class)."""
    told = "".join(
        f" {key.rstrip('_').replace('_', '-')}={quoteattr(inert(value) if isinstance(value, str) else number(value))}"
        for key, value in attributes.items()
        if value is not None
    )
    return f"<{name}{told}>{''.join(inside)}</{name}>" if inside else f"<{name}{told}/>"


def text(x: float, y: float, content: str, class_: str | None = None, **attributes: str | float | None) -> str:
    """A line of text that stands alone: right-to-left letters in it do not turn what is beside it."""
    return element("text", text_of(content), x=x, y=y, class_=class_, **attributes)


def points_of(points: list[tuple[float, float]] | tuple[tuple[float, float], ...]) -> str:
    return " ".join(f"{number(x)},{number(y)}" for x, y in points)


def line(points: list[tuple[float, float]] | tuple[tuple[float, float], ...], class_: str) -> str:
    return element("polyline", points=points_of(points), class_=class_)


def width_of(content: str, size: float) -> float:
    """About how wide a text is."""
    return size * sum(_char_width(char) for char in inert(content))


def _char_width(char: str) -> float:
    for chars, width in WIDTHS:
        if char in chars:
            return width
    if unicodedata.combining(char):
        return 0.0
    if unicodedata.east_asian_width(char) in "WF":
        return 1.05
    return 0.75 if char.isupper() else 0.635


def wrapped(content: str, size: float, width: float) -> Iterator[str]:
    """A text in lines no wider than `width`, broken at spaces, within a word only where it alone is too wide."""
    now = ""
    for word in inert(content).split(" "):
        longer = f"{now} {word}" if now else word
        if width_of(longer, size) <= width:
            now = longer
            continue
        if now:
            yield now
        while width_of(word, size) > width and len(word) > 1:
            most = next(cut for cut in range(len(word) - 1, 0, -1) if cut == 1 or width_of(word[:cut], size) <= width)
            yield word[:most]
            word = word[most:]
        now = word
    yield now
