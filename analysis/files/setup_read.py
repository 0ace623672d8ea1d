"""Reading a setup (contract, section 4): all its errors at once, in the order of the file."""

from __future__ import annotations

import os
import re
import tomllib
from typing import Any

from analysis.model.errors import SetupError, SetupIssue
from analysis.model.setup import Setup

from .access import as_path, read_text
from .setup_checks import check_between_tables
from .setup_lines import KeyPath, key_lines, line_of
from .setup_tables import SetupTables, validate_tables
from .wording import one_line

LARGEST_SETUP_BYTES = 1024 * 1024
SETUP_VERSION = 1

_PLACE = re.compile(r"\s*\(at (?:line (\d+), column \d+|end of document)\)")


def read_setup(path: str | os.PathLike[str]) -> tuple[Setup, tuple[SetupIssue, ...]]:
    """Read a setup file. Returns the setup and its warnings, in the order of the file.

    Raises:
        InputError: when the file cannot be read.
        SetupError: when the setup has errors; holds all of them.
    """
    file = as_path(path)
    return parse_setup(read_text(file, LARGEST_SETUP_BYTES), file.name)


def parse_setup(text: str, source_name: str) -> tuple[Setup, tuple[SetupIssue, ...]]:
    """Read a setup from text; `source_name` is what errors call it.

    Raises:
        SetupError: when the setup has errors; holds all of them.
    """
    raw = _parse_toml(text, source_name)
    lines = key_lines(text)
    _check_version(raw, lines, source_name)
    tables = validate_tables(raw, lines)
    if "version" not in raw:
        message = f"this key is missing: write version = {SETUP_VERSION} as the first line"
        tables.issues.append(SetupIssue("error", "version", message, 1))
    check_between_tables(tables)
    issues = sorted(tables.issues, key=lambda issue: issue.line or 0)
    if any(issue.severity == "error" for issue in issues):
        raise SetupError(
            one_line(source_name), tuple(issue for issue in issues if issue.severity == "error")
        )
    return _assemble(tables), tuple(issues)


def _parse_toml(text: str, source_name: str) -> dict[str, Any]:
    try:
        if len(text) > LARGEST_SETUP_BYTES:
            raise ValueError("the text is too long for a setup (more than 1 MiB)")
        return tomllib.loads(text)
    except RecursionError:
        message, line = "the brackets are nested too deeply", None
    except ValueError as error:
        place = _PLACE.search(str(error))
        line = int(place[1]) if place and place[1] else None
        if place and line is None:
            line = text.count("\n") + 1
        message = one_line(_PLACE.sub("", str(error)))
    issue = SetupIssue("error", "TOML", f"{message}; mend what is written there", line)
    raise SetupError(one_line(source_name), (issue,))


def _check_version(raw: dict[str, Any], lines: dict[KeyPath, int], source_name: str) -> None:
    """A setup of another version is not looked at any further: its keys mean other things."""
    version = raw.get("version", SETUP_VERSION)
    if isinstance(version, int) and not isinstance(version, bool):
        if version == SETUP_VERSION:
            return
        if version > SETUP_VERSION:
            message = (
                f"version {one_line(version, 20)} is newer than this program, which reads "
                f"{SETUP_VERSION}: update the program"
            )
        else:
            message = f"there is no version {one_line(version, 20)}: write version = 1"
    else:
        message = f"must be a whole number: write version = {SETUP_VERSION}"
    line = line_of(lines, ("version",))
    raise SetupError(one_line(source_name), (SetupIssue("error", "version", message, line),))


def _assemble(tables: SetupTables) -> Setup:
    parts: dict[str, Any] = {}
    for path, model in tables.models.items():
        if len(path) == 1:
            parts[str(path[0])] = model
        else:
            parts.setdefault(str(path[0]), []).append(model)
    return Setup(**{key: tuple(v) if isinstance(v, list) else v for key, v in parts.items()})
