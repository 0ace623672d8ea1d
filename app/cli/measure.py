"""`runtrue measure CAPTURE`: readings over a span, as text or as JSON."""

from __future__ import annotations

import argparse
import json
import sys
from collections.abc import Callable
from pathlib import Path
from typing import TYPE_CHECKING

from .console import TerminalProgress, note
from .csv_options import add_csv_arguments, layout_from
from .span_options import add_span_arguments, check_span_usage, span_of

if TYPE_CHECKING:
    from analysis.model.capture import Capture

_EPILOG = """\
The readings are taken over the whole revolutions of the span: gap, unfiltered p-p, nX vectors with
their phase lag, orbits, position in the bearing, linear-range margins, current outputs, and the
limits of the setup without their delays. Without --from and --to the span is the whole capture.

Without a phase reference, blocks of 0.1 s stand for revolutions, or turns at --speed. Without a
setup only the mean voltages can be told; --setup gives one, or a file beside the capture
(NAME.toml for NAME.h5, or setup.toml).

examples:
  runtrue measure sample_data/run_up.h5 --from 70 --to 80
  runtrue measure sample_data/run_up.h5 --from 70 --to 80 --json
  runtrue measure table.csv --setup pump.toml --unit mil --orders 1,2,3"""


def add_arguments(parser: argparse.ArgumentParser) -> None:
    """Options of `measure`."""
    parser.epilog = _EPILOG
    parser.add_argument("capture", metavar="CAPTURE", type=Path, help="HDF5 or CSV file")
    add_span_arguments(parser)
    parser.add_argument("--json", action="store_true", help="one JSON object, lengths in µm")
    parser.add_argument(
        "--unit", choices=("um", "mil"), default="um", help="of lengths in the text (default: um)"
    )
    add_csv_arguments(parser)


def run(arguments: argparse.Namespace) -> int:
    """Measure and print."""
    check_span_usage(arguments)
    from analysis.files.open import open_capture

    layout = layout_from(arguments)
    with TerminalProgress() as progress:
        capture = open_capture(arguments.capture, layout=layout, progress=progress)
        try:
            print_readings = _measured(arguments, capture, progress)
        finally:
            capture.close()
    print_readings()
    return 0


def _measured(
    arguments: argparse.Namespace, capture: Capture, progress: TerminalProgress
) -> Callable[[], None]:
    """Read everything while the file is open; what is returned prints it."""
    from analysis.model.units import LengthUnit
    from analysis.reporting.measure_json import measure_document, volts_document
    from analysis.reporting.readings_text import readings_text, volts_text

    from .setups import setup_for

    notices = list(capture.warnings)
    setup, setup_notices = setup_for(capture, arguments.setup)
    notices += setup_notices
    span, span_notices = span_of(arguments, capture)
    notices += span_notices
    orders: tuple[int, ...] = arguments.orders
    if setup is None:
        from analysis.views.readings import read_volts

        volts = read_volts(capture, span)
        text = volts_text(span, volts)
        document = volts_document(capture.name, span, volts, notices, orders=orders)
    else:
        from analysis.views.readings import read_span

        speed = arguments.speed
        readings = read_span(
            capture, setup, span, orders=orders, speed_rpm=speed, progress=progress
        )
        text = readings_text(readings, LengthUnit.MIL if arguments.unit == "mil" else LengthUnit.UM)
        document = measure_document(capture.name, readings, orders=orders)
        document["notices"] = [*notices, *document["notices"]]

    def print_readings() -> None:
        for notice in notices:
            note(notice)
        if arguments.json:
            print(json.dumps(document, indent=2, allow_nan=False))
        else:
            sys.stdout.write(text)

    return print_readings
