"""The words of `runtrue --help`."""

from __future__ import annotations

COMMANDS = {
    "measure": "Readings over a span of a capture: gap, p-p, 1X and 2X, orbit, position, margins.",
    "revolutions": "The table of every revolution: speed, gap, p-p, 1X and 2X of each probe.",
    "replay": "Every change of every limit's state: set, held by its latch, cleared, reset.",
    "response": "Slow roll, critical speeds, amplification factors and margins of a run.",
    "calibrate": "A probe's calibration table: increments, straightness, usable range, verdict.",
    "convert": "Rewrite a capture in another format: HDF5 (.h5, .hdf5) or CSV (.csv).",
    "simulate": "Make a synthetic capture from a recipe.",
}
"""The words that are commands, each with one line of help."""

USAGES = {
    "measure": "runtrue measure CAPTURE [--setup SETUP.toml] [--from S] [--to S] [options]",
    "revolutions": "runtrue revolutions CAPTURE --out T.csv [--setup SETUP.toml] [options]",
    "replay": "runtrue replay CAPTURE [--setup SETUP.toml] [--reset S] [--speed RPM] [options]",
    "response": "runtrue response CAPTURE-OR-TABLE [--slow-roll RPM] [--setup F] [options]",
    "calibrate": "runtrue calibrate TABLE.csv [--json] [--as-found TABLE.csv] [options]",
    "convert": "runtrue convert IN OUT [options]",
    "simulate": "runtrue simulate RECIPE.toml --out FILE",
}

MAIN_TEXT = """\
Runtrue reviews captures of shaft proximity probes: where the shaft sits, how it moves, whether the
probes are inside their straight line, and what the alarms would have made of it.

A capture is a recording of gap voltages, one channel a probe: an HDF5 file (.h5, .hdf5) or a CSV
table (.csv). What the channels are (scale factors, angles, limits) stands in a setup, a TOML file:
inside the capture, beside it (NAME.toml for NAME.h5, or setup.toml), or given with --setup.

With a capture and no command the window opens on it. Where there is no screen, a picture and the
readings are written to the folder runtrue-report instead."""

MAIN_EPILOG = """\
commands (each has its own --help):
  measure CAPTURE              readings over a span, as text or as JSON
  revolutions CAPTURE --out F  the table of every revolution, CSV or HDF5
  replay CAPTURE               every change of every limit's state
  response CAPTURE-OR-TABLE    critical speeds of a run, of a capture or a table of 1X
  calibrate TABLE.csv          what a probe's calibration table tells, and whether it passes
  convert IN OUT               between HDF5 and CSV
  simulate RECIPE --out FILE   a synthetic capture from a recipe

examples:
  runtrue sample_data/run_up.h5
  runtrue measure sample_data/run_up.h5 --from 70 --to 80
  runtrue measure sample_data/few_turns.csv --json
  runtrue revolutions sample_data/run_up.h5 --out run_up.csv
  runtrue replay sample_data/run_up.h5 --reset 80
  runtrue response sample_data/run_up.h5 --slow-roll 600
  runtrue calibrate de_x.csv
  runtrue convert sample_data/few_turns.csv few_turns.h5
  runtrue simulate sample_data/recipes/whirl.toml --out whirl.h5

A file that is named like a command is written with its folder: ./measure

exit status: 0 done, 1 the input is bad (one line says what and how to mend it), 2 wrong usage.
RUNTRUE_DEBUG=1 in the environment adds a traceback to an unexpected error.

For review only: Runtrue is no protection system, and drives nothing. Limits and settings belong to
the machine's owner."""


def version_text() -> str:
    """Name and version of the program."""
    from importlib.metadata import PackageNotFoundError, version

    try:
        return f"runtrue {version('runtrue')}"
    except PackageNotFoundError:
        return f"runtrue {_version_of_checkout()}"


def _version_of_checkout() -> str:
    import tomllib
    from pathlib import Path

    try:
        text = (Path(__file__).parents[2] / "pyproject.toml").read_text(encoding="utf-8")
        return str(tomllib.loads(text)["project"]["version"])
    except (OSError, KeyError, tomllib.TOMLDecodeError):
        return "(version unknown)"
