"""Where in the text of a TOML file each key stands: the parsers do not tell.

Only used on text that has already been parsed without an error.
"""

from __future__ import annotations

import re

KeyPath = tuple[str | int, ...]
"""Keys and places in arrays of tables, from the root: `("probe", 0, "angle_deg")`."""

_BARE_OR_QUOTED = r"""(?:"(?:\\.|[^"\\\n])*"|'[^'\n]*'|[A-Za-z0-9_-]+)"""
_DOTTED = rf"{_BARE_OR_QUOTED}(?:[ \t]*\.[ \t]*{_BARE_OR_QUOTED})*"
_HEADER = re.compile(rf"[ \t]*(\[\[?)[ \t]*({_DOTTED})[ \t]*\]")
_KEY = re.compile(rf"[ \t]*({_DOTTED})[ \t]*=")
_PART = re.compile(_BARE_OR_QUOTED)
_VALUE_TOKEN = re.compile(
    r'''"""(?:\\.|[^\\])*?"{3,5}|\'\'\'.*?'{3,5}|"(?:\\.|[^"\\\n])*"|'[^'\n]*'|#[^\n]*'''
    r"""|[\[\]{}\n]|[^\[\]{}\n"'#]+""",
    re.DOTALL,
)


def key_lines(text: str) -> dict[KeyPath, int]:
    """The line, from 1, of every table header and every key outside inline tables."""
    lines: dict[KeyPath, int] = {}
    counts: dict[KeyPath, int] = {}
    table: KeyPath = ()
    at, line = 0, 1
    while at < len(text):
        header = _HEADER.match(text, at)
        key = None if header else _KEY.match(text, at)
        if header:
            table = _enter(counts, _parts(header[2]), is_array=header[1] == "[[")
            lines.setdefault(table, line)
            end = text.find("\n", header.end())
            end = len(text) if end < 0 else end
        elif key:
            lines.setdefault(table + _parts(key[1]), line)
            end = _value_end(text, key.end())
        else:
            end = text.find("\n", at)
            end = len(text) if end < 0 else end
        line += text.count("\n", at, end) + 1
        at = end + 1
    return lines


def line_of(lines: dict[KeyPath, int], path: KeyPath) -> int | None:
    """The line of a key, else that of the nearest table around it."""
    while path:
        for place in (path, (*path, 0)):
            if place in lines:
                return lines[place]
        path = path[:-1]
    return None


def _enter(counts: dict[KeyPath, int], parts: tuple[str, ...], *, is_array: bool) -> KeyPath:
    """The path of a header, with the place in every array of tables on the way."""
    path: KeyPath = ()
    for number, part in enumerate(parts):
        path = (*path, part)
        if is_array and number == len(parts) - 1:
            counts[path] = counts.get(path, -1) + 1
        if path in counts:
            path = (*path, counts[path])
    return path


def _parts(dotted: str) -> tuple[str, ...]:
    return tuple(part[1:-1] if part[0] in "\"'" else part for part in _PART.findall(dotted))


def _value_end(text: str, at: int) -> int:
    """Index of the line break that ends the value which starts at `at`."""
    depth = 0
    while at < len(text):
        token = _VALUE_TOKEN.match(text, at)
        if token is None:
            return len(text)
        first = token[0][0]
        if first in "[{":
            depth += 1
        elif first in "]}":
            depth -= 1
        elif first == "\n" and depth <= 0:
            return at
        at = token.end()
    return len(text)
