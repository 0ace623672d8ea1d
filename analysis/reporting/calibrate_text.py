"""A calibration as text for people: the table, its figures, the verdict and its reasons."""

from __future__ import annotations

from analysis.calibration.words import TARGET_CAUTION, factor_text, length_text, places_text
from analysis.model.calibration_results import (
    CalibrationFigures,
    CalibrationLine,
    TableComparison,
)
from analysis.model.units import LengthUnit

from .caution import CAUTION
from .text_table import text_table

_DASH = "-"


def calibrate_text(
    figures: CalibrationFigures,
    comparison: TableComparison | None = None,
    *,
    unit: LengthUnit = LengthUnit.UM,
) -> str:
    """Figures of a calibration; lengths and factors in `unit`. Ends with a line break.

    `comparison`: the same chain as found, whose table is set beside this one.
    """
    blocks = [_head(figures, unit), _rows(figures, unit), _summary(figures, unit)]
    verdict = [f"Verdict  {figures.verdict.upper()}", *figures.reasons]
    blocks.append([verdict[0], *(f"  {reason}" for reason in verdict[1:])])
    if comparison is not None:
        blocks.append(_changes(comparison, unit))
    blocks.append([f"Note: {remark}" for remark in figures.remarks])
    blocks.append([TARGET_CAUTION, CAUTION])
    return "\n\n".join("\n".join(block) for block in blocks if block) + "\n"


def setup_line(figures: CalibrationFigures) -> str:
    """The table as the line `calibration = …` of a probe in a setup; gaps in µm."""
    rows = ", ".join(f"[{gap:.10g}, {volts:.10g}]" for gap, volts in _rounded(figures))
    return f"calibration = [{rows}]\n"


def _rounded(figures: CalibrationFigures) -> list[tuple[float, float]]:
    return [(round(gap, 3), round(volts, 5)) for gap, volts in figures.table.rows]


def _head(figures: CalibrationFigures, unit: LengthUnit) -> list[str]:
    rows, tolerances = figures.table.rows, figures.tolerances
    low, high = (length_text(end, unit) for end in tolerances.testing_range_um)
    return [
        f"Table    {figures.table.source}: {len(rows)} rows from {length_text(rows[0][0], unit)} "
        f"to {length_text(rows[-1][0], unit)}",
        f"Against  {factor_text(tolerances.nominal_mv_per_um, unit)} "
        f"±{tolerances.increment_percent:g} % at every increment, "
        f"±{length_text(tolerances.deviation_um, unit, 1)} from a straight line, "
        f"{low} to {high}",
        f"         {tolerances.edition}",
    ]


def _rows(figures: CalibrationFigures, unit: LengthUnit) -> list[str]:
    """One line a row; the increment is the one that ends there. `*`: beyond tolerance."""
    name, per = unit.value, "mV/mil" if unit is LengthUnit.MIL else "mV/µm"
    head = [f"Gap, {name}", "Volts", f"Factor, {per}", "Error, %", f"Held, {name}", f"Fit, {name}"]
    increments = (None, *figures.increments)
    deviations = figures.deviations or (None,) * len(figures.table.rows)
    allowed = figures.tolerances.deviation_um * (1.0 + 1e-9)
    lines = []
    for (gap, volts), increment, deviation in zip(
        figures.table.rows, increments, deviations, strict=True
    ):
        cells = [f"{gap * unit.per_um:.{unit.decimals - 1}f}", f"{volts:.3f}"]
        if increment is None:
            cells += [_DASH, _DASH]
        else:
            factor = factor_text(increment.scale_factor_mv_per_um, unit, name_unit=False)
            mark = " " if increment.within else "*"
            cells += [factor, f"{increment.error_percent:+z.1f}{mark}"]
        if deviation is None:
            cells += [_DASH, _DASH]
        else:
            mark = " " if abs(deviation.held_um) <= allowed else "*"
            cells += [
                f"{deviation.held_um * unit.per_um:+z.{unit.decimals}f}{mark}",
                f"{deviation.best_fit_um * unit.per_um:+z.{unit.decimals}f}",
            ]
        if increment is not None and not increment.judged:
            cells[3] = f"({cells[3].strip()})"
        lines.append(cells)
    return [
        *text_table(head, lines),
        "* beyond tolerance; in brackets: outside the testing range, not judged",
    ]


def _summary(figures: CalibrationFigures, unit: LengthUnit) -> list[str]:
    average, error = figures.average_mv_per_um, figures.average_error_percent
    rows = []
    if average is not None and error is not None:
        rows.append(f"Average factor   {factor_text(average, unit)} ({error:+z.1f} %)")
    if figures.held is not None and figures.best_fit is not None:
        rows.append("Slope held       " + _line_text(figures.held, unit))
        rows.append("Best fit         " + _line_text(figures.best_fit, unit))
    usable = "none"
    if figures.usable_range_um is not None:
        low, high = figures.usable_range_um
        usable = (
            f"{length_text(low, unit)} to {length_text(high, unit)} "
            f"({length_text(high - low, unit)})"
        )
    rows.append(f"Usable range     {usable}")
    return rows


def _line_text(line: CalibrationLine, unit: LengthUnit) -> str:
    return (
        f"{factor_text(line.scale_factor_mv_per_um, unit)}, deviation up to "
        f"{length_text(line.deviation_um, unit, 1)} at {places_text(line, unit)}"
    )


def _changes(comparison: TableComparison, unit: LengthUnit) -> list[str]:
    head = [f"Gap, {unit.value}", "As found, V", "As left, V", f"Change, {unit.value}"]
    rows = [
        [
            f"{row.gap_um * unit.per_um:.{unit.decimals - 1}f}",
            f"{row.found_v:.3f}",
            f"{row.left_v:.3f}",
            f"{row.change_um * unit.per_um:+z.{unit.decimals}f}",
        ]
        for row in comparison.rows
    ]
    average = comparison.average_change_percent
    change = "" if average is None else f", average factor {average:+z.1f} %"
    worst = comparison.worst
    return [
        *text_table(head, rows),
        f"As found {comparison.found_verdict}, as left {comparison.left_verdict}{change}; "
        f"gaps read differently by up to {length_text(abs(worst.change_um), unit, 1)}, "
        f"at {length_text(worst.gap_um, unit)}",
    ]
