"""The JSON of `improve`, version 1."""

from __future__ import annotations

from pydantic import BaseModel, ConfigDict

from advisor import __version__
from advisor.advice.card import Card
from advisor.advice.goal import Distance
from advisor.advice.improve import Improvement
from advisor.site.change import Change


class _Part(BaseModel):
    model_config = ConfigDict(extra="forbid", frozen=True)


class DistanceOut(_Part):
    errors: int
    possible: int
    shortfall: float


class ChangeOut(_Part):
    operator: str
    subject: str
    do: str
    effort_min: float
    cost: float | None
    not_possible: str


class EntryOut(_Part):
    node: str
    setting: str
    enter: str
    was: str
    reached: bool


class StepOut(_Part):
    change: ChangeOut
    before: DistanceOut
    after: DistanceOut
    gone: list[str]
    new: list[str]
    card: list[EntryOut]
    out_of_reach_meanwhile: list[str]
    lost_after: list[str]


class WayOut(_Part):
    changes: list[str]
    effort_min: float
    cost: float | None
    left: DistanceOut


class ImproveOut(_Part):
    schema_version: int = 1
    advisor: str = __version__
    site: str
    file: str
    before: DistanceOut
    steps: list[StepOut]
    left: list[str]
    effort_min: float
    ways: list[WayOut]
    taken: int | None
    computed: int
    proven: bool
    no_less_than_min: float
    stopped: bool
    not_possible: list[ChangeOut]
    not_tried: dict[str, str]


def improve_json(found: Improvement, card: Card) -> str:
    steps = [
        StepOut(
            change=_change(step.change),
            before=_distance(step.before),
            after=_distance(step.after),
            gone=[finding.identity for finding in step.gone],
            new=[finding.identity for finding in step.come],
            card=[
                EntryOut(node=e.node, setting=e.setting, enter=e.value, was=e.before, reached=e.reached)
                for e in settings.entries
            ],
            out_of_reach_meanwhile=list(settings.waits),
            lost_after=list(settings.lost),
        )
        for step, settings in zip(found.steps, card.steps, strict=True)
    ]
    out = ImproveOut(
        site=found.loaded.site.site.name,
        file=found.loaded.file,
        before=_distance(found.before),
        steps=steps,
        left=[finding.identity for finding in found.left],
        effort_min=found.effort_min,
        ways=[
            WayOut(
                changes=[change.told for change in way.changes],
                effort_min=way.effort_min,
                cost=way.cost,
                left=_distance(way.distance),
            )
            for way in found.frontier
        ],
        taken=found.took,
        computed=found.computed,
        proven=found.proven,
        no_less_than_min=found.bound_min,
        stopped=found.stopped,
        not_possible=[_change(change) for change in found.refused],
        not_tried=dict(found.untried),
    )
    return out.model_dump_json(indent=2)


def _distance(found: Distance) -> DistanceOut:
    return DistanceOut(errors=found.errors, possible=found.possible, shortfall=found.shortfall)


def _change(change: Change) -> ChangeOut:
    return ChangeOut(
        operator=change.operator,
        subject=change.subject,
        do=change.told,
        effort_min=change.effort_min,
        cost=change.cost,
        not_possible=change.refused,
    )
