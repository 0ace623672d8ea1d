"""How one CSV file is to be read: worked out from its head and what the reader says of it."""

from __future__ import annotations

import csv
import re
from dataclasses import dataclass
from pathlib import Path

from analysis.model.errors import InputError

from .capture_facts import check_rate, check_start, check_version
from .csv_columns import PlannedChannel, pick_channels, pick_time, text_unit
from .csv_head import CsvHead, read_attributes
from .csv_layout import SEPARATORS, CsvLayout, Decimal, Separator, TimeUnit
from .wording import file_error, one_line

_MOST_COLUMNS = 4096
_MOST_UNIT_ROWS = 3
_NUMBER = re.compile(
    r"\s*(?:[+-]?(?:\d+[.,]?\d*|[.,]\d+)(?:[eE][+-]?\d+)?|[+-]?nan|[+-]?inf(?:inity)?)\s*",
    re.IGNORECASE,
)
_DECIMAL_COMMA = re.compile(r"\s*[+-]?\d*,\d+(?:[eE][+-]?\d+)?\s*")

SAY_THE_COLUMNS = (
    "say what the columns are (in the window by the import dialog, on the command line by "
)


@dataclass(frozen=True)
class CsvPlan:
    """Everything the reading pass needs to know.

    `names` are those of all columns, `time` the place of the time column (from 0) or `None`.
    `data_offset` is where the first row of numbers starts, in bytes, `data_line` its line number
    from 1. `quoted` tells that fields may stand in double quotes.
    """

    path: Path
    size: int
    separator: Separator
    decimal: Decimal
    names: tuple[str, ...]
    channels: tuple[PlannedChannel, ...]
    time: int | None
    time_unit: TimeUnit
    sample_rate_hz: float | None
    start_s: float | None
    attributes: dict[str, str]
    data_offset: int
    data_line: int
    quoted: bool


def plan_csv(head: CsvHead, layout: CsvLayout | None) -> CsvPlan:
    """Work out how the file is read.

    Raises:
        InputError: when the file does not say enough; the mend names what to add.
    """
    given = layout or CsvLayout()
    attributes = read_attributes(head.lines)
    _check_attributes(head.path, attributes)
    first = _first_row(head, given)
    separator = given.separator or find_separator(head.lines[first : first + 20])
    names, data = _names(head, given, separator, first)
    data, unit_rows = _skip_unit_rows(head, given, separator, names, data, strict=layout is None)
    decimal = given.decimal or find_decimal(head.lines[data : data + 200], separator)
    if decimal == "," and separator == ",":
        raise file_error(
            head.path,
            "a decimal comma cannot be told from the separator ','",
            "save it with the separator ';' or a tab",
        )
    _check_has_rows(head, data)
    sample = split_row(head.lines[data], separator)
    time, time_unit = pick_time(head.path, names, given, unit_rows, sample, data + 1)
    channels = pick_channels(head.path, names, given, unit_rows, time, strict=layout is None)
    rate = _number(head.path, attributes, "sample_rate_hz", decimal)
    if given.sample_rate_hz is not None:
        rate = given.sample_rate_hz
    if rate is not None:
        rate = check_rate(head.path, "", float(rate))
    elif time is None:
        raise _no_times(head.path)
    start = _number(head.path, attributes, "start_s", decimal)
    if start is not None:
        check_start(head.path, "", start)
    return CsvPlan(
        path=head.path,
        size=head.size,
        separator=separator,
        decimal=decimal,
        names=names,
        channels=channels,
        time=time,
        time_unit=time_unit,
        sample_rate_hz=rate,
        start_s=start,
        attributes=attributes,
        data_offset=head.offsets[data],
        data_line=data + 1,
        quoted=any('"' in line for line in head.lines[data:]),
    )


def is_number(field: str) -> bool:
    """True for a field that reads as a number, with point or comma."""
    return _NUMBER.fullmatch(field) is not None


def split_row(line: str, separator: Separator) -> list[str]:
    """The fields of a line, quotes taken off."""
    try:
        return next(csv.reader([line], delimiter=separator), [])
    except (csv.Error, StopIteration):
        return line.split(separator)


def find_separator(lines: tuple[str, ...]) -> Separator:
    """The separator that stands in the first line and in most of the next."""
    lines = tuple(line for line in lines if line.strip())
    for candidate in SEPARATORS:
        counts = [len(split_row(line, candidate)) for line in lines]
        if counts and counts[0] > 1 and counts.count(counts[0]) * 2 > len(counts):
            return candidate
    for candidate in SEPARATORS:
        if lines and candidate in lines[0]:
            return candidate
    # One column: a comma in its numbers can only be a decimal comma.
    return ";" if any("," in line for line in lines) else ","


def find_decimal(lines: tuple[str, ...], separator: Separator) -> Decimal:
    """A comma when a field looks like a number with one and the comma does not separate."""
    if separator == ",":
        return "."
    for line in lines:
        if any(_DECIMAL_COMMA.fullmatch(field) for field in split_row(line, separator)):
            return ","
    return "."


def _first_row(head: CsvHead, layout: CsvLayout) -> int:
    """Index of the header, or without one of the first row of numbers."""
    for index in range(layout.skip_rows, len(head.lines)):
        line = head.lines[index]
        if line.strip() and not line.startswith("#"):
            return index
    raise file_error(head.path, "there is no row of data", "export it again, with the samples")


def _names(
    head: CsvHead, layout: CsvLayout, separator: Separator, first: int
) -> tuple[tuple[str, ...], int]:
    """The names of the columns, and the index of the line under them."""
    fields = [field.strip() for field in split_row(head.lines[first], separator)]
    if len(fields) > _MOST_COLUMNS:
        raise file_error(
            head.path,
            f"line {first + 1} has {len(fields)} columns",
            f"keep to {_MOST_COLUMNS}, one row a sample",
        )
    if not layout.has_header:
        return tuple(str(number) for number in range(1, len(fields) + 1)), first
    filled = [field for field in fields if field]
    if filled and all(is_number(field) for field in filled):
        raise file_error(
            head.path,
            f"line {first + 1} holds numbers where the column names are due",
            "add a line of names, or " + SAY_THE_COLUMNS + "--no-header --columns 1=NAME,…)",
        )
    return tuple(fields), first + 1


def _skip_unit_rows(
    head: CsvHead,
    layout: CsvLayout,
    separator: Separator,
    names: tuple[str, ...],
    data: int,
    *,
    strict: bool,
) -> tuple[int, list[list[str]]]:
    """Leave out rows under the header that hold no number: their fields tell units."""
    rows: list[list[str]] = []
    while layout.has_header and data < len(head.lines) and len(rows) < _MOST_UNIT_ROWS:
        fields = [field.strip() for field in split_row(head.lines[data], separator)]
        filled = [field for field in fields if field]
        if not filled or len(fields) != len(names) or any(is_number(field) for field in filled):
            break
        if strict and all(text_unit(field) for field in filled):
            raise file_error(
                head.path,
                f"line {data + 1} holds units where the numbers are due",
                "take it out, or " + SAY_THE_COLUMNS + "--units mV or --units V)",
            )
        if strict:
            break
        rows.append(fields)
        data += 1
    return data, rows


def _check_has_rows(head: CsvHead, data: int) -> None:
    if not any(line.strip() for line in head.lines[data:]) and _is_whole(head):
        raise file_error(
            head.path, "there is no row of data under the header", "export it with the samples"
        )
    if data >= len(head.lines):
        raise file_error(head.path, "the header never ends", "take out the lines before the table")


def _is_whole(head: CsvHead) -> bool:
    last = len(head.lines[-1].encode()) + head.offsets[-1]
    return last + 2 >= head.size


def _check_attributes(path: Path, attributes: dict[str, str]) -> None:
    version = attributes.get("runtrue_capture")
    if version is None:
        return
    try:
        number = int(version)
    except ValueError:
        raise file_error(
            path,
            f"runtrue_capture = {one_line(version, 30)} is no whole number",
            "write # runtrue_capture = 1",
        ) from None
    check_version(path, number)


def _number(path: Path, attributes: dict[str, str], key: str, decimal: Decimal) -> float | None:
    text = attributes.get(key)
    if text is None:
        return None
    try:
        return float(text.replace(",", ".") if decimal == "," else text)
    except ValueError:
        raise file_error(
            path, f"# {key} = {one_line(text, 40)} is no number", f"write # {key} = 10000"
        ) from None


def _no_times(path: Path) -> InputError:
    return file_error(
        path,
        "there is neither a column time_s nor a line # sample_rate_hz = …",
        "add one, or " + SAY_THE_COLUMNS + "--time-column NAME or --sample-rate HZ)",
    )
