"""A look at a CSV file before it is read: what its columns may be, and what stands in the way."""

from __future__ import annotations

import os
from dataclasses import dataclass, replace
from typing import Literal

from analysis.model.errors import InputError

from .access import as_path, plain_file_size
from .csv_columns import TIME_COLUMN, text_unit
from .csv_faults import find_fault
from .csv_head import CsvHead, read_attributes, read_head
from .csv_layout import CsvColumn, CsvLayout, Separator, TimeUnit, Unit
from .csv_plan import find_decimal, find_separator, is_number, plan_csv, split_row

_LOOK_AT = 200
_TIME_NAMES = ("time", "t", "timestamp", "date", "datetime", "zeit", "clock")


@dataclass(frozen=True)
class PreviewColumn:
    """One column: its name (or its number), what it looks like, and its first fields."""

    name: str
    role: Literal["time", "channel", "text"]
    unit: str
    fields: tuple[str, ...]


@dataclass(frozen=True)
class CsvPreview:
    """What the import dialog shows.

    `layout` is complete: the guess, with what the reader said put over it; opening the file with
    it does what the preview shows. `rows` are the raw fields of the first lines of the table
    (header and units row too), `first_line` the number of the first of them. `problems` says in
    plain words what stands in the way; with none the file can be opened.
    """

    layout: CsvLayout
    columns: tuple[PreviewColumn, ...]
    rows: tuple[tuple[str, ...], ...]
    first_line: int
    problems: tuple[str, ...]


def preview_csv(
    path: str | os.PathLike[str], layout: CsvLayout | None = None, rows: int = 20
) -> CsvPreview:
    """Look at the first lines of a file; `layout` is what the reader has said so far, if anything.

    Raises:
        InputError: when the file cannot be read as text at all.
    """
    file = as_path(path)
    head = read_head(file, plain_file_size(file))
    if layout is None:
        layout = guess_layout(head)
    first = _first_line(head, layout.skip_rows)
    separator = layout.separator or find_separator(head.lines[first : first + 20])
    layout = replace(
        layout,
        separator=separator,
        decimal=layout.decimal or find_decimal(head.lines[first : first + _LOOK_AT], separator),
    )
    table = [tuple(split_row(line, separator)) for line in head.lines[first : first + _LOOK_AT]]
    columns = _columns(table, layout)
    return CsvPreview(
        layout=layout,
        columns=columns,
        rows=tuple(table[:rows]),
        first_line=first + 1,
        problems=_problems(head, layout),
    )


def guess_layout(head: CsvHead) -> CsvLayout:
    """The layout that a file seems to have, from its first lines."""
    skip = _rows_before_table(head)
    first = _first_line(head, skip)
    separator = find_separator(head.lines[first : first + 20])
    table = [split_row(line, separator) for line in head.lines[first : first + _LOOK_AT]]
    fields = [field.strip() for field in table[0]] if table else []
    has_header = not any(is_number(field) or _is_stamp(field) for field in fields if field)
    layout = CsvLayout(separator=separator, skip_rows=skip, has_header=has_header)
    columns = _columns([tuple(row) for row in table], layout)
    time = next((c for c in columns if c.role == "time"), None)
    # With a stated rate, or none to be had, a column named for the time is still the time.
    attributes = read_attributes(head.lines)
    wanted = tuple(
        CsvColumn(c.name, c.name, _volt_unit(c.unit)) for c in columns if c.role == "channel"
    )
    plain = has_header and all(c.role != "text" for c in columns)
    decimal = find_decimal(head.lines[first : first + _LOOK_AT], separator)
    if time is None and "sample_rate_hz" not in attributes:
        return replace(layout, decimal=decimal, columns=() if plain else wanted)
    return replace(
        layout,
        decimal=decimal,
        columns=() if plain else wanted,
        time_column=time.name if time is not None else None,
        time_unit=_time_unit(time) if time is not None else None,
    )


def _first_line(head: CsvHead, skip: int) -> int:
    for index in range(min(skip, len(head.lines)), len(head.lines)):
        if head.lines[index].strip() and not head.lines[index].startswith("#"):
            return index
    return len(head.lines)


def _rows_before_table(head: CsvHead) -> int:
    """Lines above the table: those with fewer fields than the rows of numbers below them."""
    lines = head.lines[:_LOOK_AT]
    separator = find_separator(tuple(reversed([line for line in lines if line.strip()][-20:])))
    widths = [len(split_row(line, separator)) if line.strip() else 0 for line in lines]
    wide = max(set(widths), key=widths.count, default=0)
    for index, width in enumerate(widths):
        if lines[index].startswith("#"):
            continue
        if width == wide:
            return index if any(not line.startswith("#") for line in lines[:index]) else 0
    return 0


def _columns(table: list[tuple[str, ...]], layout: CsvLayout) -> tuple[PreviewColumn, ...]:
    if not table:
        return ()
    names = [field.strip() for field in table[0]]
    body = table[1:] if layout.has_header else table
    units = [""] * len(names)
    while layout.has_header and body and not any(is_number(f) or _is_stamp(f) for f in body[0]):
        for index, field in enumerate(body[0][: len(units)]):
            units[index] = text_unit(field) or units[index]
        body = body[1:]
    columns: list[PreviewColumn] = []
    for index, name in enumerate(names):
        fields = [row[index].strip() for row in body if index < len(row)]
        shown = name if layout.has_header and name else str(index + 1)
        unit = units[index] or text_unit(name.rpartition("[")[2] if "[" in name else "") or ""
        unit = unit or text_unit(name.rpartition("(")[2] if "(" in name else "") or ""
        has_time = any(column.role == "time" for column in columns)
        role = _role(shown, unit, fields, layout, taken=has_time)
        columns.append(PreviewColumn(shown, role, unit, tuple(fields[:20])))
    return tuple(columns)


def _role(
    name: str, unit: str, fields: list[str], layout: CsvLayout, *, taken: bool
) -> Literal["time", "channel", "text"]:
    if layout.time_column is not None:
        if layout.time_column == name:
            return "time"
    elif not taken:
        bare = name.lower().split("[")[0].split("(")[0].strip()
        if name == TIME_COLUMN or bare in _TIME_NAMES or unit in ("s", "ms", "us"):
            return "time"
        if fields and _is_stamp(fields[0]):
            return "time"
    filled = [field for field in fields if field]
    return "channel" if all(is_number(field) for field in filled) else "text"


def _is_stamp(field: str) -> bool:
    field = field.strip()
    return field[:1].isdigit() and ":" in field


def _time_unit(column: PreviewColumn) -> TimeUnit:
    if column.fields and _is_stamp(column.fields[0]):
        return "stamp"
    if column.unit == "ms":
        return "ms"
    return "us" if column.unit == "us" else "s"


def _volt_unit(unit: str) -> Unit | None:
    if unit == "mV":
        return "mV"
    return "V" if unit == "V" else None


def _problems(head: CsvHead, layout: CsvLayout) -> tuple[str, ...]:
    """What stands in the way of opening the file with this layout, as far as its head shows."""
    try:
        plan = plan_csv(head, layout)
    except InputError as error:
        return (_without_name(head, error),)
    separator: Separator = plan.separator
    assert separator == layout.separator
    lines = "\n".join(head.lines[plan.data_line - 1 : plan.data_line - 1 + _LOOK_AT])
    fault = find_fault(plan, lines.encode("utf-8"), plan.data_line)
    return (_without_name(head, fault),) if fault is not None else ()


def _without_name(head: CsvHead, error: InputError) -> str:
    """The dialog shows the file's name already."""
    return str(error).removeprefix(f"{head.path.name}: ")
