"""The sketch of a site as one SVG picture, to print and to read aloud.

A unit is a quarter of a millimetre: printed at full size the drawn floors have the scale that stands beside them.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field

from advisor.network.plan_records import Panel, Plan, TreeRow
from advisor.network.plan_words import metres, some
from advisor.report import plan_marks as marks
from advisor.report.plan_panel import AXIS, MARGIN, Sheet, Window, window
from advisor.report.svg import element, line, number, text, text_of, width_of, wrapped

WRITTEN_BY = "<!-- written by: advisor plan -->"
"""The second line of every file this view makes, so that such a file may be written again."""
HEADER = f'<?xml version="1.0" encoding="UTF-8"?>\n{WRITTEN_BY}\n'

WIDTH = 760.0
EDGE = 20.0
INSIDE = WIDTH - 2 * EDGE
UNITS_PER_MM = 4.0
SCALES = (1.0, 1.5, 2.0, 2.5, 3.0, 4.0, 5.0, 7.5)
LARGEST_SCALE = 50
"""Nothing is drawn larger than 1:50, of several floors than 1:100."""
MOST_SAID = 40
"""Things of a panel that are read aloud one by one; of more only the number."""
INDENT = 46.0
WHAT = "A plain sketch of what the site file tells: where things are, not how well they are heard."


def plan_svg(plan: Plan) -> str:
    """The picture; the same plan gives the same text."""
    page = _Page(plan)
    body = "".join(page.body())
    height = page.y + EDGE
    return (
        HEADER
        + element(
            "svg",
            "\n",
            element("title", text_of(f"{plan.name}: a sketch of the site"), id="title"),
            element("desc", text_of(said(plan)), id="desc"),
            element("style", marks.STYLE),
            element("rect", x=0, y=0, width=WIDTH, height=height, fill="#fff"),
            body.replace("<g id=", "\n<g id="),
            "\n",
            xmlns="http://www.w3.org/2000/svg",
            viewBox=f"0 0 {number(WIDTH)} {number(height)}",
            width=f"{number(WIDTH / UNITS_PER_MM)}mm",
            height=f"{number(height / UNITS_PER_MM)}mm",
            role="img",
            lang="en",
            aria_labelledby="title desc",
        )
        + "\n"
    )


@dataclass
class _Page:
    plan: Plan
    y: float = EDGE
    used: marks.Used = field(default_factory=marks.Used)

    def body(self) -> Iterator[str]:
        yield from self._title()
        yield from self._panels()
        yield from self._tree()
        yield from self._legend()
        for words in self.plan.words:
            yield from self._words(words.title, words.lines)
        yield from self._words("Looks odd", self.plan.odd)

    def _title(self) -> Iterator[str]:
        for content in wrapped(self.plan.name, 17, INSIDE):
            self.y += 17
            yield text(EDGE, self.y, content, "h1")
        self.y += 15
        yield text(EDGE, self.y, WHAT + (" An invented example." if self.plan.invented else ""), "p")
        self.y += 8

    # panels

    def _panels(self) -> Iterator[str]:
        rows = _rows(self.plan.panels)
        if not rows:
            return
        mixed = any(len(row) > 1 for row in rows)
        windows = windows_of(self.plan.panels)
        most_high = {"drawn": min(820.0, max(330.0, 1160.0 / len(rows))), "rooms": 760.0}
        scales = {
            kind: scale_of(
                [windows[panel.key] for panel in self.plan.panels if panel.kind == kind],
                INSIDE * share - AXIS - 2 * MARGIN,
                most_high[kind] - 2 * MARGIN,
                LARGEST_SCALE if len(rows) == 1 else 2 * LARGEST_SCALE,
            )
            for kind, share in (("drawn", 0.6 if mixed else 1.0), ("rooms", 0.4 if mixed else 1.0))
        }
        for row in rows:
            top, x, bottom = self.y, EDGE, self.y
            for panel in row:
                x += AXIS if panel.kind == "drawn" or x > EDGE else 0
                wide = 2 * MARGIN + (windows[panel.key].right - windows[panel.key].left) * scales[panel.kind]
                room = wide if panel is not row[-1] else WIDTH - EDGE - x
                sheet = Sheet(panel, windows[panel.key], scales[panel.kind], x, top, room, self.used)
                yield sheet.svg()
                x, end = sheet.right, sheet.bottom + AXIS
                for count, key in enumerate(sheet.keys, 1):
                    for content in wrapped(f"({count}) {key}", 8.5, max(sheet.right - sheet.left, 160)):
                        yield text(sheet.left, end, content, "s")
                        end += 11
                bottom = max(bottom, end)
            self.y = bottom

    # a site told by distances

    def _tree(self) -> Iterator[str]:
        rows = self.plan.tree
        if not rows:
            return
        self.y += 22
        yield text(EDGE, self.y, "Told by distances", "h2")
        self.y += 12
        yield text(
            EDGE, self.y, "Columns count the hops from the internet line; nothing here shows where things stand.", "s"
        )
        deepest = max(row.depth for row in rows)
        indent = min(INDENT, INSIDE * 0.62 / max(deepest, 1))
        self.y += 18
        for depth in range(deepest + 1):
            yield text(EDGE + 10 + depth * indent, self.y, str(depth), "tick", text_anchor="middle")
        self.y += 6
        spots: list[tuple[float, float]] = []
        details = [
            list(wrapped(row.detail, 8.5, INSIDE - 26 - row.depth * indent)) if row.detail else [] for row in rows
        ]
        for row, detail in zip(rows, details, strict=True):
            self.y += 14
            spots.append((EDGE + 10 + row.depth * indent, self.y))
            self.y += 8 + 10.5 * len(detail)
        lines: list[str] = []
        items: list[str] = []
        last = {row.under: at for row, at in zip(rows, spots, strict=True) if row.under is not None}
        for under, at in last.items():
            x, y = spots[under]
            lines.append(line([(x, y), (x, at[1])], "trunk"))
        for row, at, detail in zip(rows, spots, details, strict=True):
            lines.append(self._branch(row, at, at[0] - 32 if row.under is None else spots[row.under][0]))
            items.append(self._row(row, at, detail))
        yield element("g", *lines, *items, id="distances")
        self.y += 6

    def _branch(self, row: TreeRow, at: tuple[float, float], trunk: float) -> str:
        """What joins a row to the line that leads to its parent."""
        if row.link == "none":
            return ""
        if row.link == "way":
            self.used.others.add("way")
            return line([(trunk, at[1]), (at[0] - 6, at[1])], "way")
        self.used.styles.add(row.link)
        return marks.branch(row.link, at, (trunk, at[1]))

    def _row(self, row: TreeRow, at: tuple[float, float], detail: Sequence[str]) -> str:
        self.used.shapes.add(row.shape)
        x, y = at
        label = text(x + 12, y + 3.4, row.id, "halo id", font_size=9.5)
        label += text(x + 18 + width_of(row.id, 9.5) * 1.08, y + 3.4, row.about, "halo", font_size=8.5)
        class_ = "halo blue" if row.section == "nodes" else "halo"
        for count, content in enumerate(detail):
            label += text(x + 12, y + 14.5 + 10.5 * count, content, class_, font_size=8.5)
        title = element("title", text_of(f"{row.about} {row.id}"))
        return element("g", title, marks.symbol(row.shape, at), label, id=f"{row.section}.{row.id}")

    # legend and words

    def _legend(self) -> Iterator[str]:
        entries = marks.legend(self.used)
        if not entries:
            return
        self.y += 24
        yield text(EDGE, self.y, "What the signs mean", "h2")
        self.y += 6
        column = INSIDE / 2
        lines = [list(wrapped(meaning, 9.5, column - 50)) for _, meaning in entries]
        half = (len(entries) + 1) // 2
        ends: list[float] = []
        for start, stop, left in ((0, half, EDGE), (half, len(entries), EDGE + column)):
            y = self.y
            for number_ in range(start, stop):
                sample = entries[number_][0]
                yield element("g", sample, transform=f"translate({number(left)} {number(y)})")
                for content in lines[number_]:
                    yield text(left + 38, y + 10.5, content, "p")
                    y += 11
                y += 6
            ends.append(y)
        self.y = max(ends)

    def _words(self, title: str, lines: Sequence[str]) -> Iterator[str]:
        if not lines:
            return
        self.y += 22
        yield text(EDGE, self.y, title, "h2")
        self.y += 3
        for content in lines:
            for count, part in enumerate(wrapped(content, 9.5, INSIDE - 12)):
                self.y += 12
                yield text(EDGE + (12 if count else 0), self.y, part, "p")


def _rows(panels: Sequence[Panel]) -> list[list[Panel]]:
    """Panels in rows: the rooms of a floor beside its drawn plan."""
    rows: list[list[Panel]] = []
    for panel in panels:
        floor = panel.key.partition(":")[2]
        if rows and rows[-1][-1].key == f"floor:{floor}" and panel.kind == "rooms":
            rows[-1].append(panel)
        else:
            rows.append([panel])
    return rows


def windows_of(panels: Sequence[Panel]) -> dict[str, Window]:
    """Each panel's window; drawn floors show the same from left to right, so that they lie above each other."""
    windows = {panel.key: window(panel) for panel in panels}
    drawn = [windows[panel.key] for panel in panels if panel.kind == "drawn"]
    if drawn:
        left, right = min(it.left for it in drawn), max(it.right for it in drawn)
        for panel in panels:
            if panel.kind == "drawn":
                own = windows[panel.key]
                windows[panel.key] = Window(left, own.low, right, own.high)
    return windows


def scale_of(windows: Sequence[Window], width: float, height: float, largest: float) -> float:
    """Units for a metre at the largest usual scale at which every window fits."""
    power = 1.0
    while True:
        for lead in SCALES:
            denominator = lead * power
            units = 1000.0 * UNITS_PER_MM / denominator
            fits = all((it.right - it.left) * units <= width and (it.high - it.low) * units <= height for it in windows)
            if denominator >= largest and fits:
                return units
        power *= 10.0


def said(plan: Plan) -> str:
    """The sketch in words, for those who do not see it."""
    return " ".join([WHAT, *_said(plan)])


def _said(plan: Plan) -> Iterator[str]:
    for panel in plan.panels:
        walls = len({piece.wall for piece in panel.stretches})
        yield f"{panel.title}: {panel.caption}." + (f" Walls: {walls}." if walls else "")
        if panel.boxes:
            yield "Rooms: " + some([f"{box.id}, {box.size}" for box in panel.boxes], MOST_SAID) + "."
        if panel.joins:
            told = [f"{join.rooms[0]} and {join.rooms[1]}, {join.between}" for join in panel.joins]
            yield "Neighbours: " + some(told, MOST_SAID) + "."
        for mark in panel.marks[:MOST_SAID]:
            where = f"in {mark.room}" if mark.room else f"at x {metres(mark.at[0])}, y {metres(mark.at[1])}"
            yield f"{mark.shape.replace('-', ' ')} {mark.id} {where}: {'; '.join([*mark.lines, *mark.links])}."
        if len(panel.marks) > MOST_SAID:
            yield f"And {len(panel.marks) - MOST_SAID} more."
        for it in panel.uplinks[:MOST_SAID]:
            yield f"Uplink from {it.node} to {it.parent}, {it.label}."
        if len(panel.uplinks) > MOST_SAID:
            yield f"And {len(panel.uplinks) - MOST_SAID} more uplinks."
    for row in plan.tree[:MOST_SAID]:
        yield f"{row.about} {row.id}" + (f": {row.detail}." if row.detail else ".")
    if len(plan.tree) > MOST_SAID:
        yield f"And {len(plan.tree) - MOST_SAID} more."
    for words in plan.words:
        yield f"{words.title}: {'; '.join(words.lines[:MOST_SAID])}."
    if plan.odd:
        yield f"Looks odd: {'; '.join(plan.odd)}."
