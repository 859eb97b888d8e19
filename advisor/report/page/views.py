"""What each section of a report shows, from what was gathered."""

from __future__ import annotations

import base64
from collections.abc import Callable, Iterable
from dataclasses import dataclass
from typing import Any

from markupsafe import Markup

from advisor.report.page import change_views as change
from advisor.report.page import patterns, pictures, site_views, time_views
from advisor.report.page.floor_maps import Maps
from advisor.report.page.gather import Content
from advisor.report.page.tree import Line, Tree, listed

MOST_REFUSED = 6


@dataclass(frozen=True, slots=True)
class Drawn:
    """A chart as images for wide and narrow screens, and what it shows in words."""

    wide: str
    narrow: str
    alt: str


def view_of(section: str, content: Content) -> dict[str, Any]:
    """What a section's template is given."""
    return VIEWS[section](content, Tree(content.data, ""))


def _drawn(content: Content, alt: str, draw: Callable[[bool], str]) -> Drawn | None:
    """A chart in both widths; None where charts are left out."""
    if "charts" not in content.wanted:
        return None
    return Drawn(_image(draw(False)), _image(draw(True)), alt)


def _image(svg: str) -> str:
    return "data:image/svg+xml;base64," + base64.b64encode(svg.encode()).decode()


def _summary(content: Content, data: Tree) -> dict[str, Any]:
    return site_views.summary(data)


def _plan(content: Content, data: Tree) -> dict[str, Any]:
    drawn = list(pictures.plans(content.plan, site_views.hop_signs(data), site_views.channels(data)))
    legend = dict.fromkeys(entry for picture in drawn for entry in picture.legend)
    return {
        "pictures": drawn,
        "legend": _merged(legend),
        "radios": site_views.radio_table(data),
    }


def _merged(legend: Iterable[tuple[Markup, str]]) -> list[tuple[Markup, str]]:
    """One entry for each sign, though floors may name other things under it."""
    found: dict[tuple[Markup, str], list[str]] = {}
    for sample, meaning in legend:
        head, _, rest = meaning.partition(": ")
        known = found.setdefault((sample, head), [])
        known += [name for name in rest.split(", ") if name and name not in known]
    return [(sample, head + (f": {', '.join(names)}" if names else "")) for (sample, head), names in found.items()]


def _outcomes(content: Content, data: Tree) -> dict[str, Any]:
    maps = data.maps
    about: Line = [
        "For one ",
        maps.of("client"),
        " at a time that may join any network of the site, everybody else active as described.",
    ]
    if maps.floors:
        about = [
            about,
            " Dots, crosses and triangles: in some cases, not in nine of ten; the figures on the plan say in how many.",
        ]
    else:
        about = [about, " The description tells no floors or rooms, so there is no map; the table tells the places."]
    drawn = pictures.maps(
        content.plan, Maps.model_validate(content.data["maps"]).floors, content.grids, data.maps.client
    )
    by_floor = {floor.floor: floor for floor in maps.floors}
    listed_maps = [
        (picture, site_views.map_table(by_floor[picture.key.partition(":")[2]], patterns.MEANING)) for picture in drawn
    ]
    notes: list[Line] = []
    if maps.floors:
        notes.append(
            "Where a place of that device is, its own verdict stands: it counts readings taken there and what it asks."
        )
    if maps.left_out:
        notes.append(["Nodes left out, as their position is not told: ", listed(maps.all("left_out")), "."])
    if maps.places_left_out:
        notes.append(
            ["Places on no map (outdoors, or their position is not told): ", listed(maps.all("places_left_out")), "."]
        )
    if maps.floors and not maps.every_way:
        notes.append("Uplinks left to the equipment run over their strongest way here.")
    return {"about": about, "maps": listed_maps, "notes": notes, "uses": site_views.use_table(data)}


def _speeds(content: Content, data: Tree) -> dict[str, Any]:
    from advisor.report.page import charts

    places, hops = site_views.place_bars(data), site_views.hop_bars(data)
    return {
        "places": site_views.place_table(data),
        "hops": site_views.hop_table(data),
        "place_chart": _drawn(
            content,
            "Bars: what each place gets beside what it asks. The table below has the same numbers.",
            lambda narrow: charts.bars(places, unit="Mb/s", narrow=narrow),
        )
        if places
        else None,
        "hop_chart": _drawn(
            content,
            "Bars: what each hop lets through beside what is asked. The table below has the same numbers.",
            lambda narrow: charts.bars(hops, unit="Mb/s", narrow=narrow),
        )
        if hops
        else None,
    }


def _walks(content: Content, data: Tree) -> dict[str, Any]:
    from advisor.report.page import charts_walk

    walks = []
    for number, course in enumerate(content.courses):
        told = data.walks.walks[number]
        drawn = time_views.course_chart(course)
        walks.append(
            {
                "name": told.of("walk"),
                "lines": time_views.walk_lines(told),
                "pictures": list(pictures.way(content.plan, told.walk, time_views.stops(course))),
                "chart": _drawn(
                    content,
                    f"The typical course of {told.walk}: the radio that serves, its level, silences, call quality.",
                    lambda narrow, drawn=drawn: charts_walk.timeline(drawn, narrow=narrow),  # type: ignore[misc]
                ),
                "changes": time_views.change_table(told),
                "crossings": time_views.crossing_table(told),
                "assumed": told.all("assumed"),
            }
        )
    return {"walks": walks}


def _outages(content: Content, data: Tree) -> dict[str, Any]:
    from advisor.report.page import charts

    spans = time_views.outage_spans(data.outages)
    return {
        "lines": time_views.outage_lines(data.outages),
        "tables": time_views.outage_tables(data.outages),
        "chart": _drawn(
            content,
            "Bars: how long after a power cut until everything that comes back is back.",
            lambda narrow: charts.spans(spans, narrow=narrow),
        )
        if spans
        else None,
        "assumed": data.outages.all("assumed"),
    }


def _findings(content: Content, data: Tree) -> dict[str, Any]:
    check = data.check
    blocks = change.blocks(check)
    levels = [group.cause.level for group in check.groups]
    ignored = [[entry.finding.of("title"), ": ", entry.of("reason")] for entry in check.ignored]
    return {
        "counts": f"{len(blocks)} causes, {levels.count('note')} notes. “Leads to” lists what goes with its cause.",
        "blocks": blocks,
        "notes": change.note_table(check),
        "questions": change.question_table(check),
        "missing": change.missing_table(check),
        "ignored": ignored,
    }


def _steps(content: Content, data: Tree) -> dict[str, Any]:
    improve = data.improve
    lines = list(site_views.brings(data))
    if improve.steps:
        sure = (
            "every set of these changes with less work was computed: none reaches as much"
            if improve.proven
            else "not every set with less work could be computed"
        )
        lines = [*lines, [improve.of("computed"), f" sets of changes computed; {sure}."]]
    return {
        "lines": lines,
        "steps": [_step(content, data, step, number) for number, step in enumerate(improve.steps, 1)],
        "ways": change.way_table(improve),
        "left": [_named(data, identity) for identity in improve.left.all_of()],
        "not_tried": [
            *([entry.of("do"), " ", entry.of("not_possible")] for entry in list(improve.not_possible)[:MOST_REFUSED]),
            *([key, ": ", improve.not_tried.of(key), "."] for key, _ in improve.not_tried.pairs()),
        ],
    }


def _step(content: Content, data: Tree, step: Tree, number: int) -> dict[str, Any]:
    change_ = step.change
    lines: list[Line] = [
        [
            step.before.of("errors"),
            " wrong and ",
            step.before.of("possible"),
            " that may be → ",
            step.after.of("errors"),
            " and ",
            step.after.of("possible"),
            "; about ",
            change_.of("effort_min", "minutes"),
            ".",
        ]
    ]
    if step.gone:
        lines.append(["It takes away: ", listed([_named(data, identity) for identity in step.gone.all_of()], 5), "."])
    meanwhile: list[Line] = []
    if step.out_of_reach_meanwhile:
        meanwhile.append(["Out of reach until the step is done: ", listed(step.all("out_of_reach_meanwhile")), "."])
    if step.lost_after:
        meanwhile.append(
            ["Does not come back by itself; somebody has to go there: ", listed(step.all("lost_after")), "."]
        )
    return {
        "title": [f"Step {number}: ", change_.of("do")],
        "lines": lines,
        "card": change.card_table(step, number) if step.card else None,
        "meanwhile": meanwhile,
    }


def _named(data: Tree, identity: Any) -> Line:
    """A finding by its title and subject, where the check lists it; else its identity."""
    for group in data.check.groups:
        for entry in (group.cause, *group.leads_to):
            if entry.id == identity.text:
                return ["“", entry.of("title"), "” (", entry.subject.rpartition("=")[2], ")"]
    return identity  # type: ignore[no-any-return]


def _layouts(content: Content, data: Tree) -> dict[str, Any]:
    from advisor.report.page import charts

    if not content.data["rank"]:
        return {"rank": None, "absent": ["No layouts are compared: ", content.absent.get("rank", "not asked for"), "."]}
    rank = data.rank
    best = change.taken(rank)
    assert best is not None
    searched = (
        "no layout left out can be better"
        if rank.search.exact
        else "not every layout was computed; `advisor rank` computes more"
    )
    points = change.layout_points(rank)
    return {
        "rank": rank,
        "lead": [
            "Take layout ",
            best.of("rank"),
            ": ",
            best.of("layout"),
            ". It typically meets ",
            best.of("needs_met"),
            " of ",
            best.of("needs_asked"),
            " needs, and all of them in ",
            best.of("all_met_chance", "share"),
            " of the cases computed.",
        ],
        "because": rank.of("recommended_because"),
        "changes": [[entry.of("do"), " About ", entry.of("effort_min", "minutes"), "."] for entry in best.changes],
        "chart": _drawn(
            content,
            "Layouts by work and by needs met; the one to take is filled.",
            lambda narrow: charts.scatter(points, x="work, minutes", y="needs met", narrow=narrow),
        ),
        "layouts": change.layout_table(rank),
        "reasons": rank.all("because"),
        "flips": change.flip_table(rank),
        "search": [rank.search.of("computed"), f" layouts computed in full; {searched}."],
        "promises": [_promise(entry) for entry in rank.promises],
        "absent": "",
    }


def _promise(entry: Tree) -> Line:
    void: Line = [" Void if: ", listed(entry.all("void")), "."] if entry.void else ""
    return ["" if entry.holds else "Not in full: ", entry.of("sentence"), void]


def _difference(content: Content, data: Tree) -> dict[str, Any]:
    diff = data.diff
    better = [axis for axis, word in diff.verdicts.pairs() if word == "better"]
    worse = [axis for axis, word in diff.verdicts.pairs() if word == "worse"]
    told = "; ".join(
        part
        for part in (
            f"better on {', '.join(better)}" if better else "",
            f"worse on {', '.join(worse)}" if worse else "",
        )
        if part
    )
    notes: list[Line] = [diff.of("not_told_apart")] if diff.not_told_apart else []
    return {
        "lead": [diff.of("second"), " beside ", diff.of("first"), f": {told or 'alike on every axis'}."],
        "differences": change.difference_table(diff),
        "moved": change.moved_tables(diff),
        "because": change.because_table(diff),
        "notes": notes,
    }


def _assumptions(content: Content, data: Tree) -> dict[str, Any]:
    check = data.check
    return {
        "table": change.assumption_table(check),
        "not_computed": [["Not judged: ", entry.of("part"), ": ", entry.of("reason")] for entry in check.not_computed],
    }


def _cautions(content: Content, data: Tree) -> dict[str, Any]:
    return {}


def _about(content: Content, data: Tree) -> dict[str, Any]:
    book = content.assessment.book
    draws, seed = book.draws.count, book.draws.seed
    lines: list[Line] = [
        ["Program: advisor ", data.of("program"), "; the layout of its JSON is version ", data.of("version"), "."],
        f"{len(content.assessment.rules)} rules of the rule book were applied.",
        f"Every figure was computed for its typical value and for {draws} draws of what is not known exactly (seed "
        f"{seed}); bands are their 10 and 90 % points.",
        "Levels: free space and the constructions told, ITU-R P.1238 where nothing is told. Rates: IEEE 802.11 tables "
        "and link simulation of packet errors. Shared air: Bianchi 2000 extended, and max-min fair shares. Calls: "
        "ITU-T G.107.",
        "Nothing was measured for this report; what the description says was measured counts as that. The same "
        "description gives the same report.",
        "The parts by command: `advisor check --deep`, `capacity`, `rank`, `improve`, `walk`, `outage`; `advisor why` "
        "tells how any number came about.",
    ]
    if content.most_tried is not None:
        told = f"The site is large: at most {content.most_tried} changes were tried for its findings, and fewer layouts"
        lines.append(f"{told} and sets of changes than usual; the commands try more.")
    return {"lines": lines}


VIEWS: dict[str, Callable[[Content, Tree], dict[str, Any]]] = {
    "summary": _summary,
    "plan": _plan,
    "outcomes": _outcomes,
    "speeds": _speeds,
    "walks": _walks,
    "outages": _outages,
    "findings": _findings,
    "steps": _steps,
    "layouts": _layouts,
    "difference": _difference,
    "assumptions": _assumptions,
    "cautions": _cautions,
    "about": _about,
}
