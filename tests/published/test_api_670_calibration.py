"""Incremental and average scale factor, and the deviation from a straight line.

Source: API 670, 5th edition (2014), Table 1 and its calibration curve, definitions and tolerances
**from memory**; 200 mV/mil is **seen** as typical in a reference article, and printed as
7.87 mV/µm. What the definitions make of made-up rows is **computed**: by hand for the increments,
and by scipy's linear programming and regression for the lines, independently of our own code.
"""

from __future__ import annotations

import numpy as np
import pytest
from scipy.optimize import linprog
from scipy.stats import linregress

from analysis.calibration.figures import (
    best_fit_line,
    calibration_figures,
    deviations_um,
    held_line,
)
from analysis.model.calibration_entries import (
    NOMINAL_MV_PER_UM,
    OPERATING_RANGE,
    CalibrationTolerances,
)
from analysis.model.calibration_results import CalibrationTable
from tests.published.test_nist_strd import certified, norris

MIL = 25.4
ISF = (197.0, 201.0, 203.0, 204.0, 203.0, 200.0, 196.0, 191.0)
"""mV/mil from 10 to 90 mil in steps of 10 mil."""


def table_of(isf: tuple[float, ...], first_mil: float = 10.0) -> CalibrationTable:
    volts = -2.0 - np.cumsum([0.0, *isf]) * 10.0 / 1000.0
    gaps = (first_mil + 10.0 * np.arange(len(volts))) * MIL
    return CalibrationTable(tuple(zip(gaps.tolist(), volts.tolist(), strict=True)))


def arrays(table: CalibrationTable) -> tuple[np.ndarray, np.ndarray]:
    gaps, volts = np.array(table.rows).T
    return gaps, volts


def test_defaults_are_the_table() -> None:
    """200 mV/mil, ±5 %, ±1 mil, 10 to 90 mil, 2 mm; ±10 %, ±3 mil for the operating range."""
    tolerances = CalibrationTolerances()
    assert tolerances.nominal_mv_per_um == pytest.approx(7.8740, abs=5e-5)
    assert tolerances.increment_percent == 5.0
    assert tolerances.deviation_um == pytest.approx(25.4)
    assert tolerances.testing_range_um == pytest.approx((254.0, 2286.0))
    assert tolerances.least_range_um == 2000.0
    assert OPERATING_RANGE.increment_percent == 10.0
    assert OPERATING_RANGE.deviation_um == pytest.approx(76.2)
    assert "from memory" in tolerances.edition
    assert "from memory" in OPERATING_RANGE.edition


def test_increments_and_average() -> None:
    """ISF_n = |V_n - V_(n-1)| / 10 mil, error against 200; ASF = |V(90) - V(10)| / 80 mil."""
    figures = calibration_figures(table_of(ISF))
    found = [i.scale_factor_mv_per_um * MIL for i in figures.increments]
    assert found == pytest.approx(ISF)
    errors = [-1.5, 0.5, 1.5, 2.0, 1.5, 0.0, -2.0, -4.5]
    assert [i.error_percent for i in figures.increments] == pytest.approx(errors, abs=1e-9)
    assert [i.gap_um / MIL for i in figures.increments] == pytest.approx(list(range(20, 91, 10)))
    assert figures.average_mv_per_um is not None
    assert figures.average_mv_per_um * MIL == pytest.approx(199.375)  # 15.95 V over 80 mil
    assert figures.average_error_percent == pytest.approx(-0.3125)
    assert figures.verdict == "pass"


@pytest.mark.parametrize(
    ("isf", "within"),
    [(190.0, True), (210.0, True), (189.9, False), (210.1, False)],
)
def test_testing_range_is_190_to_210(isf: float, within: bool) -> None:
    figures = calibration_figures(table_of((*ISF[:4], isf, *ISF[5:])))
    assert figures.increments[4].within is within
    assert (figures.verdict == "pass") is within


@pytest.mark.parametrize(("isf", "within"), [(180.0, True), (220.0, True), (179.9, False)])
def test_operating_range_is_180_to_220(isf: float, within: bool) -> None:
    figures = calibration_figures(table_of((*ISF[:4], isf, *ISF[5:])), OPERATING_RANGE)
    assert figures.increments[4].within is within


def test_deviation_with_the_slope_held() -> None:
    """V + k g of the rows, from the sums of (200 - ISF) · 10 mil, by hand.

    0, 30, 20, -10, -50, -80, -80, -40, 50 mV: from -80 to 50 are 130 mV, half of it is 65 mV or
    0.325 mil, 8.255 µm; the middle is -15 mV.
    """
    gaps, volts = arrays(table_of(ISF))
    line = held_line(gaps, volts, NOMINAL_MV_PER_UM)
    assert line.deviation_um == pytest.approx(8.255, abs=1e-9)
    assert line.deviation_at_um == pytest.approx((60 * MIL, 90 * MIL))
    assert deviations_um(gaps, volts, line)[0] == pytest.approx(0.015 / 0.2 * MIL, abs=1e-9)


@pytest.mark.parametrize("seed", range(8))
def test_held_line_is_the_minimax_of_linear_programming(seed: int) -> None:
    """Least t with |V + k g - c| <= t over all rows, solved by scipy's `linprog`."""
    random = np.random.default_rng(seed)
    gaps = np.cumsum(random.uniform(50.0, 300.0, 12))
    volts = -gaps * NOMINAL_MV_PER_UM / 1000.0 - 0.3 + random.normal(0.0, 0.1, 12)
    level = volts + gaps * NOMINAL_MV_PER_UM / 1000.0
    one = np.ones_like(level)
    solved = linprog(
        [0.0, 1.0],
        A_ub=np.vstack([np.column_stack([-one, -one]), np.column_stack([one, -one])]),
        b_ub=np.concatenate([-level, level]),
        bounds=[(None, None), (0.0, None)],
    )
    line = held_line(gaps, volts, NOMINAL_MV_PER_UM)
    assert line.offset_v == pytest.approx(solved.x[0], abs=1e-9)
    assert line.deviation_um == pytest.approx(solved.x[1] / NOMINAL_MV_PER_UM * 1000.0, abs=1e-6)


def test_best_fit_is_the_regression_of_scipy() -> None:
    gaps, volts = arrays(table_of(ISF))
    known = linregress(gaps, volts)
    line = best_fit_line(gaps, volts)
    assert line.scale_factor_mv_per_um == pytest.approx(-known.slope * 1000.0, rel=1e-12)
    assert line.offset_v == pytest.approx(known.intercept, rel=1e-12)
    left = volts - known.intercept - known.slope * gaps
    assert line.deviation_um == pytest.approx(np.abs(left).max() / -known.slope, rel=1e-9)
    # On another choice of fit another deviation: both are told.
    assert line.deviation_um != pytest.approx(
        held_line(gaps, volts, NOMINAL_MV_PER_UM).deviation_um
    )


def test_best_fit_on_norris() -> None:
    """NIST StRD Norris as a chain: ozone for gap, the reading with its sign turned for volts.

    Slope and intercept are certified; the largest residual, 2.35237812865986, is **computed**.
    """
    x, y = norris()
    order = np.argsort(x, kind="stable")
    line = best_fit_line(x[order], -y[order])
    assert line.scale_factor_mv_per_um / 1000.0 == pytest.approx(certified("B1")[0], rel=2e-14)
    assert line.offset_v == pytest.approx(-certified("B0")[0], rel=1e-12)
    assert line.deviation_um * certified("B1")[0] == pytest.approx(2.35237812865986, rel=1e-11)


@pytest.mark.parametrize(("rise_mil", "verdict"), [(0.99, "pass"), (1.01, "fail")])
def test_deviation_of_one_mil(rise_mil: float, verdict: str) -> None:
    """Every increment 2.5 % off, half of what is allowed: over 80 mil that is 2 mil, ±1 mil."""
    figures = calibration_figures(table_of((200.0 * (1.0 - 2.0 * rise_mil / 80.0),) * 8))
    assert figures.held is not None
    assert all(i.within for i in figures.increments)
    assert figures.held.deviation_um == pytest.approx(rise_mil * MIL)
    assert figures.verdict == verdict
