"""The record of a check as TOML, beside its PDF; to be opened again."""

from __future__ import annotations

import os
import tomllib
from collections.abc import Mapping
from typing import Any, Final

import tomlkit
from pydantic import ValidationError

from analysis.model.errors import InputError
from analysis.model.record import CheckRecord

from .access import as_path, read_text
from .atomic import replacing
from .wording import one_line, system_error

LARGEST_RECORD_BYTES: Final = 4 * 1024 * 1024
_MOST_PROBLEMS_TOLD: Final = 5


def record_to_toml(record: CheckRecord) -> str:
    """The record as TOML, keys in the order of the shapes; what is empty is left out."""
    return tomlkit.dumps(_table(record.model_dump(mode="python", exclude_defaults=True), record))


def write_record(path: str | os.PathLike[str], record: CheckRecord) -> None:
    """Write the record; a file that is there is replaced in one step.

    Raises:
        InputError: when the file cannot be written.
    """
    target = as_path(path)
    text = record_to_toml(record)
    with replacing(target) as temporary:
        try:
            temporary.write_bytes(text.encode("utf-8"))
        except OSError as error:
            raise system_error(target, error, "writing it") from error


def read_record(path: str | os.PathLike[str]) -> CheckRecord:
    """Open a record again.

    Raises:
        InputError: when the file cannot be read or is no record; what is wrong, in one line.
    """
    file = as_path(path)
    return parse_record(read_text(file, LARGEST_RECORD_BYTES), file.name)


def parse_record(text: str, source_name: str) -> CheckRecord:
    """Read a record from text; `source_name` is what errors call it.

    Raises:
        InputError: as `read_record`.
    """
    name = one_line(source_name)
    try:
        document = tomllib.loads(text)
    except (ValueError, RecursionError) as error:
        raise InputError(f"{name}: is no TOML ({one_line(error)}); mend that line") from error
    if "kind" not in document:
        raise InputError(f"{name}: is no record of a check: it has no key 'kind'; is it this file?")
    try:
        return CheckRecord.model_validate(document)
    except ValidationError as error:
        told = [
            f"{'.'.join(str(part) for part in item['loc'])}: {one_line(item['msg'])}"
            for item in error.errors(include_url=False, include_input=False)
        ]
        more = len(told) - _MOST_PROBLEMS_TOLD
        if more > 0:
            told = [*told[:_MOST_PROBLEMS_TOLD], f"and {more} more"]
        raise InputError(f"{name}: {one_line('; '.join(told), 1000)}; mend these keys") from error


def _table(values: Mapping[str, Any], record: CheckRecord) -> tomlkit.TOMLDocument:
    document = tomlkit.document()
    document.add(tomlkit.comment("Record of a check. Open it again with Runtrue."))
    # Defaults that tell what the file is stand there all the same.
    for key, value in {"version": record.version, "kind": record.kind, **values}.items():
        document[key] = _item(value)
    return document


def _item(value: Any) -> Any:
    if isinstance(value, Mapping):
        table = tomlkit.table()
        for key, inner in value.items():
            if inner is not None:
                table[key] = _item(inner)
        return table
    if isinstance(value, tuple | list):
        if value and all(isinstance(inner, Mapping) for inner in value):
            tables = tomlkit.aot()
            for inner in value:
                tables.append(_item(inner))
            return tables
        array = tomlkit.array()
        for inner in value:
            array.append(_item(inner))
        if value and isinstance(value[0], tuple | list):
            array.multiline(True)
        return array
    return tomlkit.item(value)
