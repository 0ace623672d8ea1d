"""The finding of a check in plain words: what stands on top of the Probe check page."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

from analysis.calibration.run_words import run_failures
from analysis.calibration.words import TARGET_CAUTION, factor_text, length_text
from analysis.model.units import LengthUnit

if TYPE_CHECKING:
    from analysis.model.calibration_results import CalibrationFigures, CalibratorRun
    from analysis.views.probe_check import CheckAnswer

NO_TABLE = "Type or paste a calibration table, or open a CSV: gap and volts, three rows or more."
OTHER_MATERIAL = (
    "The nominal factor is that of AISI 4140. Another material has another one: calibrate on a "
    "target of the shaft's own material, or put its factor in."
)
_NO_RUN = {
    "idle": "Open a capture of one probe on a calibrator: its steps are found by themselves.",
    "reading": "Finding the steps of the run…",
    "cut": "Finding the steps was stopped. Look at another check and come back to go on.",
    "failed": "The steps could not be found; the message above says why.",
}


@dataclass(frozen=True)
class Finding:
    """A verdict (`pass`, `fail` or neither), its headline, and the sentences behind it."""

    result: str
    headline: str
    details: tuple[str, ...] = ()


def table_finding(answer: CheckAnswer | None, unit: LengthUnit) -> Finding:
    """What the tables come to."""
    if answer is None:
        return Finding("", NO_TABLE)
    for stage in (answer.left, answer.found):
        if stage.error:
            return Finding("", "The table is not complete yet.", (_sentence(stage.error),))
    counting = answer.counting
    if counting is None:
        return Finding("", NO_TABLE)
    stage_name, figures = counting
    words = f"{stage_name.capitalize()}: {_figures_words(figures, unit)}"
    other = answer.found.figures if stage_name == "as left" else None
    details = list(figures.reasons)
    if other is not None:
        words += f" As found it {'passed' if other.verdict == 'pass' else 'failed'}."
        details += [f"As found: {reason}" for reason in other.reasons[:2]]
    if answer.comparison is not None:
        worst = answer.comparison.worst
        details.append(
            f"With the curve as left gaps are read up to "
            f"{length_text(abs(worst.change_um), unit, 1)} differently, most at "
            f"{length_text(worst.gap_um, unit)}."
        )
    return Finding(figures.verdict, words, (*details, *map(_sentence, figures.remarks)))


def _figures_words(figures: CalibrationFigures, unit: LengthUnit) -> str:
    verdict = "keeps its tolerances" if figures.verdict == "pass" else "fails"
    parts = []
    if figures.average_mv_per_um is not None and figures.average_error_percent is not None:
        error = f"{figures.average_error_percent:+.1f} %".replace("-", "−")
        parts.append(f"average {factor_text(figures.average_mv_per_um, unit)} ({error})")
    if figures.held is not None:
        parts.append(f"straight within {length_text(figures.held.deviation_um, unit, 1)}")
    if figures.usable_range_um is not None:
        low, high = figures.usable_range_um
        parts.append(f"usable from {length_text(low, unit)} to {length_text(high, unit)}")
    else:
        parts.append("no usable range")
    return f"{verdict}: {', '.join(parts)}."


def run_finding(run: CalibratorRun | None, phase: str, unit: LengthUnit = LengthUnit.UM) -> Finding:
    """What the run comes to."""
    if run is None:
        return Finding("", _NO_RUN.get(phase, _NO_RUN["idle"]))
    found = sum(step.stretch is not None for step in run.steps)
    notes = tuple(_sentence(notice) for notice in run.notices)
    if run.verdict is None:
        words = f"{found} steady stretch{'' if found == 1 else 'es'} found."
        if found:
            words += " Type beside each what was applied, or paste the list."
        return Finding("", words, notes)
    judged = [step for step in run.steps if step.result is not None]
    good = sum(step.result == "pass" for step in judged)
    words = f"{good} of {len(judged)} steps within tolerance; {found} found in the capture."
    return Finding(run.verdict, words, (*run_failures(run.steps, unit), *notes))


def loop_finding(answer: CheckAnswer | None) -> Finding:
    """What the loop check comes to."""
    if answer is None or answer.loop_error:
        text = answer.loop_error if answer is not None else ""
        return Finding("", "Type what the meter reads at each point.", (text,) if text else ())
    for stage in ("as left", "as found"):
        figures = answer.loop[stage]
        read = [point for point in figures.points if point.error_percent is not None]
        if not read:
            continue
        worst = max(read, key=lambda point: abs(point.error_percent or 0.0))
        error = f"{worst.error_percent:+.2f}".replace("-", "−")
        missing = len(figures.points) - len(read)
        words = f"{stage.capitalize()}: largest error {error} % of span, at {worst.percent:.0f} %"
        allowed = f"{answer.request.loop.tolerance_percent:g} % allowed"
        rest = f" {missing} point{'s' if missing > 1 else ''} not read yet." if missing else ""
        return Finding(figures.verdict or "", f"{words} ({allowed}).{rest}")
    return Finding("", "Type what the meter reads at each point.")


def material_caution(material: str) -> str:
    """What to bear in mind of the target's material."""
    if material.strip().upper().replace(" ", "").startswith(("AISI4140", "4140", "42CRMO4")):
        return TARGET_CAUTION
    return f"{OTHER_MATERIAL} {TARGET_CAUTION}"


def _sentence(text: str) -> str:
    text = text[:1].upper() + text[1:]
    return text if text.endswith((".", "?", "!")) else f"{text}."
