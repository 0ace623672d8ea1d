"""`runtrue calibrate TABLE.csv`: what a calibration table of a probe tells."""

from __future__ import annotations

import argparse
import json
import math
import sys
from dataclasses import replace
from pathlib import Path
from typing import TYPE_CHECKING

from .console import note

if TYPE_CHECKING:
    from analysis.model.calibration_entries import CalibrationTolerances

_EPILOG = """\
The table has the columns gap_um (or gap_mil) and volts, at least three rows, in any order; lines
that start with # are remarks. Told are the scale factor of every increment, the average factor, the
deviation from a straight line (its slope held at the nominal factor, and the best fit beside it),
the usable range, and whether all of it keeps the tolerances, with the reasons where it does not.

A fail is a result, not an error: the exit status is 0 all the same.

Defaults: 200 mV/mil (7.874 mV/µm), common practice; ±5 % at every increment and ±25.4 µm from the
line over 254 to 2286 µm (10 to 90 mil), usable range 2000 µm: API 670, 5th edition (2014), from
memory. The maker's certificate and the owner's procedure come first: say their figures by options.

examples:
  runtrue calibrate de_x.csv
  runtrue calibrate de_x.csv --json
  runtrue calibrate wide_range.csv --scale-factor 3.937 --range 500,4500 --least 4000
  runtrue calibrate as_left.csv --as-found as_found.csv --unit mil
  runtrue calibrate de_x.csv --for-setup"""


def add_arguments(parser: argparse.ArgumentParser) -> None:
    """Options of `calibrate`."""
    parser.epilog = _EPILOG
    parser.add_argument("table", metavar="TABLE.csv", type=Path, help="table of gap and volts")
    _add_tolerances(parser)
    parser.add_argument(
        "--as-found",
        metavar="TABLE.csv",
        type=Path,
        help="the table before adjustment, to be set beside this one",
    )
    kind = parser.add_mutually_exclusive_group()
    kind.add_argument("--json", action="store_true", help="one JSON object, lengths in µm")
    kind.add_argument(
        "--for-setup",
        action="store_true",
        help="the table as the line of a probe in a setup, and nothing else",
    )
    parser.add_argument(
        "--unit", choices=("um", "mil"), help="of lengths in the text (default: that of the table)"
    )


def _add_tolerances(parser: argparse.ArgumentParser) -> None:
    factor = parser.add_mutually_exclusive_group()
    factor.add_argument(
        "--scale-factor",
        metavar="MV",
        type=_above_zero,
        help="nominal scale factor, mV/µm (default: 7.874)",
    )
    factor.add_argument(
        "--scale-factor-mil",
        metavar="MV",
        type=_above_zero,
        help="nominal scale factor, mV/mil (default: 200)",
    )
    parser.add_argument(
        "--tolerance",
        metavar="PERCENT",
        type=_above_zero,
        help="of every increment about the nominal factor, %% (default: 5)",
    )
    parser.add_argument(
        "--deviation",
        metavar="UM",
        type=_above_zero,
        help="allowed from the straight line, µm (default: 25.4)",
    )
    parser.add_argument(
        "--range",
        dest="testing_range",
        metavar="LOW,HIGH",
        type=_range,
        help="testing range that is judged, µm (default: 254,2286)",
    )
    parser.add_argument(
        "--least",
        metavar="UM",
        type=_above_zero,
        help="length that the usable range must have, µm (default: 2000)",
    )
    parser.add_argument(
        "--operating",
        action="store_true",
        help="start from the tolerances of the operating range: 10 %% and 76.2 µm",
    )


def run(arguments: argparse.Namespace) -> int:
    """Judge the table and print."""
    from analysis.calibration.curve import compare_tables
    from analysis.calibration.figures import calibration_figures
    from analysis.files.calibration_table import read_calibration_table
    from analysis.model.units import LengthUnit
    from analysis.reporting.calibrate_json import calibrate_document
    from analysis.reporting.calibrate_text import calibrate_text, setup_line

    table = read_calibration_table(arguments.table)
    tolerances = _tolerances(arguments)
    unit = table.unit
    if arguments.unit is not None:
        unit = LengthUnit.MIL if arguments.unit == "mil" else LengthUnit.UM
    # What is written for programs is µm throughout.
    words = LengthUnit.UM if arguments.json else unit
    figures = calibration_figures(table, tolerances, unit=words)
    comparison = None
    if arguments.as_found is not None:
        before = read_calibration_table(arguments.as_found)
        comparison = compare_tables(calibration_figures(before, tolerances, unit=words), figures)
    if arguments.json:
        print(json.dumps(calibrate_document(figures, comparison), indent=2, allow_nan=False))
    elif arguments.for_setup:
        if figures.verdict == "fail":
            note("this table fails its tolerances: " + " ".join(figures.reasons))
        sys.stdout.write(setup_line(figures))
    else:
        sys.stdout.write(calibrate_text(figures, comparison, unit=unit))
    return 0


def _tolerances(arguments: argparse.Namespace) -> CalibrationTolerances:
    from analysis.model.calibration_entries import OPERATING_RANGE, CalibrationTolerances
    from analysis.model.units import mv_per_mil_to_mv_per_um

    start = OPERATING_RANGE if arguments.operating else CalibrationTolerances()
    factor = arguments.scale_factor
    if arguments.scale_factor_mil is not None:
        factor = mv_per_mil_to_mv_per_um(arguments.scale_factor_mil)
    given = {
        "nominal_mv_per_um": factor,
        "increment_percent": arguments.tolerance,
        "deviation_um": arguments.deviation,
        "testing_range_um": arguments.testing_range,
        "least_range_um": arguments.least,
    }
    changed = {key: value for key, value in given.items() if value is not None}
    if not changed:
        return start
    return replace(start, **changed, edition=f"figures of one's own; else {start.edition}")


def _above_zero(word: str) -> float:
    number = _number(word)
    if number is None or number <= 0.0:
        raise argparse.ArgumentTypeError(f'"{word}" is not a number above zero')
    return number


def _range(word: str) -> tuple[float, float]:
    ends = [_number(part) for part in word.split(",")]
    if len(ends) == 2 and ends[0] is not None and ends[1] is not None and 0 <= ends[0] < ends[1]:
        return ends[0], ends[1]
    raise argparse.ArgumentTypeError(f'"{word}" is no range in µm, such as 254,2286')


def _number(word: str) -> float | None:
    try:
        number = float(word)
    except ValueError:
        return None
    return number if math.isfinite(number) else None
