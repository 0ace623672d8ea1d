"""`runtrue simulate RECIPE.toml --out C.h5`: a synthetic capture."""

from __future__ import annotations

import argparse
from pathlib import Path

from .console import TerminalProgress, note

_EPILOG = """\
A recipe is a TOML file. Amplitudes are µm p-p, times s, speeds r/min. Its tables:
  (top)             duration_s, seed, title, started_at, notes, setup_inside
  [speed]           points = [[s, r/min], ...]; a smooth curve through them
  [reference]       how the phase-reference probe sees the mark on the shaft
  [[plane]]         a plane of the setup: eccentricity_ratio against speed, and below it
    [[plane.unbalance]]   a rotor mode in an anisotropic support, in closed form
    [[plane.component]]   an order (or frequency_hz), forward and backward
  [[target]]        a straight motion: thrust collar, calibrator
  [[channel]]       how a probe is recorded: rate, noise, runout, its true curve
  [setup]           the setup of the capture

The same recipe gives the same samples again, to the last bit. The kind of file follows from the
ending of --out: .h5, .hdf5 or .csv. The recipe's setup goes inside; with setup_inside = false it is
written beside the capture, as NAME.toml. The recipes in sample_data/recipes are examples.

example:
  runtrue simulate sample_data/recipes/run_up.toml --out run_up.h5"""


def add_arguments(parser: argparse.ArgumentParser) -> None:
    """Options of `simulate`."""
    parser.epilog = _EPILOG
    parser.add_argument("recipe", metavar="RECIPE.toml", type=Path, help="what to make")
    parser.add_argument(
        "--out",
        metavar="FILE",
        type=Path,
        required=True,
        help="where to; a capture that is there is replaced when the new one is whole",
    )


def run(arguments: argparse.Namespace) -> int:
    """Make the capture and write it."""
    from analysis.files.atomic import refuse_same_file
    from analysis.files.setup_write import setup_to_toml
    from analysis.simulate.recipe import read_recipe
    from analysis.simulate.synthesis import simulate

    from .writing import check_writable, format_of, setup_beside, write_capture, write_text

    out: Path = arguments.out
    kind = format_of(out)
    recipe = read_recipe(arguments.recipe)
    refuse_same_file(arguments.recipe, out)
    check_writable(out)
    setup_toml = None if recipe.setup_inside else setup_to_toml(recipe.setup)
    beside = setup_beside(out, arguments.recipe, setup_toml)
    with TerminalProgress() as progress:
        capture = simulate(recipe, progress, name=out.name)
        write_capture(out, capture, kind, progress)
    if beside is not None and setup_toml is not None:
        write_text(beside, setup_toml)
        note(f"the setup stands beside {out.name}, in {beside}")
    return 0
