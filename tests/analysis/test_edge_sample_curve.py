"""The sample near the end of its range, read by its probe's curve: what had been guessed is seen.

Truth: the curve in the sample's recipe, with which its volts were made.
"""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest

from analysis.files.calibration_table import read_calibration_table
from analysis.files.open import open_capture
from analysis.files.setup_read import parse_setup
from analysis.rotor.revolutions import revolution_table
from analysis.simulate.recipe import read_recipe
from analysis.views.curve_effect import setup_with_curve
from analysis.views.position import (
    PositionRequest,
    PositionResult,
    answer_position,
    capture_position,
)

FOLDER = Path(__file__).parents[2] / "sample_data"
ROWS = read_calibration_table(FOLDER / "tables" / "nde_x_as_found.csv").rows


def answered(*, by_curve: bool, moment_s: float) -> PositionResult:
    capture = open_capture(FOLDER / "edge_of_range.h5")
    assert capture.setup_toml is not None
    setup, _ = parse_setup(capture.setup_toml, "sample")
    if by_curve:
        setup = setup_with_curve(setup, "NDE-X", ROWS)
    table = revolution_table(capture, setup, capture.span)
    whole = capture_position(capture, setup, table)
    return answer_position(capture, setup, PositionRequest(moment_s), whole)


def test_the_table_is_the_curve_that_the_sample_was_made_with() -> None:
    channels = read_recipe(FOLDER / "recipes" / "edge_of_range.toml").channel
    curve = np.array(next(each.curve for each in channels if each.probe == "NDE-X"))
    for gap_um, volts in ROWS:
        assert volts == pytest.approx(np.interp(gap_um, curve[:, 0], curve[:, 1]), abs=1e-3)


def test_what_the_straight_line_hid_is_what_the_curve_reads() -> None:
    straight = answered(by_curve=False, moment_s=17.87).probes["NDE-X"].moment_hidden
    assert straight is not None
    seen = answered(by_curve=True, moment_s=17.87).probes["NDE-X"].moment
    assert seen is not None
    assert seen.peak_to_peak_um > straight.read_um + 3.0
    assert seen.peak_to_peak_um == pytest.approx(
        straight.estimated_um, abs=2.0 * straight.deviation_um
    )


def test_the_local_slope_tells_how_much_is_missing() -> None:
    point = answered(by_curve=True, moment_s=17.87).probes["NDE-X"].working_point
    assert point is not None
    assert point.from_table
    # 2240 to 2270 µm in the recipe: 0.2232 V in 30 µm.
    assert point.local_mv_per_um == pytest.approx(223.0 / 30.0, abs=0.05)
    assert -6.5 < point.effect_percent < -4.0
