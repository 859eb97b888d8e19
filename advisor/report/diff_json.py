"""The JSON of `diff` and `what-if`, version 1."""

from __future__ import annotations

from pydantic import BaseModel, ConfigDict

from advisor import __version__
from advisor.compare.because import Comparison
from advisor.compare.effects import AXES, Effects


class _Part(BaseModel):
    model_config = ConfigDict(extra="forbid", frozen=True)


class DifferenceOut(_Part):
    kind: str
    path: str
    told: str
    where_before: str
    where_after: str


class MovedOut(_Part):
    axis: str
    about: str
    before: str
    after: str
    verdict: str
    better: int | None
    alike: int | None
    worse: int | None


class BecauseOut(_Part):
    changes: list[str]
    alone: list[MovedOut]
    after_those_before: list[MovedOut]


class DiffOut(_Part):
    schema_version: int = 1
    advisor: str = __version__
    first: str
    second: str
    differences: list[DifferenceOut]
    renamed: dict[str, str]
    """Paths of ids that are probably called otherwise, with the new id."""
    written_otherwise: int
    verdicts: dict[str, str]
    moved: list[MovedOut]
    because: list[BecauseOut]
    not_told_apart: str


def diff_json(found: Comparison) -> str:
    out = DiffOut(
        first=found.structure.before.file,
        second=found.structure.after.file,
        differences=[
            DifferenceOut(
                kind=entry.kind,
                path=".".join(map(str, entry.path)),
                told=entry.told,
                where_before=entry.where_before,
                where_after=entry.where_after,
            )
            for entry in found.structure.differences
        ],
        renamed={".".join(map(str, (*entry.collection, entry.old))): entry.new for entry in found.structure.renames},
        written_otherwise=len(found.structure.restated),
        verdicts={axis: found.effects.verdict(axis) for axis in AXES},
        moved=_moved(found.effects),
        because=[
            BecauseOut(
                changes=[change.told for change in entry.changes],
                alone=_moved(entry.alone),
                after_those_before=_moved(entry.then),
            )
            for entry in found.because
        ],
        not_told_apart=found.left,
    )
    return out.model_dump_json(indent=2)


def _moved(found: Effects) -> list[MovedOut]:
    return [
        MovedOut(
            axis=entry.axis,
            about=entry.about,
            before=entry.before,
            after=entry.after,
            verdict=entry.verdict,
            better=entry.cases.wins if entry.cases else None,
            alike=entry.cases.alike if entry.cases else None,
            worse=entry.cases.losses if entry.cases else None,
        )
        for entry in found.moved
    ]
