"""Everything a report shows, computed once: the JSON of the commands side by side, and what the pictures need."""

from __future__ import annotations

import base64
import json
import pickle
from collections.abc import Callable
from dataclasses import dataclass, field
from datetime import date
from typing import TYPE_CHECKING, Any

from advisor import __version__
from advisor.assess import Assessment, assess
from advisor.errors import InputError
from advisor.facts.checks import open_book
from advisor.facts.draws import Draws
from advisor.facts.walks import Course, course_of_walk
from advisor.network.floor_grid import Grid, grids
from advisor.network.plan import plan_of
from advisor.network.plan_records import Plan
from advisor.report.json_v1 import capacity_json, check_json
from advisor.report.outage_json import outage_json
from advisor.report.page.aside import Aside
from advisor.report.page.floor_maps import Maps, floor_maps, most_cells, usual_kind
from advisor.report.page.radios import radios_of
from advisor.report.walk_json import walk_json
from advisor.site.load import LoadedSite
from advisor.tables import place_rows

if TYPE_CHECKING:
    from advisor.advice.tries import Fix, Kept

SECTIONS = (
    "summary", "plan", "outcomes", "speeds", "walks", "outages", "steps", "layouts", "findings", "difference",
    "assumptions", "cautions", "about",
)  # fmt: skip
"""Parts of a report, in order."""
MARK = "advisor report"
"""Stands in every file a report is written to, so that such a file may be written again."""
ALWAYS = ("cautions",)
"""Parts that are never left out."""
PARTS = 4
"""Steps in which a report is computed, for whoever waits."""
USUAL_NODES = 8
"""Up to so many nodes everything is tried that the commands try; of larger sites less, so that a report stays quick."""
TRIALS, SETS, LAYOUTS, LISTED = 60, 120, 400, 5
"""Changes tried for findings, sets of changes and layouts computed: as the commands do."""


@dataclass(frozen=True)
class Wanted:
    """What a report is asked to show."""

    without: frozenset[str] = frozenset()
    walks: tuple[str, ...] | None = None
    """The walks to tell; None: all of the file."""
    client: str | None = None
    """The kind of client the outcome map is for; None: the one most people use."""
    against: LoadedSite | None = None
    today: date | None = None
    """Judge as of this day."""
    dated: bool = True
    """Whether the day stands on the page in any case; else only where something ignored has an end date."""

    def __contains__(self, section: object) -> bool:
        return section not in self.without


@dataclass(frozen=True)
class Content:
    """All a report shows. `data` is what `--format json` prints: one entry for each command, as that prints it."""

    wanted: Wanted
    loaded: LoadedSite
    data: dict[str, Any]
    assessment: Assessment
    plan: Plan
    grids: tuple[Grid, ...]
    courses: tuple[Course, ...]
    most_tried: int | None
    """Changes tried for findings at most, where the site is so large that there are fewer than usual."""
    absent: dict[str, str] = field(default_factory=dict)
    """Parts that could not be computed, with the reason."""


def gather(loaded: LoadedSite, wanted: Wanted, progress: Callable[[int, int], None] | None = None) -> Content:
    """Compute what a report shows. What hangs on nothing else runs beside the rest.

    `progress(done, of)` is called after each part. Raises InputError as the commands do.
    """
    done = progress or (lambda _done, _of: None)
    size = min(1.0, (USUAL_NODES / max(len(loaded.site.nodes), 1)) ** 2)
    open_book(loaded, Draws(1, 0))
    soon = size == 1.0 and ("steps" in wanted or "summary" in wanted)
    layout = Aside(lambda: _layout(loaded), soon=soon)
    beside = Aside(lambda: json.dumps(_beside(loaded, wanted, size)))
    try:
        return _gathered(loaded, wanted, size, layout, beside, done)
    finally:
        layout.drop()
        beside.drop()


def _gathered(
    loaded: LoadedSite,
    wanted: Wanted,
    size: float,
    layout: Aside,
    beside: Aside,
    done: Callable[[int, int], None],
) -> Content:
    """The main line; what was begun beside it is waited for last."""
    assessment = assess(loaded, deep=True, today=wanted.today)
    done(1, PARTS)
    kept: Kept = {}
    trials = max(round(TRIALS * size), 4)
    fixes = _fixes(assessment, trials, kept) if "findings" in wanted else {}
    done(2, PARTS)
    data: dict[str, Any] = {
        "format": "advisor report",
        "version": 1,
        "program": __version__,
        "check": json.loads(check_json(assessment, fixes)),
        "capacity": json.loads(capacity_json(assessment.book, loaded)),
        "radios": [json.loads(radio.model_dump_json()) for radio in radios_of(assessment.book)],
        "maps": Maps.empty(wanted.client or usual_kind(assessment.book)).model_dump(),
        "walks": None,
        "outages": json.loads(_outages(assessment)) if "outages" in wanted else None,
        "improve": None,
    }
    if "steps" in wanted or "summary" in wanted:
        sets = max(round(SETS * size), 6)
        data["improve"] = json.loads(_improved(assessment, sets, kept, layout))
    done(3, PARTS)
    courses = _courses(assessment, wanted)
    if courses:
        data["walks"] = json.loads(walk_json(loaded, courses))
    found = json.loads(beside.result())
    done(PARTS, PARTS)
    absent, fewer = found.pop("absent"), trials if size < 1.0 else None
    data |= found
    grid = grids(loaded.site, most_cells(assessment.book)) if data["maps"]["floors"] else ()
    return Content(wanted, loaded, data, assessment, plan_of(loaded.site), grid, tuple(courses), fewer, absent)


def _beside(loaded: LoadedSite, wanted: Wanted, size: float) -> dict[str, Any]:
    """The parts that hang on nothing else of the report: layouts, the difference, maps; and why one is absent."""
    found: dict[str, Any] = {"rank": None, "diff": None, "absent": {}}
    if "layouts" in wanted:
        try:
            found["rank"] = json.loads(_ranked(loaded, max(round(LAYOUTS * size**2), 1)))
        except InputError as error:
            found["absent"]["rank"] = error.problems[0].what
    if wanted.against is not None and "difference" in wanted:
        found["diff"] = json.loads(_compared(loaded, wanted.against))
    if "outcomes" in wanted:
        book = open_book(loaded)
        found["maps"] = floor_maps(book, wanted.client or usual_kind(book), place_rows(book)).model_dump()
    return found


def _ranked(loaded: LoadedSite, budget: int) -> str:
    from advisor.advice.rank import rank
    from advisor.report.rank_json import rank_json

    return rank_json(rank(loaded, top=LISTED, budget=budget))


def _layout(loaded: LoadedSite) -> str:
    """The changes of the best layout, packed to come out of another process."""
    from advisor.advice.improve import best_layout

    return base64.b64encode(pickle.dumps(best_layout(loaded, open_book(loaded)))).decode()


def _improved(assessment: Assessment, budget: int, kept: Kept, layout: Aside) -> str:
    from advisor.advice.card import card_of
    from advisor.advice.improve import improve
    from advisor.report.improve_json import improve_json

    found = improve(
        assessment.loaded,
        budget=budget,
        book=assessment.book,
        kept=kept,
        layout=lambda: pickle.loads(base64.b64decode(layout.result())),
    )
    return improve_json(found, card_of(found))


def _compared(loaded: LoadedSite, against: LoadedSite) -> str:
    from advisor.compare.because import compare
    from advisor.report.diff_json import diff_json

    return diff_json(compare(loaded, against, apart=True))


def _fixes(assessment: Assessment, most: int, kept: Kept) -> dict[str, Fix]:
    from advisor.advice.tries import fixes

    return {fix.finding.identity: fix for fix in fixes(assessment, most=most, notes=False, kept=kept)}


def _courses(assessment: Assessment, wanted: Wanted) -> list[Course]:
    """The walks asked for; they hang on the seed of the draws alone, so they are those of `advisor walk`."""
    names = sorted(assessment.loaded.site.walks) if wanted.walks is None else list(wanted.walks)
    return [course_of_walk(assessment.book, name) for name in names] if "walks" in wanted else []


def _outages(assessment: Assessment) -> str:
    from advisor.advice.outages import outages

    return outage_json(assessment.loaded, outages(assessment.book))


__all__ = ["ALWAYS", "SECTIONS", "Content", "Wanted", "gather"]
