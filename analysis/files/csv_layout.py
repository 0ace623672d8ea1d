"""What the columns of a CSV file are, for files of another layout than the contract's."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

from analysis.model.errors import InputError

from .wording import one_line

Separator = Literal[",", ";", "\t"]
Decimal = Literal[".", ","]
Unit = Literal["V", "mV"]
TimeUnit = Literal["s", "ms", "us", "stamp"]

SEPARATORS: tuple[Separator, ...] = ("\t", ";", ",")
VOLTS_PER_UNIT: dict[Unit, float] = {"V": 1.0, "mV": 1e-3}
SECONDS_PER_UNIT: dict[TimeUnit, float] = {"s": 1.0, "ms": 1e-3, "us": 1e-6, "stamp": 1.0}


@dataclass(frozen=True)
class CsvColumn:
    """One column that is wanted as a channel.

    `name` is the column's name in the header, or its number from 1. `channel` is what the channel
    is called (default: the name). `unit` is that of the numbers (default: the layout's).
    """

    name: str
    channel: str = ""
    unit: Unit | None = None


@dataclass(frozen=True)
class CsvLayout:
    """How a CSV file is read. `None` and empty mean: find it in the file.

    `skip_rows` lines are left out before the header (or, without one, before the numbers). Rows
    under the header that hold no number are taken for units. With no `columns`, every column but
    that of the times is a channel. `time_column` is a name or a number from 1; `time_unit`
    `"stamp"` is a date and time (ISO 8601) or a time of day. A `sample_rate_hz` goes before the
    times: these are then only checked for breaks.
    """

    separator: Separator | None = None
    decimal: Decimal | None = None
    skip_rows: int = 0
    has_header: bool = True
    columns: tuple[CsvColumn, ...] = ()
    unit: Unit | None = None
    time_column: str | None = None
    time_unit: TimeUnit | None = None
    sample_rate_hz: float | None = None

    def __post_init__(self) -> None:
        if self.separator is not None and self.separator not in SEPARATORS:
            raise InputError(
                f"the separator '{one_line(self.separator, 20)}' is not known; "
                f"use a comma, a semicolon or a tab"
            )
        if self.decimal == "," and self.separator == ",":
            raise InputError(
                "a decimal comma cannot be told from the separator ','; "
                "save the file with the separator ';' or a tab"
            )
        if self.skip_rows < 0:
            raise InputError(f"{self.skip_rows} rows cannot be left out; give 0 or more")


def parse_columns(text: str) -> tuple[CsvColumn, ...]:
    """Columns from `NAME=ID,NAME=ID,…`; `ID` may be left out, `NAME` may be a number from 1.

    Raises:
        InputError: an empty name, or an ID that stands twice.
    """
    columns = []
    for part in text.split(","):
        name, _, channel = part.partition("=")
        if not name.strip():
            raise InputError(f"'{one_line(text, 80)}' is no list of columns; write NAME=ID,NAME=ID")
        columns.append(CsvColumn(name.strip(), channel.strip() or name.strip()))
    return tuple(columns)
