"""Why a calibration fails, and what may be behind it, as sentences."""

from __future__ import annotations

from itertools import groupby
from typing import Final

from analysis.model.calibration_results import CalibrationFigures, CalibrationLine, Increment
from analysis.model.units import UM_PER_MIL, LengthUnit

_ALIKE_PERCENT: Final = 3.0
_COVERED_SHARE: Final = 0.95
_ROUNDING: Final = 1e-9

TARGET_CAUTION: Final = (
    "A scale factor holds for one target material, one probe with its own cable and driver, and "
    "the temperature of the check."
)
"""Common practice; the size of the effect is the maker's figure."""


def length_text(value_um: float, unit: LengthUnit, decimals: int = 0) -> str:
    """A gap or a length with its unit; mil gets one decimal more."""
    if unit is LengthUnit.MIL:
        return f"{value_um * unit.per_um:.{decimals + 1}f} {unit.value}"
    return f"{value_um:.{decimals}f} {unit.value}"


def factor_text(mv_per_um: float, unit: LengthUnit, *, name_unit: bool = True) -> str:
    """A scale factor: 7.874 mV/µm, or 200.0 mV/mil."""
    if unit is LengthUnit.MIL:
        return f"{mv_per_um * UM_PER_MIL:.1f}" + (" mV/mil" if name_unit else "")
    return f"{mv_per_um:.3f}" + (" mV/µm" if name_unit else "")


def places_text(line: CalibrationLine, unit: LengthUnit) -> str:
    """Where rows are furthest from a line: `250 µm and 2250 µm`."""
    return " and ".join(length_text(gap, unit) for gap in line.deviation_at_um)


def failures(figures: CalibrationFigures, unit: LengthUnit) -> tuple[str, ...]:
    """What is beyond tolerance, one sentence each; empty for a pass."""
    tolerances = figures.tolerances
    low, high = (length_text(end, unit) for end in tolerances.testing_range_um)
    if figures.held is None:
        return (f"The table has no increment within the testing range of {low} to {high}.",)
    out = []
    judged = [increment for increment in figures.increments if increment.judged]
    for (beyond, _), run in groupby(judged, key=lambda i: (not i.within, i.error_percent > 0.0)):
        if beyond:
            out.append(_increments_text(list(run), figures, unit))
    held = figures.held
    if held.deviation_um > tolerances.deviation_um * (1.0 + _ROUNDING) + _ROUNDING:
        where = places_text(held, unit)
        out.append(
            f"The deviation from the straight line reaches "
            f"{length_text(held.deviation_um, unit, 1)} at {where}"
            f" ({length_text(tolerances.deviation_um, unit, 1)} allowed, slope held at "
            f"{factor_text(tolerances.nominal_mv_per_um, unit)})."
        )
    wanted = length_text(tolerances.least_range_um, unit)
    if figures.usable_range_um is None:
        out.append(f"There is no usable range: no increment is within tolerance ({wanted} wanted).")
        return tuple(out)
    start, end = figures.usable_range_um
    if end - start < tolerances.least_range_um - 1e-6:
        out.append(
            f"The usable range is {length_text(end - start, unit)}, "
            f"from {length_text(start, unit)} to {length_text(end, unit)} ({wanted} wanted)."
        )
    return tuple(out)


def remarks(figures: CalibrationFigures, unit: LengthUnit) -> tuple[str, ...]:
    """What helps to understand the figures: what was not judged, what an error may come from."""
    out = list(figures.table.notices)
    if figures.judged_range_um is not None:
        low, high = figures.tolerances.testing_range_um
        start, end = figures.judged_range_um
        if min(end, high) - max(start, low) < _COVERED_SHARE * (high - low):
            out.append(
                f"The rows stand for {length_text(start, unit)} to {length_text(end, unit)} of the "
                f"testing range of {length_text(low, unit)} to {length_text(high, unit)}; the rest "
                "is not judged."
            )
    other = _another_factor(figures, unit)
    return (*out, other) if other else tuple(out)


def _increments_text(run: list[Increment], figures: CalibrationFigures, unit: LengthUnit) -> str:
    nominal, allowed = figures.tolerances.nominal_mv_per_um, figures.tolerances.increment_percent
    side = "above" if run[0].error_percent > 0.0 else "below"
    where = f"from {length_text(run[0].low_um, unit)} to {length_text(run[-1].gap_um, unit)}"
    tail = f"{side} {factor_text(nominal, unit)} ({allowed:g} % allowed)."
    if len(run) == 1:
        factor = factor_text(run[0].scale_factor_mv_per_um, unit)
        return f"The increment {where} gives {factor}, {abs(run[0].error_percent):.1f} % {tail}"
    worst = max(run, key=lambda increment: abs(increment.error_percent))
    factors = sorted(increment.scale_factor_mv_per_um for increment in run)
    return (
        f"The {len(run)} increments {where} give {factor_text(factors[0], unit, name_unit=False)} "
        f"to {factor_text(factors[-1], unit)}, up to {abs(worst.error_percent):.1f} % {tail}"
    )


def _another_factor(figures: CalibrationFigures, unit: LengthUnit) -> str:
    """Straight, but at another factor: a word on what does that."""
    judged = [i for i in figures.increments if i.judged]
    average = figures.average_mv_per_um
    if average is None or len(judged) < 2 or all(i.within for i in judged):
        return ""
    apart = [100.0 * abs(i.scale_factor_mv_per_um / average - 1.0) for i in judged]
    if max(apart) > _ALIKE_PERCENT:
        return ""
    return (
        f"The increments agree within {max(apart):.1f} % of their average of "
        f"{factor_text(average, unit)}: the chain is straight, at another factor. Another target "
        "material, another length of cable or another nominal factor does that."
    )
