"""The JSON of `calibrate` (contract, section 6) as plain data; lengths are µm.

Beside the keys of the contract there are, all of them free to be left unread:

- top: `table`, `average_error_percent`, `judged_range_um`, `best_fit` (factor and deviation of the
  least-squares line), `tolerances`, `rows` (deviation of every row from both lines), `notices`, and
  `as_found` where another table was given (changes from it to this one);
- an increment: `from_um` its lower end (`gap_um` is its upper one), `judged` whether it lies in the
  testing range, `within` whether it keeps the tolerance.
"""

from __future__ import annotations

from typing import Any

from analysis.model.calibration_results import (
    CalibrationFigures,
    CalibrationLine,
    TableComparison,
)


def calibrate_document(
    figures: CalibrationFigures, comparison: TableComparison | None = None
) -> dict[str, Any]:
    """Figures of a calibration as the object that `calibrate --json` prints.

    What cannot be told is `None`: average and deviation where no increment is in the testing range,
    the linear range where no increment is within tolerance.
    """
    held, tolerances = figures.held, figures.tolerances
    document: dict[str, Any] = {
        "table": figures.table.source,
        "average_scale_factor_mv_per_um": figures.average_mv_per_um,
        "average_error_percent": figures.average_error_percent,
        "incremental": [
            {
                "gap_um": increment.gap_um,
                "scale_factor_mv_per_um": increment.scale_factor_mv_per_um,
                "error_percent": increment.error_percent,
                "from_um": increment.low_um,
                "judged": increment.judged,
                "within": increment.within,
            }
            for increment in figures.increments
        ],
        "straight_line_deviation_um": None if held is None else held.deviation_um,
        "linear_range_um": _pair(figures.usable_range_um),
        "verdict": figures.verdict,
        "reasons": list(figures.reasons),
        "judged_range_um": _pair(figures.judged_range_um),
        "best_fit": _line(figures.best_fit),
        "tolerances": {
            "nominal_mv_per_um": tolerances.nominal_mv_per_um,
            "increment_percent": tolerances.increment_percent,
            "deviation_um": tolerances.deviation_um,
            "testing_range_um": _pair(tolerances.testing_range_um),
            "least_range_um": tolerances.least_range_um,
            "edition": tolerances.edition,
        },
        "rows": [
            {
                "gap_um": row.gap_um,
                "volts": row.volts,
                "deviation_um": row.held_um,
                "best_fit_deviation_um": row.best_fit_um,
                "judged": row.judged,
            }
            for row in figures.deviations
        ],
        "notices": list(figures.remarks),
    }
    if comparison is not None:
        document["as_found"] = _comparison(comparison)
    return document


def _pair(ends: tuple[float, float] | None) -> list[float] | None:
    return None if ends is None else list(ends)


def _line(line: CalibrationLine | None) -> dict[str, float] | None:
    if line is None:
        return None
    return {
        "scale_factor_mv_per_um": line.scale_factor_mv_per_um,
        "straight_line_deviation_um": line.deviation_um,
    }


def _comparison(comparison: TableComparison) -> dict[str, Any]:
    return {
        "verdict": comparison.found_verdict,
        "average_change_percent": comparison.average_change_percent,
        "largest_change_um": comparison.worst.change_um,
        "largest_change_at_um": comparison.worst.gap_um,
        "rows": [
            {
                "gap_um": row.gap_um,
                "as_found_v": row.found_v,
                "as_left_v": row.left_v,
                "change_um": row.change_um,
            }
            for row in comparison.rows
        ],
    }
