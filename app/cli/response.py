"""`runtrue response CAPTURE-OR-TABLE`: slow roll, critical speeds, factors and margins."""

from __future__ import annotations

import argparse
import json
import sys
from pathlib import Path
from typing import TYPE_CHECKING

from .console import TerminalProgress, note
from .csv_options import add_csv_arguments, layout_from
from .span_options import add_from_to_arguments, check_span_usage, span_of, speed

if TYPE_CHECKING:
    from analysis.jobs import Progress
    from analysis.model.response_results import ResponseResult
    from analysis.views.response import ResponseRequest

_MOST_TURNS = 1000

_EPILOG = """\
A capture needs a setup with a phase reference. A table in its place is a CSV file with the column
speed_rpm and, for each probe NAME, NAME.1x_um_pp and NAME.1x_deg (phase lag), as the command
revolutions writes it; time_s is used where it is there, any other column is left alone. A table has
no setup: give the operating range with --operating, or a setup with --setup.

The slow-roll vector is read where the lowest speeds are steady, or at --slow-roll, and taken off as
a complex vector. A critical speed is a peak of what remains with a phase change through it; its
factor is Nc/(N2 - N1) at 0.707 of the peak. What is doubtful about a figure is said beside it.

examples:
  runtrue response sample_data/run_up.h5
  runtrue response sample_data/run_up.h5 --slow-roll 600 --json
  runtrue response run_up.csv --operating 4700,5300"""


def add_arguments(parser: argparse.ArgumentParser) -> None:
    """Options of `response`."""
    parser.epilog = _EPILOG
    parser.add_argument(
        "capture", metavar="CAPTURE-OR-TABLE", type=Path, help="HDF5 or CSV file, or a table"
    )
    parser.add_argument(
        "--setup", metavar="SETUP.toml", type=Path, help="setup to use in place of the capture's"
    )
    add_from_to_arguments(parser)
    parser.add_argument(
        "--slow-roll",
        metavar="RPM",
        type=speed,
        help="speed at which the slow-roll vector is read, r/min",
    )
    parser.add_argument("--no-slow-roll", action="store_true", help="take no slow-roll vector off")
    parser.add_argument(
        "--operating",
        metavar="LOW,HIGH",
        type=_range,
        help="lowest and highest running speed, r/min, in place of the setup's",
    )
    parser.add_argument(
        "--smooth",
        metavar="TURNS",
        type=_turns,
        default=5,
        help="turns that the smoothed figures are averaged over; 1 for none (default: 5)",
    )
    parser.add_argument("--json", action="store_true", help="one JSON object, lengths in µm")
    parser.add_argument(
        "--unit", choices=("um", "mil"), default="um", help="of lengths in the text (default: um)"
    )
    add_csv_arguments(parser)


def run(arguments: argparse.Namespace) -> int:
    """Find the critical speeds and print them."""
    check_span_usage(arguments)
    if arguments.no_slow_roll and arguments.slow_roll is not None:
        arguments.parser.error("--slow-roll and --no-slow-roll do not go together")
    from analysis.files.response_table import looks_like_response_table
    from analysis.model.units import LengthUnit
    from analysis.reporting.response_json import response_document
    from analysis.reporting.response_text import response_text
    from analysis.views.response import ResponseRequest, SlowRollChoice

    request = ResponseRequest(
        slow_roll=SlowRollChoice(not arguments.no_slow_roll, arguments.slow_roll),
        operating_rpm=arguments.operating,
        smoothing_turns=arguments.smooth,
    )
    with TerminalProgress() as progress:
        if looks_like_response_table(arguments.capture):
            result, notices = _of_table(arguments, request, progress)
        else:
            result, notices = _of_capture(arguments, request, progress)
    _refuse_missing_slow_roll(arguments, result)
    for notice in notices:
        note(notice)
    if arguments.json:
        print(json.dumps(response_document(result, notices), indent=2, allow_nan=False))
    else:
        unit = LengthUnit.MIL if arguments.unit == "mil" else LengthUnit.UM
        sys.stdout.write(response_text(result, unit=unit))
    return 0


def _of_table(
    arguments: argparse.Namespace, request: ResponseRequest, progress: Progress
) -> tuple[ResponseResult, list[str]]:
    from analysis.files.response_table import read_response_table
    from analysis.files.setup_read import read_setup
    from analysis.views.response import answer_table_response

    table = read_response_table(arguments.capture)
    if arguments.from_s is not None or arguments.to_s is not None:
        arguments.parser.error("--from and --to are for captures; cut the table's rows instead")
    setup, notices = None, []
    if arguments.setup is not None:
        setup, warnings = read_setup(arguments.setup)
        notices = [f"{arguments.setup.name}: {warning}" for warning in warnings]
    return answer_table_response(table, setup, request, progress), notices


def _of_capture(
    arguments: argparse.Namespace, request: ResponseRequest, progress: Progress
) -> tuple[ResponseResult, list[str]]:
    from analysis.files.open import open_capture
    from analysis.files.response_table import NEEDED
    from analysis.jobs import Part
    from analysis.model.errors import InputError
    from analysis.rotor.revolutions import revolution_table
    from analysis.views.response import answer_response

    from .setups import setup_for

    layout = layout_from(arguments)
    try:
        capture = open_capture(arguments.capture, layout=layout, progress=progress)
    except InputError as error:
        if arguments.capture.suffix.lower() not in (".csv", ".tsv", ".txt"):
            raise
        if not arguments.capture.is_file():
            raise
        raise InputError(f"{error}; as a table of vectors it would need {NEEDED}") from error
    try:
        setup, notices = setup_for(capture, arguments.setup)
        if setup is None:
            raise InputError(notices[0])
        span, span_notices = span_of(arguments, capture)
        table = revolution_table(
            capture, setup, span, orders=(1,), progress=Part(progress, 0.0, 0.5)
        )
        result = answer_response(
            capture.name, table, setup, request, progress=Part(progress, 0.5, 1.0)
        )
        return result, [*capture.warnings, *notices, *span_notices]
    finally:
        capture.close()


def _refuse_missing_slow_roll(arguments: argparse.Namespace, result: ResponseResult) -> None:
    """A speed that was asked for and that no revolution comes near is bad input."""
    from analysis.model.errors import InputError

    if arguments.slow_roll is None or not result.probes:
        return
    if any(response.slow_roll is not None for response in result.probes.values()):
        return
    first = next(iter(result.probes.values()))
    reasons = [notice.sentence for notice in first.notices if notice.flag == "not-reached"]
    if reasons:
        raise InputError(f"{result.source}: {reasons[0]}")


def _range(word: str) -> tuple[float, float]:
    parts = word.split(",")
    if len(parts) != 2:
        raise argparse.ArgumentTypeError(f'"{word}" is no range in r/min, such as 4700,5300')
    low, high = speed(parts[0]), speed(parts[1])
    if low >= high:
        raise argparse.ArgumentTypeError(f"{low:g} must be below {high:g}")
    return low, high


def _turns(word: str) -> int:
    if not (word.isascii() and word.isdigit() and 1 <= int(word) <= _MOST_TURNS):
        raise argparse.ArgumentTypeError(f'"{word}" is no number of turns from 1 to {_MOST_TURNS}')
    return int(word)
