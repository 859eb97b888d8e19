"""The patterns of the outcome map: what surely works by its lines, what may work by dots over them.

Everything that works leaves the paper light; the less works, the denser the lines. No meaning hangs on colour.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence

from advisor.report.page.floor_maps import CLASSES, Cell
from advisor.report.svg import element

SURE = {
    "calls": "a call holds and a stream runs",
    "calls, no video": "a call holds and browsing works, no stream runs",
    "calls alone": "a call holds, nothing else works",
    "video": "a stream runs, calls do not hold",
    "browsing": "browsing works, neither calls nor streams",
    "nothing": "nothing works",
}
PERHAPS = {"calls": "a call may hold", "video": "a stream may run", "browsing": "browsing may work"}
SURELY = {
    "calls": "a call surely holds",
    "video": "a stream surely runs",
    "browsing": "browsing surely works",
    "nothing": "nothing is sure",
}


def _meaning(name: str) -> str:
    sure, _, perhaps = name.partition(", perhaps ")
    if name == "not known":
        return "not known"
    return f"{SURELY[sure]}, {PERHAPS[perhaps]}" if perhaps else SURE[sure]


MEANING = {name: _meaning(name) for name in CLASSES}
LINES = {
    "calls": "",
    "calls, no video": '<path d="M6 0V12" class="ink"/>',
    "calls alone": '<path d="M6 0V12M0 6H12" class="ink"/>',
    "video": '<path d="M0 6H12" class="ink"/>',
    "browsing": '<path d="M-3 3L3 -3M0 12L12 0M9 15L15 9" class="ink"/>',
    "nothing": '<path d="M-3 3L3 -3M0 12L12 0M9 15L15 9M-3 9L3 15M0 0L12 12M9 -3L15 3" class="ink heavy"/>',
    "not known": '<path d="M0 3H3M6 9H9" class="ink"/>',
}
DOTS = {
    "calls": '<circle cx="6" cy="6" r="1.7" class="dot"/>',
    "video": '<path d="M3.4 6H8.6M6 3.4V8.6" class="cross"/>',
    "browsing": '<path d="M6 3.6L8.4 8H3.6Z" class="open"/>',
}
"""A full dot for a call that may hold, a cross for a stream, a triangle for browsing."""
SIDE = 12


def definitions(names: Iterable[str], prefix: str) -> str:
    """The patterns a picture uses."""
    return element("defs", *(_pattern(name, prefix) for name in names))


def _pattern(name: str, prefix: str) -> str:
    sure, _, perhaps = name.partition(", perhaps ")
    tinted = "ground-calls" if sure.startswith("calls") else "ground-plain"
    ground = element("rect", width=SIDE, height=SIDE, class_=tinted)
    lines = LINES.get(sure, "")
    if not perhaps:
        return element(
            "pattern", ground, lines, id=id_of(name, prefix), width=SIDE, height=SIDE, patternUnits="userSpaceOnUse"
        )
    wide = 2 * SIDE
    tiles = "".join(f'<g transform="translate({x} {y})">{lines}</g>' for x in (0, SIDE) for y in (0, SIDE))
    grounds = element("rect", width=wide, height=wide, class_=tinted)
    dots = f'<g transform="translate({SIDE} {SIDE})">{DOTS[perhaps]}</g>' + DOTS[perhaps]
    return element(
        "pattern", grounds, tiles, dots, id=id_of(name, prefix), width=wide, height=wide, patternUnits="userSpaceOnUse"
    )


def id_of(name: str, prefix: str) -> str:
    return f"{prefix}p{CLASSES.index(name)}"


def region(name: str, path: str, title: str, prefix: str) -> str:
    """A part of the floor in its pattern, with what it means on hovering."""
    return (
        f'<path d="{path}" style="fill:url(#{id_of(name, prefix)})" fill-rule="evenodd" class="region">{title}</path>'
    )


def sample(name: str, prefix: str) -> str:
    """A sample for the legend."""
    own = f"{prefix}key-{CLASSES.index(name)}-"
    box = f'<rect x="0.5" y="0.5" width="47" height="23" fill="url(#{id_of(name, own)})" class="region"/>'
    return element(
        "svg",
        definitions([name], own),
        box,
        viewBox="0 0 48 24",
        width=48,
        height=24,
        class_="sample floor",
        aria_hidden="true",
    )


def chances(name: str, cells: Sequence[Cell]) -> str:
    """In how many of ten cases what may work does so, over the cells of a region: `call 4 to 7 of 10`."""
    _, _, perhaps = name.partition(", perhaps ")
    known = [chance for cell in cells if perhaps and (chance := cell.uses[perhaps].chance) is not None]
    if not known:
        return ""
    low, high = (min(max(round(10 * end), 0), 10) for end in (min(known), max(known)))
    word = {"calls": "call", "video": "stream", "browsing": "browsing"}[perhaps]
    return f"{word} {low} of 10" if low == high else f"{word} {low} to {high} of 10"


__all__ = ["MEANING", "chances", "definitions", "region", "sample"]
