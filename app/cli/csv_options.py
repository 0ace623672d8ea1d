"""Options that say what a CSV file's columns are, where its layout is not Runtrue's own.

The readers of `analysis.files` name these options in their errors.
"""

from __future__ import annotations

import argparse
import math
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from analysis.files.csv_layout import CsvLayout

# A tab or a semicolon is hard to type in a shell, so each has a word too.
_SEPARATORS = {"comma": ",", "semicolon": ";", "tab": "\t", ",": ",", ";": ";", "\t": "\t"}
_DECIMALS = {"point": ".", "comma": ",", ".": ".", ",": ","}
_OPTIONS = (
    "separator",
    "decimal",
    "skip_rows",
    "no_header",
    "columns",
    "units",
    "time_column",
    "time_unit",
    "sample_rate",
)


def add_csv_arguments(parser: argparse.ArgumentParser) -> None:
    """The options, as a group of their own; none of them is needed for Runtrue's own layout."""
    group = parser.add_argument_group(
        "CSV of another layout",
        "Runtrue's own has one header line, a column time_s and one column of volts a channel.\n"
        "These options say what is different; what they leave out is found in the file.",
    )
    group.add_argument(
        "--separator",
        metavar="S",
        choices=tuple(_SEPARATORS),
        help="between the columns: comma, semicolon or tab",
    )
    group.add_argument(
        "--decimal",
        metavar="D",
        choices=tuple(_DECIMALS),
        help="decimal sign of the numbers: point or comma",
    )
    group.add_argument(
        "--skip-rows", metavar="N", type=_count, help="lines to leave out before the header"
    )
    group.add_argument(
        "--no-header", action="store_true", help="there is no header line: columns are 1, 2, 3 ..."
    )
    group.add_argument(
        "--columns",
        metavar="NAME=ID,...",
        help="columns to read (name, or number from 1) and what their channels are called",
    )
    group.add_argument("--units", choices=("V", "mV"), help="what the numbers are in (default: V)")
    group.add_argument(
        "--time-column", metavar="NAME", help="name or number of the column of times"
    )
    group.add_argument(
        "--time-unit",
        choices=("s", "ms", "us", "stamp"),
        help="what the times are in; stamp: a date and time, or a time of day",
    )
    group.add_argument(
        "--sample-rate", metavar="HZ", type=_rate, help="samples a second, where no times say so"
    )


def layout_from(arguments: argparse.Namespace) -> CsvLayout | None:
    """The layout that the options describe; `None` when none of them was given."""
    if not any(getattr(arguments, option) not in (None, False) for option in _OPTIONS):
        return None
    from analysis.files.csv_layout import CsvLayout, parse_columns
    from analysis.model.errors import InputError

    separator, decimal = arguments.separator, arguments.decimal
    try:
        return CsvLayout(
            separator=_SEPARATORS[separator] if separator else None,  # type: ignore[arg-type]
            decimal=_DECIMALS[decimal] if decimal else None,  # type: ignore[arg-type]
            skip_rows=arguments.skip_rows or 0,
            has_header=not arguments.no_header,
            columns=parse_columns(arguments.columns) if arguments.columns else (),
            unit=arguments.units,
            time_column=arguments.time_column,
            time_unit=arguments.time_unit,
            sample_rate_hz=arguments.sample_rate,
        )
    except InputError as error:  # options that contradict each other
        arguments.parser.error(str(error))


def _count(word: str) -> int:
    if not (word.isascii() and word.isdigit() and len(word) < 10):
        raise argparse.ArgumentTypeError(f'"{word}" is no number of lines, such as 3')
    return int(word)


def _rate(word: str) -> float:
    try:
        rate = float(word)
    except ValueError:
        rate = math.nan
    if not (math.isfinite(rate) and rate > 0.0):
        raise argparse.ArgumentTypeError(f'"{word}" is no sampling rate in Hz, such as 5120')
    return rate
