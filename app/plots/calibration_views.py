"""From judged tables to what their pictures show."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING

from analysis.calibration.words import factor_text, length_text
from analysis.model.calibration_results import CalibrationFigures, Increment
from analysis.model.units import LengthUnit

from .gap_views import ChartView, Level, Series, Zone

if TYPE_CHECKING:
    from analysis.views.probe_check import CheckAnswer, Stage

Staged = tuple["Stage", CalibrationFigures, int | None]


def curve_view(answer: CheckAnswer, probe_index: int) -> ChartView | None:
    """Volts against gap, as found and as left."""
    staged = _staged(answer, probe_index)
    if not staged:
        return None
    series = tuple(
        Series(
            stage,
            tuple(gap for gap, _ in figures.table.rows),
            tuple(volts for _, volts in figures.table.rows),
            ink,
            slopes=_slopes(figures),
        )
        for stage, figures, ink in staged
    )
    words = {unit.value: _average_words(staged[-1][1], unit) for unit in LengthUnit}
    return ChartView(series, (), _zones(staged), x_ends=_ends(staged), words=words)


def increments_view(answer: CheckAnswer, probe_index: int) -> ChartView | None:
    """The factor of each increment as a level stretch, at its middle a mark."""
    staged = _staged(answer, probe_index)
    if not staged:
        return None
    tolerances = answer.request.tolerances
    nominal, share = tolerances.nominal_mv_per_um, tolerances.increment_percent / 100.0
    series = tuple(
        Series(
            stage,
            tuple((i.low_um + i.gap_um) / 2.0 for i in figures.increments),
            tuple(i.scale_factor_mv_per_um for i in figures.increments),
            ink,
            beyond=tuple(i.judged and not i.within for i in figures.increments),
        )
        for stage, figures, ink in staged
    )
    levels = (
        Level(nominal, "nominal", tolerance=False),
        Level(nominal * (1 + share), f"+{tolerances.increment_percent:g} %"),
        Level(nominal * (1 - share), f"−{tolerances.increment_percent:g} %"),
    )
    worst = _worst(staged[-1][1])
    words = ""
    if worst is not None:
        words = f"largest error {worst.error_percent:+.1f} %".replace("-", "−")
    told = {unit.value: words for unit in LengthUnit}
    return ChartView(series, levels, _judged(staged), x_ends=_ends(staged), words=told)


def deviation_view(
    answer: CheckAnswer, probe_index: int, stage: Stage = "as left"
) -> ChartView | None:
    """Deviation from the line with its slope held; of the stage looked at from the best fit, too.

    Two best fits as well would be more lines than a small picture has room to name.
    """
    looked_at = answer.looked_at(stage)
    staged = [each for each in _staged(answer, probe_index) if each[1].deviations]
    if not staged:
        return None
    allowed = answer.request.tolerances.deviation_um
    series: list[Series] = []
    for each, figures, ink in staged:
        several = len(staged) > 1
        fitted = looked_at is None or each == looked_at[0] or not several
        name = (f"{each}, slope held" if fitted else each) if several else "slope held"
        # Outside the testing range nothing is judged, and a tail there would hide the rest.
        rows = [row for row in figures.deviations if row.judged]
        x = tuple(row.gap_um for row in rows)
        held = tuple(row.held_um for row in rows)
        beyond = tuple(abs(value) > allowed * (1.0 + 1e-9) for value in held)
        series.append(Series(name, x, held, ink, beyond=beyond))
        if not fitted:
            continue
        fit_name = f"{each}, best fit" if several else "best fit"
        fit = tuple(row.best_fit_um for row in rows)
        series.append(Series(fit_name, x, fit, ink, dashed=True, marks=False))
    levels = (Level(0.0, tolerance=False), Level(allowed, "allowed"), Level(-allowed, "allowed"))
    words = {unit.value: _held_words(staged[-1][1], unit) for unit in LengthUnit}
    return ChartView(tuple(series), levels, _judged(staged), x_ends=_ends(staged), words=words)


def loop_view(answer: CheckAnswer, probe_index: int) -> ChartView | None:
    """Error of every point that was read."""
    allowed = answer.request.loop.tolerance_percent
    series = []
    for stage, figures in answer.loop.items():
        read = [point for point in figures.points if point.error_percent is not None]
        if read:
            series.append(
                Series(
                    stage,
                    tuple(point.value_um for point in read),
                    tuple(float(point.error_percent or 0.0) for point in read),
                    probe_index if stage == "as left" or len(answer.loop) == 1 else None,
                    beyond=tuple(point.result == "fail" for point in read),
                )
            )
    if not series:
        return None
    entry = answer.request.loop
    ends = (min(entry.low_um, entry.high_um), max(entry.low_um, entry.high_um))
    pad = 0.05 * (ends[1] - ends[0])
    levels = (Level(0.0, tolerance=False), Level(allowed, "allowed"), Level(-allowed, "allowed"))
    return ChartView(tuple(series), levels, x_ends=(ends[0] - pad, ends[1] + pad))


def _staged(answer: CheckAnswer, probe_index: int) -> list[Staged]:
    """Stages with figures; the one that counts comes last and has the probe's colour."""
    out: list[Staged] = []
    if answer.found.figures is not None:
        alone = answer.left.figures is None
        out.append(("as found", answer.found.figures, probe_index if alone else None))
    if answer.left.figures is not None:
        out.append(("as left", answer.left.figures, probe_index))
    return out


def _slopes(figures: CalibrationFigures) -> tuple[float, ...]:
    """The local slope at each row: of the increments on both sides of it, by their lengths."""
    factors = [i.scale_factor_mv_per_um for i in figures.increments]
    lengths = [i.gap_um - i.low_um for i in figures.increments]
    out = [factors[0]]
    for place in range(1, len(factors)):
        a, b = lengths[place - 1], lengths[place]
        out.append((factors[place - 1] * a + factors[place] * b) / (a + b))
    return (*out, factors[-1])


def _ends(staged: list[Staged]) -> tuple[float, float]:
    lows = [figures.table.rows[0][0] for _, figures, _ in staged]
    highs = [figures.table.rows[-1][0] for _, figures, _ in staged]
    pad = 0.03 * (max(highs) - min(lows))
    return min(0.0, min(lows)), max(highs) + pad


def _judged(staged: list[Staged]) -> tuple[Zone, ...]:
    low, high = staged[-1][1].tolerances.testing_range_um
    return (Zone(low, high),)


def _zones(staged: list[Staged]) -> tuple[Zone, ...]:
    """What is judged, in words once for all three pictures, and what is usable."""
    usable = staged[-1][1].usable_range_um
    judged = tuple(replace(zone, name="judged") for zone in _judged(staged))
    return judged if usable is None else (Zone(*usable, "usable", filled=True), *judged)


def _worst(figures: CalibrationFigures) -> Increment | None:
    judged = [i for i in figures.increments if i.judged]
    return max(judged, key=lambda i: abs(i.error_percent), default=None)


def _average_words(figures: CalibrationFigures, unit: LengthUnit) -> str:
    if figures.average_mv_per_um is None:
        return ""
    return f"average {factor_text(figures.average_mv_per_um, unit)}"


def _held_words(figures: CalibrationFigures, unit: LengthUnit) -> str:
    if figures.held is None or figures.best_fit is None:
        return ""
    held = length_text(figures.held.deviation_um, unit, 1)
    fit = length_text(figures.best_fit.deviation_um, unit, 1)
    return f"{held} held, {fit} best fit"
