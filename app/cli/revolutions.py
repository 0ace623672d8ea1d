"""`runtrue revolutions CAPTURE --out T.csv`: the table of every revolution."""

from __future__ import annotations

import argparse
from pathlib import Path

from .console import TerminalProgress, note
from .csv_options import add_csv_arguments, layout_from
from .span_options import add_span_arguments, check_span_usage, span_of

_EPILOG = """\
One row a revolution: time_s (its middle), speed_rpm (its mean), and for each probe NAME the columns
NAME.gap_um, NAME.pp_um (unfiltered), NAME.1x_um_pp, NAME.1x_deg (phase lag), NAME.2x_um_pp,
NAME.2x_deg. What is not known is an empty field. Lengths are µm whatever the window shows.

The ending of --out says what is written: .h5 and .hdf5 an HDF5 file with one dataset a column in
/revolutions, anything else CSV. --quality adds put_in (a missing pulse was put in at an end of the
revolution), NAME.samples and NAME.fault.

examples:
  runtrue revolutions sample_data/run_up.h5 --out run_up.csv
  runtrue revolutions sample_data/run_up.h5 --from 60 --to 95 --orders 1,2,7 --out top_speed.h5"""


def add_arguments(parser: argparse.ArgumentParser) -> None:
    """Options of `revolutions`."""
    parser.epilog = _EPILOG
    parser.add_argument("capture", metavar="CAPTURE", type=Path, help="HDF5 or CSV file")
    parser.add_argument(
        "--out", metavar="FILE", type=Path, required=True, help="table to write: .csv, or .h5"
    )
    add_span_arguments(parser)
    parser.add_argument(
        "--quality", action="store_true", help="add columns on pulses, samples and faults"
    )
    add_csv_arguments(parser)


def run(arguments: argparse.Namespace) -> int:
    """Read every revolution and write the table."""
    check_span_usage(arguments)
    from analysis.files.atomic import refuse_same_file
    from analysis.files.open import open_capture
    from analysis.files.table_write import write_table
    from analysis.model.errors import InputError
    from analysis.reporting.revolution_columns import revolution_columns
    from analysis.rotor.revolutions import revolution_table

    from .setups import setup_for

    layout = layout_from(arguments)
    refuse_same_file(arguments.capture, arguments.out)
    with TerminalProgress() as progress:
        capture = open_capture(arguments.capture, layout=layout, progress=progress)
        try:
            setup, notices = setup_for(capture, arguments.setup)
            if setup is None:
                raise InputError(notices[0])
            span, span_notices = span_of(arguments, capture)
            table = revolution_table(
                capture,
                setup,
                span,
                orders=arguments.orders,
                speed_rpm=arguments.speed,
                progress=progress,
            )
            columns = revolution_columns(table, quality=arguments.quality)
            write_table(arguments.out, columns, capture_path=arguments.capture)
        finally:
            capture.close()
    for notice in (*capture.warnings, *notices, *span_notices, *table.notices):
        note(notice)
    print(f"{len(table)} revolutions written to {arguments.out}")
    return 0
