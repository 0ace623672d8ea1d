"""Why a calibrator run fails, and what a reader should know of it, as sentences."""

from __future__ import annotations

from collections.abc import Sequence

from analysis.model.calibration_entries import AppliedStep
from analysis.model.calibration_results import RunStep, StepReading
from analysis.model.units import LengthUnit

from .words import length_text


def run_failures(steps: Sequence[RunStep], unit: LengthUnit = LengthUnit.UM) -> list[str]:
    """What fails, one sentence a reading, with the number of its step; lengths in `unit`."""
    out = []
    for number, step in enumerate(steps, 1):
        if step.applied is not None and step.stretch is None:
            out.append(f"Step {number}: {_applied_text(step.applied, unit)} is not in the capture.")
        for name, kind, part in (
            ("position", "", step.position),
            ("vibration", " p-p", step.vibration),
        ):
            if part is None or part.result != "fail" or part.error_percent is None:
                continue
            out.append(
                f"Step {number}: {name} reads {length_text(part.read_um, unit, 1)}{kind} where "
                f"{_typed(part.applied_um, unit)}{kind} is applied, "
                f"{_signed(part.error_percent)} % of full scale" + _current_words(part) + "."
            )
    return out


def _current_words(part: StepReading) -> str:
    if part.current_error_percent is None or part.measured_ma is None:
        return ""
    return (
        f"; the loop carries {part.measured_ma:.3f} mA where {part.expected_ma:.3f} mA is due, "
        f"{_signed(part.current_error_percent)} % of span"
    )


def _signed(percent: float) -> str:
    return f"{percent:+.2f}".replace("-", "−")


def _typed(value_um: float, unit: LengthUnit) -> str:
    """A length that somebody has typed: as many figures as it needs, five at most."""
    return f"{value_um * unit.per_um:.5g} {unit.value}"


def _applied_text(applied: AppliedStep, unit: LengthUnit) -> str:
    words = []
    if applied.gap_um is not None:
        words.append(f"a gap of {_typed(applied.gap_um, unit)}")
    if applied.peak_to_peak_um is not None:
        words.append(f"{_typed(applied.peak_to_peak_um, unit)} p-p")
    return " with ".join(words) or "a step without values"
