"""A calibrator run's steady stretches, held against what was applied."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field
from typing import Final

from analysis.model.calibration_entries import AppliedStep
from analysis.model.calibration_results import (
    CalibratorRun,
    PassOrFail,
    RunStep,
    RunTolerances,
    SteadyStretch,
    StepReading,
)
from analysis.model.setup import Output, Probe, Setup
from analysis.model.span import TimeSpan
from analysis.protection.current_output import current_ma

from .loop import span_error_percent
from .matching import matched
from .run_words import run_failures
from .stretches import StepSettings

_DEFAULT_POSITION_SCALE_UM: Final = 2000.0
_DEFAULT_VIBRATION_SCALE_UM: Final = 200.0
"""Only to match steps where no output says what full scale is; no error is put in per cent of it.
"""
_ROUNDING: Final = 1e-9


@dataclass(frozen=True)
class RunRequest:
    """What a calibrator run is asked for. `span` is the whole capture when not given.

    `places` says for each applied step which stretch it belongs to (`None`: none of them), where a
    person has written it beside one; steps are matched to stretches by themselves when not given.
    """

    probe: str
    applied: tuple[AppliedStep, ...] = ()
    tolerances: RunTolerances = field(default_factory=RunTolerances)
    settings: StepSettings = field(default_factory=StepSettings)
    span: TimeSpan | None = None
    places: tuple[int | None, ...] | None = None


def held_against(
    stretches: Sequence[SteadyStretch], setup: Setup, probe: Probe, request: RunRequest
) -> CalibratorRun:
    """Stretches that were read, held against the applied steps: quick, for values being typed."""
    position, vibration = (_output(setup, probe, m) for m in ("position", "peak_to_peak"))
    places = request.places or matched(
        request.applied,
        stretches,
        _full_scale(position) or _range_length(probe) or _DEFAULT_POSITION_SCALE_UM,
        _full_scale(vibration) or _DEFAULT_VIBRATION_SCALE_UM,
    )
    by_stretch = {place: i for i, place in enumerate(places) if place is not None}
    steps: list[RunStep] = []
    due = 0
    for place, stretch in enumerate(stretches):
        index = by_stretch.get(place)
        if index is not None:
            # Steps that were not found stand where they were due.
            steps += [RunStep(applied, None) for applied in request.applied[due:index]]
            due = index + 1
        applied = None if index is None else request.applied[index]
        steps.append(_judged(applied, stretch, probe, position, vibration, request.tolerances))
    steps += [RunStep(applied, None) for applied in request.applied[due:]]
    return CalibratorRun(
        probe=probe.name,
        steps=tuple(steps),
        tolerances=request.tolerances,
        verdict=_verdict(steps),
        reasons=tuple(run_failures(steps)),
        notices=tuple(_notices(steps, request, position, vibration)),
    )


def _output(setup: Setup, probe: Probe, measure: str) -> Output | None:
    for output in setup.output:
        if output.probe == probe.name and output.measure == measure:
            return output
    return None


def _full_scale(output: Output | None) -> float | None:
    return None if output is None else abs(output.range_um[1] - output.range_um[0])


def _range_length(probe: Probe) -> float | None:
    ends = probe.linear_range_um
    return None if ends is None else ends[1] - ends[0]


def _judged(
    applied: AppliedStep | None,
    stretch: SteadyStretch,
    probe: Probe,
    position: Output | None,
    vibration: Output | None,
    tolerances: RunTolerances,
) -> RunStep:
    if applied is None:
        return RunStep(None, stretch)
    gap = level = None
    if applied.gap_um is not None:
        gap = _reading(
            applied.gap_um,
            stretch.gap_um,
            position,
            _full_scale(position) or _range_length(probe),
            applied.measured_position_ma,
            (tolerances.position_percent, tolerances.position_um),
        )
    if applied.peak_to_peak_um is not None:
        level = _reading(
            applied.peak_to_peak_um,
            stretch.peak_to_peak_um,
            vibration,
            _full_scale(vibration),
            applied.measured_vibration_ma,
            (tolerances.vibration_percent, tolerances.vibration_um_pp),
        )
    off = None
    if applied.frequency_hz is not None and stretch.frequency_hz is not None:
        off = stretch.frequency_hz - applied.frequency_hz
    return RunStep(applied, stretch, gap, level, off)


def _reading(
    applied: float,
    read: float,
    output: Output | None,
    full_scale: float | None,
    measured_ma: float | None,
    tolerance: tuple[float, float],
) -> StepReading:
    """One reading; `tolerance` is in per cent of full scale, and in µm on top of it."""
    percent, length = tolerance
    error = read - applied
    expected = reading_ma = current_error = None
    if output is not None:
        expected = current_ma(applied, *output.range_um)
        reading_ma = current_ma(read, *output.range_um)
        if measured_ma is not None:
            current_error = span_error_percent(measured_ma, expected)
    result: PassOrFail | None = None
    if full_scale is not None:
        allowed = percent / 100.0 * full_scale + length
        within = abs(error) <= allowed + _ROUNDING
        if current_error is not None:
            within &= abs(current_error) <= 100.0 * allowed / full_scale + _ROUNDING
        result = "pass" if within else "fail"
    return StepReading(
        applied_um=applied,
        read_um=read,
        error_um=error,
        full_scale_um=full_scale,
        error_percent=None if full_scale is None else 100.0 * error / full_scale,
        expected_ma=expected,
        reading_ma=reading_ma,
        measured_ma=measured_ma,
        current_error_percent=current_error,
        result=result,
    )


def _verdict(steps: Sequence[RunStep]) -> PassOrFail | None:
    results = [step.result for step in steps]
    if "fail" in results:
        return "fail"
    return "pass" if "pass" in results else None


def _notices(
    steps: Sequence[RunStep],
    request: RunRequest,
    position: Output | None,
    vibration: Output | None,
) -> list[str]:
    out = []
    if not any(step.stretch is not None for step in steps):
        out.append(
            f"no steady stretch of {request.settings.least_s:g} s or more was found; are the "
            "steps shorter, or does the vibration change all the time?"
        )
    loose = sum(step.applied is None for step in steps)
    if loose and request.applied:
        out.append(f"{loose} steady stretch{'' if loose == 1 else 'es'} held against nothing")
    if request.applied:
        if position is None and any(s.gap_um is not None for s in request.applied):
            out.append("there is no current output of position: full scale is the linear range")
        if vibration is None and any(s.peak_to_peak_um is not None for s in request.applied):
            out.append("there is no current output of p-p, so vibration has no full scale")
    return out
