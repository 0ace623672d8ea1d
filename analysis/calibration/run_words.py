"""Why a calibrator run fails, and what a reader should know of it, as sentences."""

from __future__ import annotations

from collections.abc import Sequence

from analysis.model.calibration_results import AppliedStep, RunStep, StepReading


def run_failures(steps: Sequence[RunStep]) -> list[str]:
    """What fails, one sentence a reading, with the number of its step."""
    out = []
    for number, step in enumerate(steps, 1):
        if step.applied is not None and step.stretch is None:
            out.append(f"Step {number}: {_applied_text(step.applied)} is not in the capture.")
        for name, unit, part in (
            ("position", "µm", step.position),
            ("vibration", "µm p-p", step.vibration),
        ):
            if part is None or part.result != "fail" or part.error_percent is None:
                continue
            out.append(
                f"Step {number}: {name} reads {part.read_um:.1f} {unit} where {part.applied_um:g} "
                f"{unit} is applied, {part.error_percent:+.2f} % of full scale"
                + _current_words(part)
                + "."
            )
    return out


def _current_words(part: StepReading) -> str:
    if part.current_error_percent is None or part.measured_ma is None:
        return ""
    return (
        f"; the loop carries {part.measured_ma:.3f} mA where {part.expected_ma:.3f} mA is due, "
        f"{part.current_error_percent:+.2f} % of span"
    )


def _applied_text(applied: AppliedStep) -> str:
    words = []
    if applied.gap_um is not None:
        words.append(f"a gap of {applied.gap_um:g} µm")
    if applied.peak_to_peak_um is not None:
        words.append(f"{applied.peak_to_peak_um:g} µm p-p")
    return " with ".join(words) or "a step without values"
