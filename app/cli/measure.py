"""`runtrue measure CAPTURE`: readings over a span, as text or as JSON."""

from __future__ import annotations

import argparse
import json
import math
import sys
from collections.abc import Callable
from pathlib import Path
from typing import TYPE_CHECKING

from .console import TerminalProgress, note
from .csv_options import add_csv_arguments, layout_from

if TYPE_CHECKING:
    from analysis.model.capture import Capture
    from analysis.model.span import TimeSpan

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
_HIGHEST_ORDER = 100
_MOST_ORDERS = 20


def add_arguments(parser: argparse.ArgumentParser) -> None:
    """Options of `measure`."""
    parser.epilog = _EPILOG
    parser.add_argument("capture", metavar="CAPTURE", type=Path, help="HDF5 or CSV file")
    parser.add_argument(
        "--setup", metavar="SETUP.toml", type=Path, help="setup to use in place of the capture's"
    )
    parser.add_argument(
        "--from", dest="from_s", metavar="S", type=_seconds, help="start of the span, s"
    )
    parser.add_argument("--to", dest="to_s", metavar="S", type=_seconds, help="end of the span, s")
    parser.add_argument(
        "--speed",
        metavar="RPM",
        type=_speed,
        help="speed in r/min, for a capture without a phase reference",
    )
    parser.add_argument("--json", action="store_true", help="one JSON object, lengths in µm")
    parser.add_argument(
        "--unit", choices=("um", "mil"), default="um", help="of lengths in the text (default: um)"
    )
    parser.add_argument(
        "--orders",
        metavar="N,N",
        type=_orders,
        default=(1, 2),
        help="orders that vectors and orbits are wanted of (default: 1,2)",
    )
    add_csv_arguments(parser)


def run(arguments: argparse.Namespace) -> int:
    """Measure and print."""
    _check_usage(arguments)
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
    span, span_notices = _span(arguments, capture)
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


def _span(arguments: argparse.Namespace, capture: Capture) -> tuple[TimeSpan, list[str]]:
    from analysis.model.errors import InputError
    from analysis.model.span import TimeSpan

    whole = capture.span
    start = whole.start_s if arguments.from_s is None else arguments.from_s
    end = whole.end_s if arguments.to_s is None else arguments.to_s
    if start >= whole.end_s or end <= whole.start_s or start >= end:
        raise InputError(
            f"{capture.name}: there is nothing between {start:g} and {end:g} s; the capture runs "
            f"from {whole.start_s:g} to {whole.end_s:g} s"
        )
    asked = TimeSpan(start, end)
    span = asked.clipped_to(whole)
    if span == asked:
        return span, []
    return span, [
        f"the span asked for reaches beyond the capture; read from {span.start_s:g} "
        f"to {span.end_s:g} s"
    ]


def _check_usage(arguments: argparse.Namespace) -> None:
    start, end = arguments.from_s, arguments.to_s
    if start is not None and end is not None and start >= end:
        arguments.parser.error(f"--from ({start:g}) must come before --to ({end:g})")


def _seconds(word: str) -> float:
    return _number(word, "a time in seconds, such as 12.5")


def _speed(word: str) -> float:
    speed = _number(word, "a speed in r/min, such as 2980")
    if speed <= 0.0:
        raise argparse.ArgumentTypeError("a speed in r/min must be above zero")
    return speed


def _number(word: str, what: str) -> float:
    try:
        number = float(word)
    except ValueError:
        number = math.nan
    if not math.isfinite(number):
        raise argparse.ArgumentTypeError(f'"{word}" is not {what}')
    return number


def _orders(word: str) -> tuple[int, ...]:
    parts = word.split(",")
    if not all(part.strip().isascii() and part.strip().isdigit() for part in parts):
        raise argparse.ArgumentTypeError(
            f'"{word}" is no list of whole orders with commas, such as 1,2,3'
        )
    orders = sorted({int(part) for part in parts})
    if orders[0] < 1 or orders[-1] > _HIGHEST_ORDER or len(orders) > _MOST_ORDERS:
        raise argparse.ArgumentTypeError(
            f"orders run from 1 to {_HIGHEST_ORDER}, at most {_MOST_ORDERS} of them"
        )
    return tuple(orders)
