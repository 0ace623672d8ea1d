"""A calibration table from a CSV file or from text that was pasted out of a spreadsheet.

Two columns count: `gap_um` or `gap_mil`, and `volts`. Separator comma, semicolon or tab; a decimal
comma with the latter two. Lines that start with `#` are remarks. What cannot be a calibration of a
proximity probe is refused in one line that says where and why (`InputError`).
"""

from __future__ import annotations

import csv
import math
import os
import re
import unicodedata
from dataclasses import dataclass
from itertools import pairwise
from typing import Final

from analysis.model.calibration_results import CalibrationTable
from analysis.model.errors import InputError
from analysis.model.units import UM_PER_MIL, LengthUnit

from .access import as_path, plain_file_size, read_text
from .wording import file_error, near, one_line

LARGEST_BYTES: Final = 512 * 1024
MOST_ROWS: Final = 2000
LEAST_ROWS: Final = 3
# The widest supply of a proximity probe's driver is −26 V or so: common practice.
_MOST_VOLTS = 60.0
# 1 to 1000 mV/mil is all that probes have (seen on a reference page); beyond, a unit is wrong.
_MOST_MV_PER_UM = 100.0
_LEAST_MV_PER_UM = 0.03

_GAPS: Final = {"gap_um": LengthUnit.UM, "gap_mil": LengthUnit.MIL}
_WANTED = "gap_um (or gap_mil) and volts"
_NUMBER = re.compile(r"[+-]?(?:\d+\.?\d*|\.\d+)(?:[eE][+-]?\d+)?")
_MINUS = str.maketrans(
    {"−": "-", "–": "-", "\N{NO-BREAK SPACE}": " ", "\N{NARROW NO-BREAK SPACE}": " "}
)


@dataclass(frozen=True)
class _Columns:
    """Places of the two columns, how many there are, and the unit of the gaps."""

    gap: int
    volts: int
    count: int
    unit: LengthUnit
    gap_name: str


@dataclass(frozen=True)
class _Line:
    number: int
    fields: tuple[str, ...]


def read_calibration_table(path: str | os.PathLike[str]) -> CalibrationTable:
    """The table in a CSV file.

    Raises:
        InputError: not there, not text, far too large, or not a calibration table.
    """
    file = as_path(path)
    size = plain_file_size(file)
    if size > LARGEST_BYTES:
        raise file_error(
            file,
            f"{size / 1e6:.1f} MB is far too large for a calibration table",
            f"name the table with the columns {_WANTED}; a capture is opened by other commands",
        )
    return parse_calibration_table(read_text(file, LARGEST_BYTES), file.name)


def parse_calibration_table(
    text: str, source: str = "pasted table", *, unit: LengthUnit | None = None
) -> CalibrationTable:
    """The table in a text.

    Args:
        text: the text, line ends of any kind.
        source: what errors call it.
        unit: with it, a text without a line of column names is taken too: first column gap in
            this unit, second volts. A line of names goes before it.

    Raises:
        InputError: one line: where, what is wrong, the mend.
    """
    name = one_line(source) or "table"
    if "\0" in text:
        raise _error(name, "this is a binary file", "export the table as CSV (UTF-8)")
    numbered = [
        (number, line)
        for number, line in enumerate(re.split(r"\r\n|\r|\n", text.removeprefix("\ufeff")), 1)
        if line.strip(" \t,;") and not line.lstrip().startswith("#")
    ]
    if not numbered:
        raise _error(name, "there is no table in it", f"it needs the columns {_WANTED}")
    if len(numbered) > MOST_ROWS + 1:
        raise _error(
            name,
            f"{len(numbered)} lines are too many for a calibration table (at most {MOST_ROWS})",
            "is this a capture?",
        )
    separator = _separator(numbered[0][1])
    lines = [_Line(number, _split(name, number, line, separator)) for number, line in numbered]
    columns, body, notices = _columns(name, lines, separator, unit)
    if len(body) < LEAST_ROWS:
        raise _error(
            name,
            f"{len(body)} row{'' if len(body) == 1 else 's'} cannot show a straight line",
            f"a calibration table needs {LEAST_ROWS} rows or more",
        )
    decimal = _decimal(name, body, columns, separator)
    read = [(line.number, *_numbers(name, line, columns, separator, decimal)) for line in body]
    rows = _checked(name, read, columns)
    return CalibrationTable(tuple(rows), columns.unit, name, tuple(notices))


def _separator(first: str) -> str | None:
    """The separator of the first line; `None`: runs of spaces."""
    for candidate in ("\t", ";", ","):
        if candidate in first:
            return candidate
    return None


def _split(name: str, number: int, line: str, separator: str | None) -> tuple[str, ...]:
    line = line.translate(_MINUS)
    if separator is None:
        return tuple(line.split())
    try:
        fields = next(csv.reader([line], delimiter=separator, strict=True), [])
    except csv.Error as error:
        raise _error(
            name, f"line {number} has quotes that do not match", "take the quotes out"
        ) from error
    fields = [field.strip() for field in fields]
    return tuple(fields)


def _columns(
    name: str, lines: list[_Line], separator: str | None, unit: LengthUnit | None
) -> tuple[_Columns, list[_Line], list[str]]:
    """Where the columns are, the lines of numbers, and sentences about what is left out."""
    first = lines[0].fields
    if any(_NUMBER.fullmatch(field.replace(",", ".")) for field in first):
        if unit is None:
            raise _error(
                name,
                f"line {lines[0].number} has numbers where the names of the columns should be",
                f"put a line with {_WANTED} above them",
            )
        if len(first) != 2:
            raise _error(
                name,
                f"line {lines[0].number} has {len(first)} fields",
                "two are needed, gap and volts" + _comma_hint(separator),
            )
        return _Columns(0, 1, 2, unit, "gap"), lines, []
    while first and not first[-1]:
        first = first[:-1]  # empty cells beside the table
    names = [_plain_name(field) for field in first]
    twice = next((field for field in ("gap_um", "gap_mil", "volts") if names.count(field) > 1), "")
    if twice:
        raise _error(name, f"the column {twice} stands twice", "keep one")
    gaps = [gap for gap in _GAPS if gap in names]
    if len(gaps) == 2:
        raise _error(name, "there are both gap_um and gap_mil", "keep one of them")
    missing = ([] if gaps else ["gap_um or gap_mil"]) + ([] if "volts" in names else ["volts"])
    if missing:
        raise _missing(name, missing, first, names)
    left = [field or "(no name)" for field, key in zip(first, names, strict=True)]
    left = [field for field, key in zip(left, names, strict=True) if key not in (*gaps, "volts")]
    notices = [f"not read: column {one_line(', '.join(left), 120)}"] if left else []
    unit = _GAPS[gaps[0]]
    places = _Columns(names.index(gaps[0]), names.index("volts"), len(names), unit, gaps[0])
    return places, lines[1:], notices


def _plain_name(field: str) -> str:
    """`Gap (µm)` and `GAP_UM` are gap_um."""
    folded = unicodedata.normalize("NFKC", field).replace("μ", "u").lower()
    return re.sub(r"[^a-z0-9]+", "_", folded).strip("_")


def _missing(name: str, missing: list[str], first: tuple[str, ...], names: list[str]) -> InputError:
    there = one_line(", ".join(first), 120)
    mend = f"the columns are {_WANTED}; there are {there}"
    guess = [near(key.split(" ")[0], names) for key in missing]
    if "volts" in missing and any(key in ("mv", "millivolts", "volts_mv") for key in names):
        mend = "gap voltages are wanted in volts: divide them by 1000 and call the column volts"
    elif any(key in ("gap_mm", "gap_inch", "gap_in") for key in names):
        mend = "gaps are wanted in µm (gap_um) or mil (gap_mil): convert them"
    elif all(guess):
        mend = f"is it '{', '.join(first[names.index(str(g))] for g in guess)}'? rename it"
    return _error(name, f"there is no column {' and no column '.join(missing)}", mend)


def _decimal(name: str, body: list[_Line], columns: _Columns, separator: str | None) -> str:
    """The decimal sign of the numbers, which must be one in the whole table."""
    fields = [f for line in body for f in line.fields[: columns.count]]
    numbers = [f for f in fields if re.fullmatch(r"[+-]?[\d.,]+(?:[eE][+-]?\d+)?", f)]
    commas = [f for f in numbers if "," in f]
    if not commas or separator == ",":
        return "."
    if any("." in f for f in numbers):
        raise _error(
            name,
            f"there are decimal commas and points ('{one_line(commas[0], 20)}')",
            "use one of them, and no separator of thousands",
        )
    return ","


def _comma_hint(separator: str | None) -> str:
    if separator != ",":
        return ""
    return "; with decimal commas the separator must be ';' or a tab"


def _numbers(
    name: str, line: _Line, columns: _Columns, separator: str | None, decimal: str
) -> tuple[float, float]:
    where, fields = f"line {line.number}", list(line.fields)
    while len(fields) > columns.count and not fields[-1]:
        fields.pop()  # empty cells behind the table
    if len(fields) != columns.count:
        raise _error(
            name,
            f"{where} has {len(fields)} fields in place of {columns.count}",
            "complete or correct the row" + _comma_hint(separator),
        )
    out = []
    for key, column in ((columns.gap_name, columns.gap), ("volts", columns.volts)):
        field = fields[column]
        value = _value(field, decimal)
        if value is None:
            what = f"'{one_line(field, 30)}' is no number" if field else "the field is empty"
            mend = "write a number, or take the row out"
            if "," in field and decimal == ".":
                mend = "with decimal commas the separator must be ';' or a tab"
            raise _error(name, f"{where}, column {key}: {what}", mend)
        out.append(value)
    return out[0], out[1]


def _value(field: str, decimal: str) -> float | None:
    if decimal == ",":
        field = field.replace(",", ".")
    if _NUMBER.fullmatch(field) is None:
        return None
    value = float(field)
    return value if math.isfinite(value) else None


def _checked(
    name: str, read: list[tuple[int, float, float]], columns: _Columns
) -> list[tuple[float, float]]:
    """Rows in µm by rising gap, when they can be those of a proximity probe."""
    unit = columns.unit
    for line, gap, volts in read:
        if gap < 0.0:
            raise _error(
                name, f"line {line}: the gap {gap:g} is below zero", "count gaps from the probe tip"
            )
        if abs(volts) > _MOST_VOLTS:
            raise _error(
                name,
                f"line {line}: {volts:g} V is beyond any probe's supply",
                "are these millivolts? divide them by 1000",
            )
    if any(volts > 0.0 for _, _, volts in read):
        raise _positive(name, read)
    ordered = sorted(read, key=lambda row: row[1])
    for (line_a, gap_a, volts_a), (line_b, gap_b, volts_b) in pairwise(ordered):
        if gap_a == gap_b:
            raise _error(
                name,
                f"the gap {gap_b:g} {unit.value} stands twice (lines {line_a} and {line_b})",
                "keep one row a gap; two passes are two tables",
            )
        if volts_b >= volts_a:
            how = "stand still" if volts_b == volts_a else "rise"
            raise _error(
                name,
                f"volts {how} from {volts_a:g} V at {gap_a:g} {unit.value} to {volts_b:g} V at "
                f"{gap_b:g} {unit.value} (line {line_b}), and must fall as the gap grows",
                "correct the row, or leave out what lies beyond the probe's reach",
            )
    per_unit = UM_PER_MIL if unit is LengthUnit.MIL else 1.0
    rows = [(gap * per_unit, volts) for _, gap, volts in ordered]
    _check_factor(name, rows, unit)
    return rows


def _positive(name: str, read: list[tuple[int, float, float]]) -> InputError:
    line, volts = next((line, volts) for line, _, volts in read if volts > 0.0)
    if all(volts >= 0.0 for _, _, volts in read):
        return _error(
            name,
            f"line {line}: {volts:g} V is above zero, as all volts here: the sign is lost",
            "gap voltages are negative, write the minus sign",
        )
    return _error(
        name, f"line {line}: {volts:g} V is above zero", "gap voltages are negative, check the sign"
    )


def _check_factor(name: str, rows: list[tuple[float, float]], unit: LengthUnit) -> None:
    """Refuse a factor that no probe has: a unit is wrong."""
    (gap_a, volts_a), (gap_b, volts_b) = rows[0], rows[-1]
    factor = (volts_a - volts_b) / (gap_b - gap_a) * 1000.0
    if factor > _MOST_MV_PER_UM:
        small = "mil" if unit is LengthUnit.UM and factor < 1000.0 else "mm or inch"
        raise _error(
            name,
            f"{factor:.4g} mV/µm is more than any probe gives",
            f"are the gaps in {small}, or the volts millivolts? check both columns",
        )
    if factor < _LEAST_MV_PER_UM:
        raise _error(
            name,
            f"{factor:.2g} mV/µm is less than any probe gives",
            "check the units of both columns",
        )


def _error(name: str, wrong: str, mend: str) -> InputError:
    return InputError(one_line(f"{name}: {wrong}; {mend}", 400))
