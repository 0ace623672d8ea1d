"""`runtrue replay CAPTURE`: every change of every limit's state, as text or as JSON."""

from __future__ import annotations

import argparse
import json
import sys
from pathlib import Path
from typing import TYPE_CHECKING

from .console import TerminalProgress, note
from .csv_options import add_csv_arguments, layout_from
from .span_options import seconds, speed

if TYPE_CHECKING:
    from analysis.model.capture import Capture

_EPILOG = """\
The whole capture is put through the limits of its setup: measures are taken every 0.1 s over the
last 0.1 s or the last full revolution, whichever is longer; a limit sets once its condition has
held for its delay. Events: set, held (the condition is gone and the latch holds), cleared, reset,
fault and fault_cleared (of a circuit). A reset lets go of every latched limit whose condition is
gone at that time; while the condition is present it does nothing.

This shows what settings would have made of a recording. It is no proof of the protection system
itself: that is tested on the machine, by its owner's procedures.

examples:
  runtrue replay sample_data/run_up.h5
  runtrue replay sample_data/run_up.h5 --reset 80 --json
  runtrue replay sample_data/run_up.h5 --setup other_settings.toml"""


def add_arguments(parser: argparse.ArgumentParser) -> None:
    """Options of `replay`."""
    parser.epilog = _EPILOG
    parser.add_argument("capture", metavar="CAPTURE", type=Path, help="HDF5 or CSV file")
    parser.add_argument(
        "--setup", metavar="SETUP.toml", type=Path, help="setup to use in place of the capture's"
    )
    parser.add_argument(
        "--reset",
        dest="resets_s",
        metavar="S",
        type=seconds,
        action="append",
        default=[],
        help="a reset at this time of the capture, s; can be given several times",
    )
    parser.add_argument(
        "--speed",
        metavar="RPM",
        type=speed,
        help="speed in r/min, for a capture without a phase reference",
    )
    parser.add_argument("--json", action="store_true", help="one JSON object, lengths in µm")
    parser.add_argument(
        "--unit", choices=("um", "mil"), default="um", help="of lengths in the text (default: um)"
    )
    add_csv_arguments(parser)


def run(arguments: argparse.Namespace) -> int:
    """Replay and print."""
    from analysis.files.open import open_capture
    from analysis.model.errors import InputError
    from analysis.model.units import LengthUnit
    from analysis.protection.monitor import monitor_series
    from analysis.protection.replay import replay
    from analysis.reporting.replay_json import replay_document
    from analysis.reporting.replay_text import replay_text
    from analysis.rotor.revolutions import revolution_table

    from .setups import setup_for

    layout = layout_from(arguments)
    with TerminalProgress() as progress:
        capture = open_capture(arguments.capture, layout=layout, progress=progress)
        try:
            _check_resets(arguments.resets_s, capture)
            setup, notices = setup_for(capture, arguments.setup)
            if setup is None:
                raise InputError(notices[0])
            table = revolution_table(
                capture,
                setup,
                capture.span,
                orders=(1,),
                speed_rpm=arguments.speed,
                progress=progress,
            )
            series = monitor_series(capture, setup, table, progress=progress)
        finally:
            capture.close()
    unit = LengthUnit.MIL if arguments.unit == "mil" else LengthUnit.UM
    # What is written for programs is µm throughout.
    words = LengthUnit.UM if arguments.json else unit
    result = replay(series, setup, resets_s=arguments.resets_s, unit=words)
    notices = [*capture.warnings, *notices]
    if not setup.limit:
        notices.append("the setup has no [[limit]] tables, so there is nothing to replay")
    for notice in notices:
        note(notice)
    if arguments.json:
        document = replay_document(capture.name, result, notices)
        print(json.dumps(document, indent=2, allow_nan=False))
    else:
        sys.stdout.write(replay_text(result, unit=unit))
    return 0


def _check_resets(resets_s: list[float], capture: Capture) -> None:
    from analysis.model.errors import InputError

    span = capture.span
    for reset in resets_s:
        if not span.start_s <= reset <= span.end_s:
            raise InputError(
                f"{capture.name}: a reset at {reset:g} s is outside the capture, which runs from "
                f"{span.start_s:g} to {span.end_s:g} s"
            )
