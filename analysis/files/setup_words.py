"""What the validator found, in plain words with the mend."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from typing import Any

from .wording import near, one_line

_EXAMPLES: Mapping[str, str] = {
    "name": '"DE-X"',
    "channel": '"REF"',
    "probes": '["DE-X", "DE-Y"]',
    "probe": '"DE-X"',
    "measure": '"peak_to_peak"',
    "level": '"alarm"',
    "range_um": "[0, 200]",
    "gap_um": "1250",
    "volts": "-9.84",
    "factor": "2.0",
    "rpm": "[2600, 3600]",
    "amplitude_um": "[10, 60]",
    "lag_deg": "[30, 90]",
    "driven_by": '"trip"',
}

_KINDS: Mapping[str, str] = {
    "float_type": "a number",
    "float_parsing": "a number",
    "int_type": "a whole number",
    "int_from_float": "a whole number",
    "int_parsing": "a whole number",
    "bool_type": "true or false",
    "bool_parsing": "true or false",
    "string_type": 'a text in quotes ("…")',
    "tuple_type": "a list in square brackets",
    "model_type": "a table",
    "model_attributes_type": "a table",
    "dict_type": "a table",
}


def shown(value: object) -> str:
    """A value as its reader wrote it, short."""
    if isinstance(value, bool):
        return "true" if value else "false"
    if isinstance(value, str):
        return f'the text "{one_line(value, 40)}"'
    if isinstance(value, dict):
        return "a table"
    if isinstance(value, (list, tuple)):
        return f"a list of {len(value)}"
    return one_line(value, 40)


def unknown_key(key: str, known: Iterable[str]) -> str:
    """What to say about a key that means nothing here."""
    known = list(known)
    guess = near(key, known)
    mend = f"did you mean '{guess}'?" if guess else f"known here: {', '.join(known)}"
    return f"unknown key '{one_line(key, 40)}' — {mend}"


def plain_words(error: Mapping[str, Any], known: Iterable[str]) -> list[str]:
    """One error of the validator as sentences for the reader; `known` are the table's keys."""
    kind, value, context = error["type"], error.get("input"), error.get("ctx") or {}
    key = next((str(part) for part in reversed(error["loc"]) if isinstance(part, str)), "")
    if kind == "extra_forbidden":
        return [unknown_key(key, known)]
    if kind == "missing":
        return [_missing(error["loc"])]
    if kind in _KINDS:
        return [f"must be {_KINDS[kind]}, not {shown(value)}"]
    if kind == "literal_error":
        return [f"must be {context['expected'].replace(chr(39), chr(34))}, not {shown(value)}"]
    if kind == "greater_than":
        return [f"must be above {context['gt']:g}, not {shown(value)}"]
    if kind == "greater_than_equal":
        return [f"must be {context['ge']:g} or more, not {shown(value)}"]
    if kind == "less_than_equal":
        return [f"must be {context['le']:g} or less, not {shown(value)}"]
    if kind == "finite_number":
        return [f"must be a finite number, not {shown(value)}"]
    if kind == "string_too_short":
        return ["must not be empty: write a name"]
    if kind in ("too_short", "too_long"):
        few = "at least" if kind == "too_short" else "at most"
        due = context["min_length" if kind == "too_short" else "max_length"]
        return [f"must have {few} {due} value(s), not {context['actual_length']}"]
    if kind == "value_error":
        return str(context["error"]).split("\n")
    return [one_line(error["msg"])]


def _missing(location: tuple[str | int, ...]) -> str:
    last = location[-1]
    if isinstance(last, int):
        return f"value {last + 1} is missing: write {last + 1} values or more"
    example = f", such as {last} = {_EXAMPLES[last]}" if last in _EXAMPLES else ""
    return f"this key is missing: write it{example}"
