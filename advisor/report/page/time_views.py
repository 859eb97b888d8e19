"""What the sections about walks and outages show."""

from __future__ import annotations

from advisor.advice.outages import SECTIONS
from advisor.facts.walks import Course, call_level_dbm
from advisor.report.page import charts, charts_walk
from advisor.report.page.pictures import Stop
from advisor.report.page.tree import Line, Table, Tree, listed
from advisor.walk.records import NONE

HAPPENS = {
    "looked": "looked around and found a better one",
    "lost": "lost the one before",
    "asked": "was asked to move",
}
MOST_ROWS = 14


def walk_lines(walk: Tree) -> list[Line]:
    """What becomes of a call on a walk, in sentences."""
    trouble = walk.trouble
    holds = trouble.any <= 0.1
    lines: list[Line] = [
        [
            "A call holds on this way" if holds else "A call may suffer on this way",
            ": trouble in ",
            trouble.of("any", "of ten"),
            " cases (",
            walk.of("cases"),
            " computed); it ends altogether in ",
            trouble.of("dropped", "of ten"),
            ".",
        ],
        [
            "The way takes ",
            walk.of("seconds"),
            " s for ",
            walk.of("metres"),
            " m. The device changes node ",
            walk.of("node_changes"),
            " times and band on one node ",
            walk.of("band_changes"),
            " times, on average.",
        ],
        [
            "Call quality in the worst eight seconds (MOS, 1 to 4.5; from 3.6 on few complain): typically ",
            walk.worst_mos.of(1),
            ", in one case of ten ",
            walk.worst_mos.of(0),
            " or less.",
        ],
    ]
    if walk.gaps_begin:
        places: list[Line] = [
            [name, " in ", walk.gaps_begin.of(name, "share")] for name, _ in list(walk.gaps_begin.pairs())[:3]
        ]
        lines.append(["Gaps that are heard begin most often on: ", listed(places), " of the cases."])
    return lines


def change_table(walk: Tree) -> Table | None:
    """What happens on the typical course."""
    rows = tuple(
        (
            f"{number}",
            [change.of("at_s"), " s"],
            change.of("where"),
            change.of("from_radio") if change.from_radio else "–",
            change.of("to_radio"),
            [change.of("gap_ms", digits=0), " ms"],
            HAPPENS.get(change.why, change.why),
        )
        for number, change in enumerate(walk.typical, 1)
    )
    head = ("no.", "after", "where", "from", "to", "silence", "because the device")
    return Table("Changes on the typical course, numbered as on the plan", head, rows, (1, 5)) if rows else None


def crossing_table(walk: Tree) -> Table | None:
    rows = tuple(
        (
            crossing.of("where"),
            crossing.of("from_radio"),
            crossing.of("to_radio"),
            crossing.of("level_dbm"),
            [crossing.of("overlap_s", digits=1), " s"],
            [crossing.of("needed_s", digits=1), " s"],
            [crossing.of("left_at_s"), " s"] if crossing.left_at_s is not None else "never",
        )
        for crossing in walk.crossings
    )
    head = ("where", "from", "to", "level dBm", "both strong for", "the device needs", "it changes after")
    return Table("Where one node gives way to the next", head, rows, (3, 4, 5)) if rows else None


def course_chart(course: Course) -> charts_walk.Course:
    """The typical course as a picture's numbers."""
    trail, track = course.trail, course.track
    names = {number: radio.name for number, radio in enumerate(trail.radios)} | {NONE: ""}
    serving = [int(number) for number in track.serving[0]]
    level = [
        None if number == NONE else round(float(dbm), 2)
        for number, dbm in zip(serving, track.level_dbm[0], strict=True)
    ]
    places: list[tuple[float, str]] = []
    for step, told in enumerate(trail.points):
        first, _, last = told.partition(" to ")
        if step == 0 and last:
            places.append((0.0, first))
        if (step == 0 or trail.points[step - 1] != told) and told.startswith("at "):
            places.append((float(trail.times_s[step]), told.removeprefix("at ")))
        elif step and trail.points[step - 1] != told and last:
            places.append((float(trail.times_s[step]), first))
    named = [(at, name) for at, name in places if not name.startswith("(")]
    return charts_walk.Course(
        step_s=trail.step_s,
        serving=tuple(names[number] for number in serving),
        level_dbm=tuple(level),
        gaps=tuple((gap.at_s, gap.seconds) for gap in course.call.gaps[0]),
        changes=tuple((change.at_s, names[change.to_radio]) for change in course.changes),
        mos_at_s=tuple(course.call.starts_s.tolist()),
        mos=tuple(course.call.mos[0].tolist()),
        call_level_dbm=call_level_dbm(),
        good_mos=course.limits.mos,
        places=tuple(_once(named)),
    )


def _once(places: list[tuple[float, str]]) -> list[tuple[float, str]]:
    """A place passed and then stayed at is named once, where one arrives."""
    kept: list[tuple[float, str]] = []
    for at, name in places:
        if not kept or kept[-1][1] != name:
            kept.append((at, name))
    return kept


def stops(course: Course) -> list[Stop]:
    """The changes of the typical course, where they happen on the plan."""
    found = []
    trail = course.trail
    for number, change in enumerate(course.changes, 1):
        step = min(max(round(change.at_s / trail.step_s), 0), len(trail.at) - 1)
        at = trail.at[step]
        if at is not None:
            found.append(Stop(number, at, change.gap_s * 1e3 >= course.limits.audible_ms))
    return found


# outages


def outage_lines(outages: Tree) -> list[Line]:
    told = list(outages.outages)
    well = [entry for entry in told if not entry.needs_somebody]
    lines: list[Line] = [
        [
            "Of ",
            outages.count("outages"),
            f" outages played out, {len(well)} end with every node back by itself, "
            f"{len(told) - len(well)} need somebody.",
        ]
    ]
    for name, others in outages.single_points.pairs():
        hang = "hangs" if len(others) == 1 else "hang"
        lines.append([listed(others.all_of()), f" {hang} on ", name, ": without it there is no way to the line."])
    for circle in outages.feed_each_other:
        lines.append(["Never start after a power cut, as they feed each other: ", listed(circle.all_of()), "."])
    lines += [["Not known until the description tells ", reason, "."] for reason in outages.all("missing")]
    return lines


def outage_tables(outages: Tree) -> list[Table]:
    """A table for each kind of outage, without those that bring no more than their parts. Of changed passwords only
    those after which somebody is needed are listed: there are many."""
    tables = []
    for section in SECTIONS:
        rows = [entry for entry in outages.outages if entry.section == section and not entry.adds_nothing]
        note = ""
        if section == "names and passwords":
            harmless = [entry for entry in rows if not entry.needs_somebody]
            rows = [entry for entry in rows if entry.needs_somebody]
            note = f"{len(harmless)} other changes of names and passwords end with every node back by itself."
        if rows:
            tables.append(_outage_table(section.capitalize(), rows, note))
    return tables


def _outage_table(caption: str, rows: list[Tree], note: str) -> Table:
    shown = rows[:MOST_ROWS]
    head = ("what happens", "without service meanwhile", "all back after", "needs somebody")
    if len(rows) > MOST_ROWS:
        note = f"And {len(rows) - MOST_ROWS} more; `advisor outage` lists them. {note}".strip()
    return Table(caption, head, tuple(_outage_row(entry) for entry in shown), (2,), note)


def _outage_row(entry: Tree) -> tuple[Line, ...]:
    without = [place.of("place") for place in entry.places if place.served_before and not place.meanwhile]
    hands: list[Line] = list(entry.all("needs_somebody"))
    lost = [place.of("place") for place in entry.places if place.served_before and place.data["back_s"] is None]
    needed: Line = listed(hands) if hands else "no"
    if lost:
        needed = [listed(hands), "; " if hands else "", "without service until then: ", listed(lost)]
    return (entry.of("told"), listed(without) if without else "nobody", _back(entry) or "–", needed)


def _last(entry: Tree) -> Tree | None:
    """The node or place that is back last, of those that come back."""
    ends = [*entry.nodes, *(place for place in entry.places if place.served_before)]
    times = [end for end in ends if end.data["back_s"] and end.data["back_s"][0] > 0]
    return max(times, key=lambda end: end.data["back_s"], default=None)


def _back(entry: Tree) -> Line:
    """How long until the last of those that come back is back: typically, at least, at most."""
    last = _last(entry)
    if last is None:
        return ""
    return [last.back_s.of(0, "seconds"), " (", last.back_s.of(1, "seconds"), " to ", last.back_s.of(2, "seconds"), ")"]


def outage_spans(outages: Tree) -> list[charts.Span]:
    """Power cuts as bars: how long until everything that comes back is back."""
    spans = []
    for entry in outages.outages:
        if entry.adds_nothing or entry.section not in ("from the file", "power"):
            continue
        last = _last(entry)
        if entry.needs_somebody:
            spans.append(charts.Span(entry.told, None, None, None))
        elif last is not None:
            typical, low, high = last.data["back_s"]
            spans.append(charts.Span(entry.told, typical, low, high))
    return spans[:MOST_ROWS]
