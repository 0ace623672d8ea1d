"""Which columns of a CSV file are channels, which is the time, and in which units."""

from __future__ import annotations

import re
from collections import Counter
from dataclasses import dataclass
from pathlib import Path

from .csv_layout import VOLTS_PER_UNIT, CsvColumn, CsvLayout, TimeUnit, Unit
from .wording import file_error, one_line, unknown_name

TIME_COLUMN = "time_s"

_IN_BRACKETS = re.compile(r"[\[(]\s*([^\])]*?)\s*[\])]\s*$")
_VOLT_TEXTS: dict[str, Unit] = {"v": "V", "volt": "V", "volts": "V", "mv": "mV"}
_TIME_TEXTS: dict[str, TimeUnit] = {
    "s": "s", "sec": "s", "seconds": "s", "ms": "ms", "us": "us", "µs": "us", "μs": "us",
}  # fmt: skip


@dataclass(frozen=True)
class PlannedChannel:
    """A column (place from 0) that becomes a channel; its numbers times the scale are volts."""

    column: int
    id: str
    volts_per_number: float


def text_unit(text: str) -> Unit | TimeUnit | None:
    """The unit that a field of a units row names, with or without brackets; else `None`."""
    bare = text.strip().strip("[]()").strip()
    return _VOLT_TEXTS.get(bare.lower()) or _TIME_TEXTS.get(bare.lower())


def pick_time(
    path: Path,
    names: tuple[str, ...],
    layout: CsvLayout,
    unit_rows: list[list[str]],
    sample: list[str],
    line: int,
) -> tuple[int | None, TimeUnit]:
    """The place of the time column and what its fields are.

    Raises:
        InputError: when the column that was named is not there.
    """
    if layout.time_column is not None:
        place = find_column(path, names, layout.time_column)
    elif TIME_COLUMN in names and layout.has_header:
        place = names.index(TIME_COLUMN)
    else:
        return None, "s"
    if layout.time_unit is not None:
        return place, layout.time_unit
    if names[place] == TIME_COLUMN and not unit_rows:
        return place, "s"
    field = sample[place].strip() if place < len(sample) else ""
    if any(mark in field for mark in (":", "T")):
        return place, "stamp"
    for text in (*(row[place] for row in unit_rows), _bracketed(names[place])):
        unit = _TIME_TEXTS.get(text.strip("[]() ").lower())
        if unit is not None:
            return place, unit
    return place, "s"


def pick_channels(
    path: Path,
    names: tuple[str, ...],
    layout: CsvLayout,
    unit_rows: list[list[str]],
    time: int | None,
    *,
    strict: bool,
) -> tuple[PlannedChannel, ...]:
    """The columns that become channels.

    `strict` is the contract's own layout: every column but the time is a channel in volts.

    Raises:
        InputError: names that are missing, empty or stand twice; millivolts in a strict file.
    """
    if layout.columns:
        wanted = [(find_column(path, names, c.name), c) for c in layout.columns]
    else:
        if layout.has_header:
            _check_names(path, names)
        wanted = [(i, CsvColumn(name)) for i, name in enumerate(names) if i != time]
    if not wanted:
        raise file_error(
            path, "there is no channel, only the time", "add a column of volts for each channel"
        )
    channels = []
    for place, column in wanted:
        told = _told_unit(names[place], [row[place] for row in unit_rows])
        if strict and told == "mV":
            raise file_error(
                path,
                f"column '{one_line(names[place], 60)}' is in millivolts, channels are in volts",
                "say so: --units mV on the command line, or the import dialog in the window",
            )
        unit = column.unit or layout.unit or told or "V"
        identity = column.channel or names[place]
        channels.append(PlannedChannel(place, identity, VOLTS_PER_UNIT[unit]))
    twice = [name for name, n in Counter(c.id for c in channels).items() if n > 1]
    if twice:
        raise file_error(
            path, f"two channels are called '{one_line(twice[0], 60)}'", "give each its own name"
        )
    return tuple(channels)


def find_column(path: Path, names: tuple[str, ...], wanted: str) -> int:
    """The place, from 0, of a column by its name or its number from 1.

    Raises:
        InputError: when there is none, or more than one of that name.
    """
    places = [place for place, name in enumerate(names) if name == wanted]
    if not places:
        places = [i for i, name in enumerate(names) if name.lower() == wanted.lower()]
    if len(places) > 1:
        raise file_error(
            path, f"two columns are called '{one_line(wanted, 60)}'", "name them by their numbers"
        )
    if places:
        return places[0]
    if wanted.isdecimal() and len(wanted) < 6 and 1 <= int(wanted) <= len(names):
        return int(wanted) - 1
    raise file_error(path, unknown_name(wanted, "column", [n for n in names if n]))


def _check_names(path: Path, names: tuple[str, ...]) -> None:
    for number, name in enumerate(names, 1):
        if not name:
            raise file_error(
                path,
                f"column {number} has no name",
                "name it in the header, or choose the columns with --columns NAME=ID,…",
            )
        if not name.isprintable():
            raise file_error(
                path, f"the name of column {number} cannot be shown", "rename it in the header"
            )
        if names.index(name) != number - 1:
            raise file_error(
                path,
                f"columns {names.index(name) + 1} and {number} are both called "
                f"'{one_line(name, 60)}'",
                "rename one of them",
            )


def _told_unit(name: str, units: list[str]) -> Unit | None:
    for text in (*units, _bracketed(name)):
        unit = _VOLT_TEXTS.get(text.strip("[]() ").lower())
        if unit is not None:
            return unit
    return None


def _bracketed(name: str) -> str:
    found = _IN_BRACKETS.search(name)
    return found[1] if found else ""
