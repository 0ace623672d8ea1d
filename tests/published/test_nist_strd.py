"""Certified values of the NIST Statistical Reference Datasets.

Norris (calibration of ozone monitors), linear regression: `data/Norris.dat` is the file of
NIST/ITL StRD, public domain, **seen**; certified values are read out of it. The largest residual is
**computed** elsewhere. Univariate NumAcc1 to NumAcc4 are made by their own rule, **from memory**;
their certified values are exact by construction.
"""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest

from analysis.signal.straight_line import StraightLine, fit_straight_line
from analysis.views.readings import reading_of

NORRIS = (Path(__file__).parent / "data" / "Norris.dat").read_text().splitlines()
CERTIFIED_BLOCK = NORRIS[30:46]
DATA_BLOCK = NORRIS[60:96]


def certified(label: str) -> list[float]:
    line = next(line for line in CERTIFIED_BLOCK if line.strip().startswith(label))
    return [float(word) for word in line.split() if word[-1].isdigit() and "." in word]


def norris() -> tuple[np.ndarray, np.ndarray]:
    y, x = np.array([[float(word) for word in line.split()] for line in DATA_BLOCK]).T
    return x, y


@pytest.fixture
def line() -> StraightLine:
    return fit_straight_line(*norris())


def test_the_file_is_whole() -> None:
    x, _ = norris()
    assert len(x) == 36
    assert certified("B0") == [-0.262323073774029, 0.232818234301152]
    assert certified("B1") == [1.00211681802045, 0.429796848199937e-3]


def test_coefficients(line: StraightLine) -> None:
    intercept, intercept_sd = certified("B0")
    slope, slope_sd = certified("B1")
    assert line.slope == pytest.approx(slope, rel=2e-15 * 10)
    assert line.intercept == pytest.approx(intercept, rel=1e-12)
    assert line.slope_sd == pytest.approx(slope_sd, rel=1e-13)
    assert line.intercept_sd == pytest.approx(intercept_sd, rel=1e-13)


def test_residuals(line: StraightLine) -> None:
    (residual_sd,) = certified("Standard Deviation")
    (r_squared,) = certified("R-Squared")
    assert line.residual_sd == pytest.approx(residual_sd, rel=1e-13)
    assert line.r_squared == pytest.approx(r_squared, abs=1e-14)
    assert abs(line.largest_residual) == pytest.approx(2.35237812865986, rel=1e-12)
    x, y = norris()
    left = line.residuals(x, y)
    assert np.max(np.abs(left)) == pytest.approx(2.35237812865986, rel=1e-12)
    assert left[np.argmax(np.abs(left))] == pytest.approx(line.largest_residual)


def test_far_from_zero_no_digits_are_lost() -> None:
    """The same data moved by 2²⁰ (exact in binary but for the last digits of the data)."""
    x, y = norris()
    far = 2.0**20
    line = fit_straight_line(x + far, y)
    slope, slope_sd = certified("B1")
    assert line.slope == pytest.approx(slope, rel=1e-11)
    assert line.slope_sd == pytest.approx(slope_sd, rel=1e-10)
    assert line.at(x + far) == pytest.approx(fit_straight_line(x, y).at(x), abs=1e-8)


@pytest.mark.parametrize(
    ("x", "y"),
    [
        ([1.0], [2.0]),
        ([1.0, 1.0, 1.0], [1.0, 2.0, 3.0]),
        ([1.0, 2.0], [1.0, float("nan")]),
        ([1.0, 2.0], [1.0]),
    ],
)
def test_what_leaves_a_slope_open_is_refused(x: list[float], y: list[float]) -> None:
    with pytest.raises(ValueError, match="straight line needs"):
        fit_straight_line(np.array(x), np.array(y))


def test_two_points_tell_no_scatter() -> None:
    line = fit_straight_line(np.array([1.0, 3.0]), np.array([5.0, 5.0]))
    assert (line.slope, line.intercept) == (0.0, 5.0)
    assert line.slope_sd is line.intercept_sd is line.residual_sd is None
    assert line.r_squared is None


NUM_ACC = {
    "NumAcc1": ([10_000_001.0, 10_000_003.0, 10_000_002.0], 10_000_002.0, 1.0, 1e-14),
    "NumAcc2": ([1.2] + 500 * [1.1, 1.3], 1.2, 0.1, 1e-13),
    "NumAcc3": ([1_000_000.2] + 500 * [1_000_000.1, 1_000_000.3], 1_000_000.2, 0.1, 2e-9),
    "NumAcc4": ([10_000_000.2] + 500 * [10_000_000.1, 10_000_000.3], 10_000_000.2, 0.1, 2e-8),
}


@pytest.mark.parametrize("name", NUM_ACC)
def test_mean_and_scatter_of_readings(name: str) -> None:
    """Scatter of values that differ in the last digits; 0.1 itself has no exact binary form."""
    values, mean, sd, digits = NUM_ACC[name]
    reading = reading_of(np.array(values))
    assert reading is not None
    assert reading.value == pytest.approx(mean, rel=1e-14)
    assert reading.scatter == pytest.approx(sd, rel=digits)
