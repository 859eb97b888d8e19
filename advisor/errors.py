"""The program's errors, one small tree split by whose fault it is."""

from __future__ import annotations

from dataclasses import dataclass


class AdvisorError(Exception):
    """Anything the program raises on purpose."""


@dataclass(frozen=True, order=True, slots=True)
class Position:
    """Where something stands in a file: 1-based line and column; 0 means the file as a whole."""

    line: int
    column: int


@dataclass(frozen=True, order=True, slots=True)
class Problem:
    """One thing wrong with an input file, in plain language, with what is allowed and what to do next."""

    position: Position
    what: str
    help: str = ""

    def text(self, file: str) -> str:
        """`file:line:column: what is wrong. What to do.`"""
        where = f"{file}:{self.position.line}:{self.position.column}" if self.position.line else file
        return f"{where}: {self.what}" + (f"\n    {self.help}" if self.help else "")


class InputError(AdvisorError):
    """The user's file or arguments cannot be used; carries every problem found, sorted by line."""

    def __init__(self, file: str, problems: list[Problem]) -> None:
        self.file = file
        self.problems = sorted(set(problems))
        super().__init__("\n".join(problem.text(file) for problem in self.problems))


class RuleError(AdvisorError):
    """A rule cannot be loaded or failed while judging; names the rule and the subject."""

    def __init__(self, rule: str, what: str, subject: str = "") -> None:
        self.rule, self.subject, self.what = rule, subject, what
        super().__init__(f"rule {rule}" + (f" on {subject}" if subject else "") + f": {what}")


class FactError(AdvisorError):
    """A formula failed or was asked for something it does not know; names the fact and the subject."""

    def __init__(self, key: str, what: str) -> None:
        self.key, self.what = key, what
        super().__init__(f"fact {key}: {what}")
