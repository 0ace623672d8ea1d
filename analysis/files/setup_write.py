"""Writing a setup as TOML; an existing file keeps its comments and its order."""

from __future__ import annotations

import os
from collections.abc import Callable, Mapping
from typing import Any

import tomlkit
from pydantic import BaseModel
from tomlkit import TOMLDocument
from tomlkit.exceptions import TOMLKitError
from tomlkit.items import AoT, InlineTable, Item, Table

from analysis.model.errors import InputError, SetupError
from analysis.model.setup import Setup

from .access import as_path, read_text
from .atomic import replacing
from .setup_read import LARGEST_SETUP_BYTES, parse_setup
from .wording import system_error

# Written even where it is the default: what a reader looks for in a setup.
_ALWAYS = frozenset(("version", "machine", "title", "rotation", "name", "kind", "rest")) | {
    *("contact", "energised"),
    # A standard's figures stand there whole: another default must not change an old file.
    *("edition", "a_b", "b_c", "c_d"),
}
_TABLES = ("machine", "phase_reference", "severity_zones")
_ARRAYS = ("probe", "plane", "limit", "relay", "output")


def setup_to_toml(setup: Setup) -> str:
    """A setup as a fresh TOML text, keys in the order of the contract, defaults left out."""
    document = tomlkit.document()
    _merge_setup(document, setup)
    return tomlkit.dumps(document)


def updated_toml(text: str, setup: Setup) -> str:
    """The text of a setup, changed to say what `setup` says; comments and order stay.

    Probes and planes are matched by name, limits and outputs by what they look at. Keys that
    already say the same are not touched, however they are spelled.

    Raises:
        InputError: when `text` is no TOML.
    """
    try:
        document = tomlkit.parse(text)
        _merge_setup(document, setup)
        return tomlkit.dumps(document)
    except TOMLKitError as error:
        raise InputError(f"the setup's text is no TOML ({error}); mend it first") from error


def write_setup(path: str | os.PathLike[str], setup: Setup, *, template: str | None = None) -> None:
    """Save a setup, into the file that is there as far as there is one.

    A file that is not there yet starts from `template`, the text of a setup whose comments are to
    be kept.

    Raises:
        InputError: when the file that is there cannot be read as TOML, or cannot be written.
    """
    target = as_path(path)
    before = read_text(target, LARGEST_SETUP_BYTES) if target.exists() else template
    text = setup_to_toml(setup) if before is None else updated_toml(before, setup)
    if before is not None and not _says(text, setup):
        # The text has a shape that is not edited in place (such as inline tables for probes).
        text = setup_to_toml(setup)
    with replacing(target) as temporary:
        try:
            temporary.write_bytes(text.encode("utf-8"))
        except OSError as error:
            raise system_error(target, error, "writing it") from error


def _says(text: str, setup: Setup) -> bool:
    try:
        return parse_setup(text, "")[0] == setup
    except SetupError:
        # A setup with faults between its tables is saved as it is, faults and all.
        return True


def _merge_setup(document: TOMLDocument, setup: Setup) -> None:
    if document.get("version") != setup.version:
        document["version"] = setup.version
    for key in _TABLES:
        model: BaseModel | None = getattr(setup, key)
        if model is None:
            if key in document:
                del document[key]
            continue
        fresh = not isinstance(document.get(key), Table)
        if fresh:
            document[key] = tomlkit.table()
        _merge_table(document[key], model, fresh=fresh)
    for key in _ARRAYS:
        _merge_array(document, key, getattr(setup, key))


def _merge_table(table: Any, model: BaseModel, *, fresh: bool) -> None:
    """Make a table say what the model says, touching only the keys that differ."""
    full, wanted = model.model_dump(mode="json"), _wanted(model, fresh=fresh)
    for key in [key for key in table if full.get(key) is None]:
        del table[key]
    for key, whole in full.items():
        value = _bare(whole)
        if key in table:
            if _plain(table[key]) != value:
                table[key] = _value(value)
        elif key in wanted:
            table[key] = _value(value)


def _merge_array(document: TOMLDocument, key: str, models: tuple[BaseModel, ...]) -> None:
    old = document.get(key)
    if not models:
        if old is not None:
            del document[key]
        return
    if not isinstance(old, AoT):
        old = None
    matched = _match(list(old) if old is not None else [], models)
    if old is not None and matched == list(range(len(old))):
        for table, model in zip(old, models, strict=True):
            _merge_table(table, model, fresh=False)
        return
    tables: list[Table] = []
    for index, model in zip(matched, models, strict=True):
        kept = old[index] if old is not None and index is not None else None
        table = tomlkit.table() if kept is None else kept
        _merge_table(table, model, fresh=kept is None)
        if kept is None and old is not None:
            table.add(tomlkit.nl())  # the next header is not to stick to it
        tables.append(table)
    if old is not None:
        del old[:]
        for table in tables:
            old.append(table)
        return
    array = tomlkit.aot()
    for table in tables:
        array.append(table)
    document[key] = array


def _match(old: list[Any], models: tuple[BaseModel, ...]) -> list[int | None]:
    """For every model the table that stood for it, each used once."""
    free = list(range(len(old)))
    matched: list[int | None] = []
    for model in models:
        wanted = _identity(model.model_dump(mode="json").get)
        found = next((i for i in free if _identity(_getter(old[i])) == wanted), None)
        if found is not None:
            free.remove(found)
        matched.append(found)
    return matched


def _getter(table: Any) -> Callable[[str], Any]:
    return lambda key: _plain(table.get(key))


def _identity(get: Callable[[str], Any]) -> tuple[str, ...]:
    """What makes a table the same one before and after a change of its numbers."""
    name = get("name")
    if name is not None:
        return (str(name),)
    return tuple(str(get(key)) for key in ("probe", "probes", "measure", "level"))


def _wanted(model: BaseModel, *, fresh: bool) -> dict[str, Any]:
    """The keys to write where they are missing: all but defaults, in a fresh table also those."""
    full = model.model_dump(mode="json", exclude_none=True)
    short = model.model_dump(mode="json", exclude_none=True, exclude_defaults=True)
    wanted = {
        key: value for key, value in full.items() if key in short or (fresh and key in _ALWAYS)
    }
    if wanted.get("channel") == wanted.get("name"):
        wanted.pop("channel", None)
    return wanted


def _plain(value: Any) -> Any:
    return value.unwrap() if isinstance(value, Item) else value


def _value(value: Any) -> Any:
    """A value as TOML: small tables stay on one line."""
    if isinstance(value, Mapping):
        inline: InlineTable = tomlkit.inline_table()
        for key, item in _bare(value).items():
            inline[key] = _value(item)
        return inline
    if isinstance(value, list) and any(isinstance(item, Mapping) for item in value):
        array = tomlkit.array()
        for item in value:
            array.append(_value(item))
        return array.multiline(len(value) > 1)
    return tomlkit.item(_bare(value))


def _bare(value: Any) -> Any:
    """Without what is not given: TOML has no word for it."""
    if isinstance(value, Mapping):
        return {key: _bare(item) for key, item in value.items() if item is not None}
    if isinstance(value, list):
        return [_bare(item) for item in value]
    return value
