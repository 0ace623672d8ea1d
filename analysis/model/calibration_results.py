"""Results of calibration checks. Lengths are µm, volts V, factors mV/µm, shares per cent.

A gap voltage is negative and falls as the gap grows; a scale factor is positive.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

from .calibration_entries import AppliedStep, CalibrationTolerances, Row
from .units import LengthUnit

PassOrFail = Literal["pass", "fail"]


@dataclass(frozen=True)
class CalibrationTable:
    """Rows of a calibration, by rising gap and falling volts, at least three.

    `unit` is the one that the gaps were written in; `source` the file's name, or what stands for
    it; `notices` are sentences about what was left out.
    """

    rows: tuple[Row, ...]
    unit: LengthUnit = LengthUnit.UM
    source: str = "table"
    notices: tuple[str, ...] = ()


@dataclass(frozen=True)
class Increment:
    """From one row to the next. `gap_um` is its upper end, as tables of calibration list it.

    `error_percent` is against the nominal factor. `judged`: it lies in the testing range.
    """

    low_um: float
    gap_um: float
    scale_factor_mv_per_um: float
    error_percent: float
    judged: bool
    within: bool


@dataclass(frozen=True)
class RowDeviation:
    """How far a row lies from the two straight lines, µm; positive where volts are less negative.

    `held_um`: slope held at the nominal factor; `best_fit_um`: least squares.
    """

    gap_um: float
    volts: float
    held_um: float
    best_fit_um: float
    judged: bool


@dataclass(frozen=True)
class CalibrationLine:
    """`volts ≈ offset_v - scale_factor · gap`, and the largest distance of a judged row from it.

    `deviation_at_um` holds the gap where that is, or two: a line with its slope held has rows as
    far above it as others are below.
    """

    scale_factor_mv_per_um: float
    offset_v: float
    deviation_um: float
    deviation_at_um: tuple[float, ...]


@dataclass(frozen=True)
class CalibrationFigures:
    """Everything that a table of calibration tells.

    `judged_range_um` is the part of the testing range that the table's rows stand for. `held` is
    the straight line with the nominal slope that makes the largest deviation least, `best_fit` the
    least-squares line, both through the judged rows. All of these, and the average, are `None`
    where the table has no increment within the testing range. `usable_range_um` is the longest run
    of rows that keeps within both tolerances by itself, wherever it lies; `None`: there is none.
    `reasons` are sentences on what fails, empty for a pass; `remarks` help to understand.
    """

    table: CalibrationTable
    tolerances: CalibrationTolerances
    average_mv_per_um: float | None
    average_error_percent: float | None
    increments: tuple[Increment, ...]
    deviations: tuple[RowDeviation, ...]
    judged_range_um: tuple[float, float] | None
    held: CalibrationLine | None
    best_fit: CalibrationLine | None
    usable_range_um: tuple[float, float] | None
    verdict: PassOrFail
    reasons: tuple[str, ...]
    remarks: tuple[str, ...] = ()


@dataclass(frozen=True)
class RowChange:
    """One gap of two tables: volts as found and as left, and the change as a length.

    `change_um` is how much larger the gap would be read with the table as left in place of the one
    as found, at this voltage.
    """

    gap_um: float
    found_v: float
    left_v: float
    change_v: float
    change_um: float


@dataclass(frozen=True)
class TableComparison:
    """As found beside as left, at every gap of either table that both cover.

    `worst` is the row of the largest change. `average_change_percent` is of the average factor.
    """

    rows: tuple[RowChange, ...]
    worst: RowChange
    average_change_percent: float | None
    found_verdict: PassOrFail
    left_verdict: PassOrFail


@dataclass(frozen=True)
class SteadyStretch:
    """A stretch of a calibrator run in which neither position nor vibration changes.

    `peak_to_peak_um` is unfiltered, mean over blocks of 0.1 s, noise included; `sine_um_pp` and
    `frequency_hz` are those of the sinusoid in it, `None` where nothing stands clear of the noise.
    """

    start_s: float
    end_s: float
    gap_um: float
    gap_v: float
    gap_scatter_um: float | None
    peak_to_peak_um: float
    peak_to_peak_max_um: float
    sine_um_pp: float | None
    frequency_hz: float | None


@dataclass(frozen=True)
class RunTolerances:
    """What a calibrator run is judged against: an error in per cent of full scale, on each reading.

    1 % of full scale is API 670's accuracy of a channel (from memory); a chain with its probe
    needs what the owner's procedure says. `vibration_um_pp` adds what the calibrator itself leaves
    open, µm p-p; `position_um` likewise.
    """

    position_percent: float = 1.0
    vibration_percent: float = 1.0
    position_um: float = 0.0
    vibration_um_pp: float = 0.0
    edition: str = "1 % of full scale: API 670, 5th edition (2014), Table 1 (from memory)"


@dataclass(frozen=True)
class StepReading:
    """One reading of a step against what was applied.

    `expected_ma` carries the applied value, `reading_ma` the one read from the capture; `None`
    without a current output. `measured_ma` was typed in, `current_error_percent` is it less the
    expected one, in per cent of the span of 16 mA. `error_percent` is of full scale. `result` is
    that of reading and measured current together, `None` when nothing can be judged.
    """

    applied_um: float
    read_um: float
    error_um: float
    full_scale_um: float | None
    error_percent: float | None
    expected_ma: float | None
    reading_ma: float | None
    measured_ma: float | None
    current_error_percent: float | None
    result: PassOrFail | None


@dataclass(frozen=True)
class RunStep:
    """A step of a run: what was applied, the stretch it was found in, and the readings.

    `stretch` is `None` where the capture has nothing that could be it; `applied` is `None` for a
    stretch that nobody wrote down.
    """

    applied: AppliedStep | None
    stretch: SteadyStretch | None
    position: StepReading | None = None
    vibration: StepReading | None = None
    frequency_error_hz: float | None = None

    @property
    def result(self) -> PassOrFail | None:
        """`fail` when a reading fails or an applied step is not found, `None`: nothing judged."""
        if self.applied is not None and self.stretch is None:
            return "fail"
        results = [part.result for part in (self.position, self.vibration) if part is not None]
        if "fail" in results:
            return "fail"
        return "pass" if "pass" in results else None


@dataclass(frozen=True)
class CalibratorRun:
    """A calibrator run: all steps in the order of the capture, and the verdict over them.

    `verdict` is `None` where nothing was applied, so that nothing can be judged.
    """

    probe: str
    steps: tuple[RunStep, ...]
    tolerances: RunTolerances
    verdict: PassOrFail | None
    reasons: tuple[str, ...]
    notices: tuple[str, ...] = ()


@dataclass(frozen=True)
class LoopPoint:
    """One row of a loop check: share of span, value, and the current and voltage that carry it.

    `error_percent` is read less expected in per cent of the span; it and `result` are `None` while
    nothing was read.
    """

    percent: float
    value_um: float
    expected_ma: float
    expected_v: float
    read_ma: float | None = None
    error_percent: float | None = None
    result: PassOrFail | None = None
