"""Errors that a reader can act on. Their text is one line and says what to do."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal


class InputError(Exception):
    """The input is bad. `str(error)` is one line: the file's name, what is wrong, the mend."""


@dataclass(frozen=True)
class SetupIssue:
    """One thing wrong in a setup: where (key path, line from 1 if known), what, and the mend."""

    severity: Literal["error", "warning"]
    where: str
    message: str
    line: int | None = None

    def __str__(self) -> str:
        line = f"line {self.line}, " if self.line is not None else ""
        return f"{line}{self.where}: {self.message}"


class SetupError(InputError):
    """A setup with errors: all of them, in the order of the file."""

    def __init__(self, source: str, issues: tuple[SetupIssue, ...]) -> None:
        self.source = source
        self.issues = issues
        super().__init__(f"{source}: " + "; ".join(str(issue) for issue in issues))
