"""What a rule file says. Every key is checked, unknown keys are refused, and nothing can be changed afterwards."""

from __future__ import annotations

from typing import Annotated, Any, Literal, TypeAlias

from pydantic import BaseModel, BeforeValidator, ConfigDict, Field, ValidationInfo, field_validator, model_validator

from advisor.rulebook import units
from advisor.subjects import KINDS

Level: TypeAlias = Literal["error", "warning", "note"]
Confidence: TypeAlias = Literal["high", "medium", "low"]
Outcome: TypeAlias = Literal["fail", "pass", "unknown", "at-risk", "not-applicable"]

Text = Annotated[str, Field(min_length=1)]
Number: TypeAlias = float


def _as_list(value: Any) -> Any:
    return [value] if isinstance(value, str) else value


Texts = Annotated[tuple[Text, ...], BeforeValidator(_as_list)]
"""A list of texts; a single text counts as a list of one."""


class _Part(BaseModel):
    model_config = ConfigDict(frozen=True, extra="forbid")


class Param(_Part):
    """A threshold or another number the rule uses: its unit, and the published source or 'common practice, no source'.

    A plain number has the unit "1". A list may only stand after `in`.
    """

    value: float | bool | Text | tuple[float | Text, ...]
    unit: str
    source: Text

    @field_validator("value")
    @classmethod
    def _one_type(cls, value: Any) -> Any:
        if isinstance(value, tuple) and len({type(item) for item in value}) != 1:
            raise ValueError("a list holds values of one type, at least one")
        if isinstance(value, float) and value - value != 0:
            raise ValueError("must be finite")
        return value


class Need(_Part):
    """A need judged by its probability: pass when met in at least 90 % of the band, fail under 50 %, else at-risk."""

    value: Text
    at_least: Text


class Remedy(_Part):
    """A change to try: the operator and its subject, both by name."""

    operator: Text
    subject: Text
    note: str = ""


class Example(_Part):
    """Fact values and the verdict they must give. `limit` marks the one that stands at the limit itself."""

    name: Text
    facts: dict[str, Any]
    """A fact with its variants → number, yes/no, text, [low, centre, high], {unknown: reason} or {options: {…}}."""
    expect: Outcome
    limit: bool = False
    message: str | None = None


class RuleBody(_Part):
    """One rule file."""

    id: Annotated[str, Field(pattern=r"^[a-z0-9]+(-[a-z0-9]+)*$")]
    title: Text
    status: Literal["stable", "trial"]
    level: Level
    """How bad it is; the words of SARIF 2.1.0."""
    confidence: Confidence
    """How sure the rule is."""
    about: str
    where: Text | None = None
    """When the rule applies at all."""
    when: Text | None = None
    """True when something is wrong."""
    need: Need | None = None
    params: dict[Annotated[str, Field(pattern=r"^[a-z][a-z0-9_]*$")], Param] = {}
    message: Text
    why: Text
    do: Texts
    """What to do, in order, for people."""
    sources: Annotated[Texts, Field(min_length=1)]
    remedies: tuple[Remedy, ...] = ()
    cause: str | None = None
    """Name of a class fact of the same subject; its value is the key of the subject that causes the finding."""
    cause_rank: int = 50
    """Smaller is more fundamental."""
    heads: bool = False
    """True where findings that name this one's subject as their cause come from this: they stand under it."""
    limits: Texts = ()
    """What the rule cannot see."""
    examples: tuple[Example, ...]

    @field_validator("about")
    @classmethod
    def _subject_kind(cls, value: str) -> str:
        if value not in KINDS:
            raise ValueError(f"unknown subject kind {value!r}. Allowed: {', '.join(KINDS)}")
        return value

    @field_validator("params")
    @classmethod
    def _suffixes(cls, params: dict[str, Param]) -> dict[str, Param]:
        for name, param in params.items():
            promise = units.promised(name)
            if promise is not None and units.normal(param.unit) != promise:
                raise ValueError(f"the name {name} promises {promise} but the unit is {param.unit!r}")
        return params

    @field_validator("examples")
    @classmethod
    def _enough(cls, examples: tuple[Example, ...], info: ValidationInfo) -> tuple[Example, ...]:
        if info.context and not info.context["examples"]:
            return examples
        lacking = [kind for kind in ("fail", "pass", "unknown") if all(example.expect != kind for example in examples)]
        if lacking:
            raise ValueError(f"at least one example must expect: {', '.join(lacking)}")
        if not any(example.limit for example in examples):
            raise ValueError("one example must stand at the limit itself; mark it limit: true")
        if len({example.name for example in examples}) < len(examples):
            raise ValueError("two examples have the same name")
        return examples

    @model_validator(mode="after")
    def _one_condition(self) -> RuleBody:
        if (self.when is None) == (self.need is None):
            raise ValueError("a rule has either 'when' or 'need'")
        return self
