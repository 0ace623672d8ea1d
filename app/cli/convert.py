"""`runtrue convert IN OUT`: a capture in another format."""

from __future__ import annotations

import argparse
from pathlib import Path

from .console import TerminalProgress, note
from .csv_options import add_csv_arguments, layout_from

_EPILOG = """\
The kind of file follows from the ending of OUT: .h5, .hdf5 or .csv. A file that is there is
replaced once the new one is whole; IN is never written to. A CSV file has one sampling rate for all
its channels; HDF5 keeps one for each. A setup inside IN goes along; one beside it stays there.

examples:
  runtrue convert sample_data/few_turns.csv few_turns.h5
  runtrue convert table.txt table.h5 --separator tab --units mV --sample-rate 5120"""


def add_arguments(parser: argparse.ArgumentParser) -> None:
    """Options of `convert`."""
    parser.epilog = _EPILOG
    parser.add_argument("capture", metavar="IN", type=Path, help="capture to read")
    parser.add_argument("out", metavar="OUT", type=Path, help="capture to write")
    add_csv_arguments(parser)


def run(arguments: argparse.Namespace) -> int:
    """Convert."""
    layout = layout_from(arguments)
    from analysis.files.convert import convert

    with TerminalProgress() as progress:
        warnings = convert(arguments.capture, arguments.out, layout=layout, progress=progress)
    for warning in warnings:
        note(warning)
    return 0
