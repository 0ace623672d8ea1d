"""Writing a recipe as TOML that `simulate` reads."""

from __future__ import annotations

import os
from typing import Any

import tomlkit

from analysis.files.access import as_path
from analysis.files.atomic import replacing
from analysis.files.setup_write import setup_to_toml
from analysis.files.wording import system_error

from .recipe import Recipe


def recipe_to_toml(recipe: Recipe) -> str:
    """A recipe as a fresh TOML text, defaults left out; reading it gives the same recipe."""
    content = recipe.model_dump(mode="json", exclude_defaults=True, exclude={"setup"})
    document = tomlkit.document()
    document.add("version", recipe.version)
    tables = {key: value for key, value in content.items() if _is_table(value)}
    for key, value in content.items():
        if key not in tables and key != "version":
            document.add(key, value)
    for key, value in tables.items():
        document.add(key, _table(value) if isinstance(value, dict) else _tables(value))
    setup = tomlkit.parse(setup_to_toml(recipe.setup)).unwrap()
    document.add("setup", _table(setup))
    return tomlkit.dumps(document)


def write_recipe(path: str | os.PathLike[str], recipe: Recipe) -> None:
    """Save a recipe; an older file is replaced when the new one is whole.

    Raises:
        InputError: when it cannot be written.
    """
    target = as_path(path)
    with replacing(target) as temporary:
        try:
            temporary.write_bytes(recipe_to_toml(recipe).encode("utf-8"))
        except OSError as error:
            raise system_error(target, error, "writing it") from error


def _is_table(value: Any) -> bool:
    return isinstance(value, dict) or bool(
        isinstance(value, list) and value and isinstance(value[0], dict)
    )


def _table(content: dict[str, Any]) -> Any:
    table = tomlkit.table()
    # Plain keys first: what follows a sub-table's head would belong to that.
    for key, value in sorted(content.items(), key=lambda item: _is_table(item[1])):
        if isinstance(value, dict):
            table.add(key, _table(value))
        elif _is_table(value):
            table.add(key, _tables(value))
        else:
            table.add(key, value)
    return table


def _tables(contents: list[dict[str, Any]]) -> Any:
    array = tomlkit.aot()
    for content in contents:
        array.append(_table(content))
    return array
