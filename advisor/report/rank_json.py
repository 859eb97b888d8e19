"""The JSON of `rank`, version 1: its own types, so that it does not move with the program's inside."""

from __future__ import annotations

from pydantic import BaseModel, ConfigDict

from advisor import __version__
from advisor.advice.records import Entry, HopLine, PlaceLine, Ranking
from advisor.values import Known


class _Part(BaseModel):
    model_config = ConfigDict(extra="forbid", frozen=True)


class Figure(_Part):
    """A figure with its 10 and 90 % points."""

    centre: float
    low: float
    high: float


class ChangeOut(_Part):
    operator: str
    subject: str
    do: str
    effort_min: float
    cost: float | None


class HopOut(_Part):
    node: str
    parent: str
    over: str
    level_dbm: Figure | None
    rate_mbps: Figure | None
    alone_mbps: Figure | None
    time_share: float | None
    stops_worst_place: bool


class PlaceOut(_Part):
    place: str
    clients: int
    joins: str
    down_mbps: Figure | None
    up_mbps: Figure | None
    need_down_mbps: float | None
    need_up_mbps: float | None
    met_chance: float | None


class VersusOut(_Part):
    """Cases in which the worst place is better, alike, worse off than under the first layout."""

    better: int
    alike: int
    worse: int
    tie: bool


class LayoutOut(_Part):
    rank: int
    id: str
    layout: str
    kinds: list[str]
    needs_met: int
    needs_asked: int
    worst_share: float | None
    worst_at: str
    missing: list[str]
    all_met_chance: float
    regret_needs: int
    regret_share: float
    against_first: VersusOut | None
    best_factor: float | None
    air_hops: int
    node_to_lose: str
    places_lost_with_it: int
    calls_hold: int | None
    calls: int | None
    walks_hold: int | None
    walks: int | None
    outages_come_back: int | None
    outages: int | None
    effort_min: float
    cost: float | None
    ahead_on: list[str]
    changes: list[ChangeOut]
    hops: list[HopOut]
    places: list[PlaceOut]


class FlipOut(_Part):
    assumption: str
    what: str
    low: str
    high: str
    first_at_low: str
    first_at_high: str
    changes: str


class PromiseOut(_Part):
    place: str
    sentence: str
    holds: bool
    void: list[str]


class SearchOut(_Part):
    ways: float
    computed: int
    budget: int
    exact: bool
    at_most_needs: int
    at_most_worst_share: float
    how: str
    stopped: bool
    varied: list[str]
    fixed: list[str]


class RankOut(_Part):
    schema_version: int = 1
    advisor: str = __version__
    site: str
    file: str
    invented: bool
    recommended: str
    because: list[str]
    recommended_because: str
    cannot_be_served: list[str]
    not_known: list[str]
    layouts: list[LayoutOut]
    flips: list[FlipOut]
    promises: list[PromiseOut]
    search: SearchOut


def rank_json(ranking: Ranking) -> str:
    """The whole answer as JSON text."""
    about, search = ranking.loaded.site.site, ranking.search
    return RankOut(
        site=about.name,
        file=ranking.loaded.file,
        invented=about.invented,
        recommended=ranking.recommended,
        because=list(ranking.because),
        recommended_because=ranking.recommended_because,
        cannot_be_served=list(ranking.hopeless),
        not_known=list(ranking.missing),
        layouts=[_layout(entry) for entry in ranking.entries],
        flips=[
            FlipOut(
                assumption=flip.id,
                what=flip.what,
                low=flip.ends[0],
                high=flip.ends[1],
                first_at_low=flip.low,
                first_at_high=flip.high,
                changes=flip.at,
            )
            for flip in ranking.flips
        ],
        promises=[
            PromiseOut(place=entry.place, sentence=entry.sentence, holds=entry.holds, void=list(entry.void))
            for entry in ranking.promises
        ],
        search=SearchOut(
            ways=search.layouts,
            computed=search.computed,
            budget=search.budget,
            exact=search.exact,
            at_most_needs=search.bound[0],
            at_most_worst_share=search.bound[1],
            how=search.bound_by,
            stopped=search.stopped,
            varied=list(ranking.varied),
            fixed=list(ranking.fixed),
        ),
    ).model_dump_json(indent=2)


def _layout(entry: Entry) -> LayoutOut:
    layout, versus, axes = entry.layout, entry.versus_first, entry.axes
    return LayoutOut(
        rank=entry.rank,
        id=layout.id,
        layout=layout.told,
        kinds=list(layout.kinds),
        needs_met=entry.score.met,
        needs_asked=entry.score.asked,
        worst_share=None if entry.score.unknown else entry.score.worst,
        worst_at=entry.score.worst_at,
        missing=list(entry.score.unknown),
        all_met_chance=entry.chance,
        regret_needs=entry.regret.needs,
        regret_share=entry.regret.share,
        against_first=versus and VersusOut(better=versus.wins, alike=versus.alike, worse=versus.losses, tie=versus.tie),
        best_factor=axes.best_factor,
        air_hops=axes.air_hops,
        node_to_lose=axes.node_loss[0],
        places_lost_with_it=axes.node_loss[1],
        calls_hold=axes.calls[0] if axes.calls else None,
        calls=axes.calls[1] if axes.calls else None,
        walks_hold=axes.walks[0] if axes.walks else None,
        walks=axes.walks[1] if axes.walks else None,
        outages_come_back=axes.returns[0] if axes.returns else None,
        outages=axes.returns[1] if axes.returns else None,
        effort_min=layout.effort_min,
        cost=layout.cost,
        ahead_on=list(entry.leads),
        changes=[
            ChangeOut(
                operator=change.operator,
                subject=change.subject,
                do=change.told,
                effort_min=change.effort_min,
                cost=change.cost,
            )
            for change in layout.changes
        ],
        hops=[_hop(line) for line in entry.hops],
        places=[_place(line) for line in entry.places],
    )


def _hop(line: HopLine) -> HopOut:
    return HopOut(
        node=line.node,
        parent=line.parent,
        over=line.over,
        level_dbm=_figure(line.level_dbm),
        rate_mbps=_figure(line.rate_mbps),
        alone_mbps=_figure(line.alone_mbps),
        time_share=line.air_share,
        stops_worst_place=line.binds,
    )


def _place(line: PlaceLine) -> PlaceOut:
    return PlaceOut(
        place=line.place,
        clients=line.clients,
        joins=line.joined,
        down_mbps=_figure(line.down_mbps),
        up_mbps=_figure(line.up_mbps),
        need_down_mbps=line.need_down_mbps,
        need_up_mbps=line.need_up_mbps,
        met_chance=line.chance,
    )


def _figure(value: Known | None) -> Figure | None:
    if value is None:
        return None
    return Figure(
        centre=round(float(value.centre), 3), low=round(float(value.low), 3), high=round(float(value.high), 3)
    )
