"""The tables of a setup, each validated on its own, with places for what is wrong."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field
from typing import Any, Literal

from pydantic import BaseModel, ValidationError

from analysis.model.errors import SetupIssue
from analysis.model.setup import (
    Limit,
    Machine,
    Output,
    PhaseReference,
    Plane,
    Probe,
    Relay,
    Setup,
    SeverityZones,
)

from .setup_lines import KeyPath, line_of
from .setup_words import plain_words
from .wording import one_line

_SINGLE: Mapping[str, type[BaseModel]] = {
    "machine": Machine,
    "phase_reference": PhaseReference,
    "severity_zones": SeverityZones,
}
_REPEATED: Mapping[str, type[BaseModel]] = {
    "probe": Probe,
    "plane": Plane,
    "limit": Limit,
    "relay": Relay,
    "output": Output,
}


@dataclass
class SetupTables:
    """What could be read of a setup, table by table, and what is wrong with the rest.

    A fault in one table hides no fault of another: `models` holds each table that is valid in
    itself, by its path (`("machine",)`, `("probe", 0)`), `raw` all of them as they were written.
    """

    raw: Mapping[str, Any]
    lines: dict[KeyPath, int]
    models: dict[KeyPath, BaseModel] = field(default_factory=dict)
    issues: list[SetupIssue] = field(default_factory=list)

    def tell(self, severity: Literal["error", "warning"], path: KeyPath, message: str) -> None:
        """Add an issue at a key path."""
        words = one_line(message, 500)
        issue = SetupIssue(severity, self.where(path), words, line_of(self.lines, path))
        if issue not in self.issues:
            self.issues.append(issue)

    def where(self, path: KeyPath) -> str:
        """A key path in words: `probe DE-X, scale_factor_mv_per_um`, `limit 2, above`."""
        if not path:
            return "setup"
        table, rest = str(path[0]), path[1:]
        if rest and isinstance(rest[0], int):
            table = f"{table} {self._name(table, rest[0])}"
            rest = rest[1:]
        keys = ""
        for part in rest:
            keys += f"[{part + 1}]" if isinstance(part, int) else f"{'.' if keys else ''}{part}"
        return one_line(f"{table}, {keys}" if keys else table)

    def entries(self, table: str) -> Iterator[tuple[KeyPath, Mapping[str, Any]]]:
        """The tables of an array of tables as they were written, with their paths."""
        value = self.raw.get(table, [])
        if isinstance(value, list):
            for index, entry in enumerate(value):
                if isinstance(entry, dict):
                    yield (table, index), entry

    def _name(self, table: str, index: int) -> str:
        value = self.raw.get(table)
        if isinstance(value, list) and index < len(value) and isinstance(value[index], dict):
            name = value[index].get("name")
            if isinstance(name, str) and name.strip():
                return name
        return str(index + 1)


def validate_tables(raw: Mapping[str, Any], lines: dict[KeyPath, int]) -> SetupTables:
    """Validate every table of a setup on its own."""
    tables = SetupTables(raw, lines)
    known = [*Setup.model_fields]
    for key, value in raw.items():
        if key == "version":
            continue
        if key in _SINGLE:
            _validate(tables, (key,), _SINGLE[key], value)
        elif key in _REPEATED:
            _validate_array(tables, key, value)
        else:
            issue = {"type": "extra_forbidden", "loc": (key,)}
            tables.tell("error", (key,), plain_words(issue, known)[0])
    return tables


def _validate_array(tables: SetupTables, key: str, value: object) -> None:
    if not isinstance(value, list):
        tables.tell("error", (key,), f"write it as [[{key}]] (double brackets), one table each")
        return
    for index, entry in enumerate(value):
        _validate(tables, (key, index), _REPEATED[key], entry)


def _validate(tables: SetupTables, path: KeyPath, model: type[BaseModel], value: object) -> None:
    if not isinstance(value, dict):
        tables.tell("error", path, f"must be a table, written under [{path[0]}]")
        return
    try:
        tables.models[path] = model.model_validate(value)
        return
    except ValidationError as error:
        errors = error.errors()
    for found in errors:
        for words in plain_words(found, _known_keys(model, found["loc"])):
            tables.tell("error", path + tuple(found["loc"]), words)
    _validate_the_rest(tables, path, model, value, errors)


def _validate_the_rest(
    tables: SetupTables, path: KeyPath, model: type[BaseModel], value: dict[str, Any], errors: Any
) -> None:
    """Rules between the keys of a table, which the validator skips while a key is wrong.

    Unknown keys and wrong optional ones are left out and the rest is validated again; faults that
    only come from leaving them out are not told.
    """
    bad = {found["loc"][0] for found in errors if found["loc"] and found["type"] != "missing"}
    if not bad or any(found["type"] == "missing" for found in errors):
        return
    rest = {key: item for key, item in value.items() if key not in bad}
    try:
        model.model_validate(rest)
    except ValidationError as error:
        for found in error.errors():
            if found["type"] != "value_error" or found["loc"]:
                continue
            for words in plain_words(found, ()):
                if not _comes_from_leaving_out(words, bad):
                    tables.tell("error", path, words)


def _comes_from_leaving_out(words: str, bad: set[Any]) -> bool:
    told_of = {
        "scale factor": {"scale_factor_mv_per_um", "scale_factor_mv_per_mil", "calibration"},
        "needs above or below": {"above", "below", "measure"},
        "needs a region": {"region", "measure"},
        "a region belongs": {"measure"},
        "votes": {"votes", "probes"},
    }
    return any(words.find(part) >= 0 and bad & keys for part, keys in told_of.items())


def _known_keys(model: type[BaseModel], location: tuple[Any, ...]) -> list[str]:
    """Keys of the (possibly nested) table that a location lies in."""
    for part in location[:-1]:
        annotation = model.model_fields[part].annotation if part in model.model_fields else None
        options = [annotation, *getattr(annotation, "__args__", ())]
        for option in options:
            if isinstance(option, type) and issubclass(option, BaseModel):
                model = option
    return [*model.model_fields]
