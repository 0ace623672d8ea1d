"""One gap signal as two channels: position and vibration, each with its own current loop."""

from __future__ import annotations

from typing import Final, Literal

from analysis.model.advice import FROM_MEMORY
from analysis.model.position_results import LoopLimit, LoopReading, PositionMark
from analysis.model.setup import Probe, Setup

from .current_output import HIGH_MA, LEAST_MA, LOW_MA, MOST_MA, current_ma, voltage_across

LOAD_OHM: Final = 250.0
"""4 to 20 mA make 1 to 5 V across it (common practice)."""

USUAL_PEAK_TO_PEAK_UM: Final = (0.0, 125.0)
"""Full scale of a radial vibration channel where the setup names none: API 670, from memory."""

LoopMeasure = Literal["position", "peak_to_peak"]


def two_readings(
    probe: Probe,
    setup: Setup,
    gap_um: float | None,
    peak_to_peak_um: float | None,
    *,
    fault: bool,
    resistance_ohm: float = LOAD_OHM,
) -> tuple[LoopReading, LoopReading]:
    """Position and p-p of one probe as its two loops carry them.

    Args:
        probe: the probe.
        setup: gives ranges (`[[output]]`) and limits.
        gap_um: mean gap, µm; `None` when not known.
        peak_to_peak_um: mean p-p, µm; `None` when not known.
        fault: whether the circuit is at fault, which drives both loops to 3.6 mA.
        resistance_ohm: resistor that the currents are measured across, Ω.

    Bands: NAMUR NE 43 (3.8 to 20.5 mA for readings, 3.6 mA or less for a fault), seen in articles
    on it.
    """
    return (
        _loop(probe, setup, "position", gap_um, fault, resistance_ohm),
        _loop(probe, setup, "peak_to_peak", peak_to_peak_um, fault, resistance_ohm),
    )


def _loop(
    probe: Probe,
    setup: Setup,
    measure: LoopMeasure,
    value_um: float | None,
    fault: bool,
    resistance_ohm: float,
) -> LoopReading:
    scale, source = _range(probe, setup, measure)
    value = None if fault else value_um
    current = percent = None
    saturated: Literal["low", "high"] | None = None
    if fault:
        current = current_ma(0.0, 0.0, 1.0, fault=True)
    elif value is not None and scale is not None:
        percent = 100.0 * (value - scale[0]) / (scale[1] - scale[0])
        current = current_ma(value, *scale)
        free = LOW_MA + (HIGH_MA - LOW_MA) * percent / 100.0
        saturated = "low" if free < LEAST_MA else "high" if free > MOST_MA else None
    return LoopReading(
        measure=measure,
        value_um=value,
        range_um=scale,
        range_from=source,
        limits=_limits(probe, setup, measure, scale),
        percent=percent,
        current_ma=current,
        volts=None if current is None else voltage_across(current, resistance_ohm),
        resistance_ohm=resistance_ohm,
        saturated=saturated,
        fault=fault,
    )


def _range(
    probe: Probe, setup: Setup, measure: LoopMeasure
) -> tuple[tuple[float, float] | None, str]:
    for output in setup.output:
        if output.probe == probe.name and output.measure == measure:
            return output.range_um, "setup"
    if measure == "position":
        return probe.linear_range_um, "linear range; the setup names no current output"
    return USUAL_PEAK_TO_PEAK_UM, f"API 670 (5th ed., 2014), {FROM_MEMORY}"


def _limits(
    probe: Probe, setup: Setup, measure: LoopMeasure, scale: tuple[float, float] | None
) -> tuple[LoopLimit, ...]:
    out = []
    for limit in setup.limits_of(probe.name):
        if limit.measure != measure:
            continue
        ends: tuple[tuple[Literal["above", "below"], float | None], ...]
        ends = ("above", limit.above), ("below", limit.below)
        for side, value in ends:
            if value is not None:
                fits = scale is not None and min(scale) <= value <= max(scale)
                out.append(LoopLimit(limit.level, side, value, fits))
    return tuple(out)


def position_marks(probe: Probe, setup: Setup) -> tuple[PositionMark, ...]:
    """The probe's position limits on its gap scale, smallest gap first."""
    marks = [
        PositionMark(each.level, each.side, each.value_um)
        for each in _limits(probe, setup, "position", None)
    ]
    return tuple(sorted(marks, key=lambda mark: mark.gap_um))
