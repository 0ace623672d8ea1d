"""What a table of calibration tells: increments, average factor, straightness, usable range.

Source: the quantities are those of API 670, 5th edition (2014), Table 1 and its calibration curve,
from memory; the tolerances are defaults that can be changed (`CalibrationTolerances`). The
straight line with its slope held at the nominal factor is laid by the least largest deviation; the
standard's own choice of fit is not known here, so the least-squares line stands beside it.
"""

from __future__ import annotations

from itertools import pairwise
from typing import Final

import numpy as np
from numpy.typing import NDArray

from analysis.model.calibration_entries import CalibrationTolerances
from analysis.model.calibration_results import (
    CalibrationFigures,
    CalibrationLine,
    CalibrationTable,
    Increment,
    RowDeviation,
)
from analysis.model.units import LengthUnit
from analysis.signal.straight_line import fit_straight_line

from .words import failures, remarks

Floats = NDArray[np.float64]

_OUTSIDE_SHARE: Final = 0.2
"""An increment belongs to the testing range while no more than this share of it is outside: so a
table in steps of 250 µm is judged from its row at 250 on, and not up to that at 2500."""
_ROUNDING: Final = 1e-9
"""A value that lies on its tolerance but for the rounding of binary numbers is within it."""
_ALIKE_UM: Final = 1e-6


def calibration_figures(
    table: CalibrationTable,
    tolerances: CalibrationTolerances | None = None,
    *,
    unit: LengthUnit = LengthUnit.UM,
) -> CalibrationFigures:
    """Judge a table of calibration.

    Args:
        table: at least three rows, gaps rising, volts falling.
        tolerances: what it is judged against; the defaults when not given.
        unit: the unit that lengths in `reasons` and `remarks` are written in.

    Raises:
        ValueError: fewer than three rows, or rows that are not in order.
    """
    tolerances = tolerances or CalibrationTolerances()
    gaps, volts = _arrays(table)
    increments = _increments(gaps, volts, tolerances)
    judged = np.zeros(len(gaps), dtype=bool)
    for index, increment in enumerate(increments):
        if increment.judged:
            judged[index : index + 2] = True
    held = best_fit = average = error = span = None
    if judged.any():
        held = held_line(gaps[judged], volts[judged], tolerances.nominal_mv_per_um)
        best_fit = best_fit_line(gaps[judged], volts[judged])
        average = average_factor(gaps, volts, tolerances.testing_range_um)
        error = 100.0 * (average / tolerances.nominal_mv_per_um - 1.0)
        span = (float(gaps[judged][0]), float(gaps[judged][-1]))
    usable = usable_range(gaps, volts, increments, tolerances)
    draft = CalibrationFigures(
        table=table,
        tolerances=tolerances,
        average_mv_per_um=average,
        average_error_percent=error,
        increments=increments,
        deviations=_deviations(gaps, volts, judged, held, best_fit),
        judged_range_um=span,
        held=held,
        best_fit=best_fit,
        usable_range_um=usable,
        verdict="pass",
        reasons=(),
    )
    reasons = failures(draft, unit)
    return CalibrationFigures(
        **{
            **vars(draft),
            "verdict": "fail" if reasons else "pass",
            "reasons": reasons,
            "remarks": remarks(draft, unit),
        }
    )


def average_factor(gaps: Floats, volts: Floats, testing_range_um: tuple[float, float]) -> float:
    """Average scale factor in mV/µm between the ends of the testing range, or of the table.

    Volts at an end that is no row are interpolated.
    """
    low = max(testing_range_um[0], float(gaps[0]))
    high = min(testing_range_um[1], float(gaps[-1]))
    if not low < high:
        raise ValueError("the table and the testing range do not meet")
    at_low, at_high = np.interp([low, high], gaps, volts)
    return float((at_low - at_high) / (high - low) * 1000.0)


def held_line(gaps: Floats, volts: Floats, factor_mv_per_um: float) -> CalibrationLine:
    """The line of a given slope whose largest deviation from the points is least (minimax).

    With `k` the factor in V/µm, the offset is the mean of the largest and the smallest `V + k g`.
    """
    factor = factor_mv_per_um / 1000.0
    level = volts + factor * gaps
    offset = float(level.max() + level.min()) / 2.0
    return _line(gaps, volts, factor, offset)


def best_fit_line(gaps: Floats, volts: Floats) -> CalibrationLine:
    """The least-squares line of volts on gap, all the error taken to be in the volts."""
    fit = fit_straight_line(gaps, volts)
    return _line(gaps, volts, -fit.slope, fit.intercept)


def usable_range(
    gaps: Floats,
    volts: Floats,
    increments: tuple[Increment, ...],
    tolerances: CalibrationTolerances,
) -> tuple[float, float] | None:
    """The longest run of rows with every increment, and the run's own held line, within tolerance.

    Of two that are equally long the one at smaller gaps. `None` when no increment is within.
    """
    level = (volts + tolerances.nominal_mv_per_um / 1000.0 * gaps) / tolerances.nominal_mv_per_um
    level = level * 1000.0  # µm
    allowed = 2.0 * tolerances.deviation_um * (1.0 + _ROUNDING) + _ROUNDING
    best: tuple[float, float] | None = None
    for first in range(len(gaps) - 1):
        if best is not None and gaps[-1] - gaps[first] <= best[1] - best[0]:
            break
        low = high = level[first]
        last = first
        while last < len(increments) and increments[last].within:
            low, high = min(low, level[last + 1]), max(high, level[last + 1])
            if high - low > allowed:
                break
            last += 1
        # Rounding in mil must not make a later run of the same length the longer one.
        if last > first and (best is None or gaps[last] - gaps[first] > best[1] - best[0] + 1e-6):
            best = (float(gaps[first]), float(gaps[last]))
    return best


def deviations_um(gaps: Floats, volts: Floats, line: CalibrationLine) -> Floats:
    """Distance of points from a line as a length, µm; positive where volts are less negative."""
    factor = line.scale_factor_mv_per_um / 1000.0
    out: Floats = (volts + factor * gaps - line.offset_v) / factor
    return out


def _line(gaps: Floats, volts: Floats, factor: float, offset: float) -> CalibrationLine:
    distance = (volts + factor * gaps - offset) / factor
    deviation = float(np.abs(distance).max())
    ends = (int(np.argmin(distance)), int(np.argmax(distance)))
    worst = [float(gaps[i]) for i in ends if abs(distance[i]) >= deviation - _ALIKE_UM]
    return CalibrationLine(
        scale_factor_mv_per_um=factor * 1000.0,
        offset_v=offset,
        deviation_um=deviation,
        deviation_at_um=tuple(sorted(set(worst))),
    )


def _arrays(table: CalibrationTable) -> tuple[Floats, Floats]:
    rows = np.array(table.rows, dtype=np.float64)
    if rows.ndim != 2 or len(rows) < 3:
        raise ValueError("a calibration table has three rows or more")
    gaps, volts = rows.T
    if not (np.isfinite(rows).all() and (np.diff(gaps) > 0.0).all() and (np.diff(volts) < 0).all()):
        raise ValueError("gaps must rise and volts must fall from row to row")
    return gaps, volts


def _increments(
    gaps: Floats, volts: Floats, tolerances: CalibrationTolerances
) -> tuple[Increment, ...]:
    low, high = tolerances.testing_range_um
    out = []
    for (gap_a, volts_a), (gap_b, volts_b) in pairwise(zip(gaps, volts, strict=True)):
        factor = float((volts_a - volts_b) / (gap_b - gap_a)) * 1000.0
        error = 100.0 * (factor / tolerances.nominal_mv_per_um - 1.0)
        inside = min(gap_b, high) - max(gap_a, low)
        out.append(
            Increment(
                low_um=float(gap_a),
                gap_um=float(gap_b),
                scale_factor_mv_per_um=factor,
                error_percent=error,
                judged=bool(inside >= (1.0 - _OUTSIDE_SHARE) * (gap_b - gap_a)),
                within=abs(error) <= tolerances.increment_percent + _ROUNDING * 100.0,
            )
        )
    return tuple(out)


def _deviations(
    gaps: Floats,
    volts: Floats,
    judged: NDArray[np.bool_],
    held: CalibrationLine | None,
    best_fit: CalibrationLine | None,
) -> tuple[RowDeviation, ...]:
    if held is None or best_fit is None:
        return ()
    from_held = deviations_um(gaps, volts, held)
    from_best = deviations_um(gaps, volts, best_fit)
    return tuple(
        RowDeviation(float(gap), float(v), float(a), float(b), bool(is_judged))
        for gap, v, a, b, is_judged in zip(gaps, volts, from_held, from_best, judged, strict=True)
    )
