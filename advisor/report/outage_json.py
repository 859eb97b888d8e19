"""The JSON of `outage`, version 1, and the ends of all outages as CSV."""

from __future__ import annotations

import csv
import io
from math import inf

from pydantic import BaseModel, ConfigDict

from advisor import __version__
from advisor.advice.outages import Outages, Told
from advisor.site.load import LoadedSite


class _Part(BaseModel):
    model_config = ConfigDict(extra="forbid", frozen=True)


class StepOut(_Part):
    at_s: float
    node: str
    what: str
    detail: str


class NodeOut(_Part):
    node: str
    state: str
    back_s: tuple[float, float, float] | None
    """After the cause is over: typical, shortest, longest; None where it does not come back by itself."""
    out_s: float | None
    over: str
    login: str
    why: str


class PlaceOut(_Part):
    place: str
    calls: int
    served_before: bool
    meanwhile: bool
    back_s: tuple[float, float, float] | None
    out_s: float | None


class OutageOut(_Part):
    outage: str
    section: str
    told: str
    last_with_power: str | None
    needs_somebody: list[str]
    adds_nothing: bool
    line_out_s: float | None
    nodes: list[NodeOut]
    places: list[PlaceOut]
    steps: list[StepOut]


class OutagesOut(_Part):
    schema_version: int = 1
    advisor: str = __version__
    site: str
    file: str
    single_points: dict[str, list[str]]
    feed_each_other: list[list[str]]
    missing: list[str]
    assumed: list[str]
    outages: list[OutageOut]


def outage_json(loaded: LoadedSite, found: Outages) -> str:
    out = OutagesOut(
        site=loaded.site.site.name,
        file=loaded.file,
        single_points={name: list(others) for name, others in found.takes_along.items()},
        feed_each_other=[list(circle) for circle in found.circles],
        missing=list(found.missing),
        assumed=list(found.assumed),
        outages=[_outage(entry) for entry in found.told],
    )
    return out.model_dump_json(indent=2)


def _seconds(value: float) -> float | None:
    return None if value == inf else round(value, 1)


def _three(values: tuple[float, float, float]) -> tuple[float, float, float] | None:
    if inf in values:
        return None
    return round(values[0], 1), round(values[1], 1), round(values[2], 1)


def _outage(entry: Told) -> OutageOut:
    cases = (entry.typical, entry.shortest, entry.longest)
    last = entry.typical.happening.back_s
    nodes = [
        NodeOut(
            node=name,
            state=end.state,
            back_s=_three((cases[0].boxes[name].back_s, cases[1].boxes[name].back_s, cases[2].boxes[name].back_s)),
            out_s=_seconds(end.out_s),
            over=end.way.told if end.way is not None else "",
            login=end.login,
            why=end.why,
        )
        for name, end in entry.typical.boxes.items()
    ]
    places = [
        PlaceOut(
            place=name,
            calls=end.calls,
            served_before=not end.left_without,
            meanwhile=end.meanwhile,
            back_s=_three((cases[0].places[name].back_s, cases[1].places[name].back_s, cases[2].places[name].back_s)),
            out_s=_seconds(end.out_s),
        )
        for name, end in entry.typical.places.items()
    ]
    return OutageOut(
        outage=entry.happening.id,
        section=entry.section,
        told=entry.happening.told,
        last_with_power=last[0][0] if last else None,
        needs_somebody=list(entry.somebody),
        adds_nothing=entry.plain,
        line_out_s=_seconds(entry.typical.line_out_s),
        nodes=nodes,
        places=places,
        steps=[
            StepOut(at_s=round(step.at_s, 1), node=step.box, what=step.what, detail=step.detail)
            for step in entry.typical.steps
        ],
    )


def outage_csv(found: Outages) -> str:
    """A row for every node and place in every outage."""
    text = io.StringIO()
    writer = csv.writer(text, lineterminator="\n")
    writer.writerow(("outage", "section", "kind", "id", "state", "meanwhile", "back_s", "out_s", "why"))
    for entry in found.told:
        for name, end in entry.typical.boxes.items():
            times = (_seconds(end.back_s), _seconds(end.out_s))
            writer.writerow((entry.happening.id, entry.section, "node", name, end.state, "", *times, end.why))
        for name, place in entry.typical.places.items():
            state = "not served before" if place.left_without else "lost" if place.back_s == inf else "served"
            times = (_seconds(place.back_s), _seconds(place.out_s))
            met = "yes" if place.meanwhile else "no"
            writer.writerow((entry.happening.id, entry.section, "place", name, state, met, *times, ""))
    return text.getvalue()
