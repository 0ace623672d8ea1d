"""The tables in the record of a probe check, and the way back from them to what was typed.

Heads of columns are fixed words: a record that is opened again is read by them. Gaps are µm and
volts V in every record, whatever unit the window shows.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace
from typing import Final, cast

from analysis.model.calibration_entries import NOMINAL_MV_PER_UM, AppliedStep, CalibrationTolerances
from analysis.model.calibration_results import (
    CalibrationFigures,
    CalibratorRun,
    LoopPoint,
    RunStep,
    RunTolerances,
    StepReading,
    TableComparison,
)
from analysis.model.record import Cell, CheckRecord, RecordTable, Stage
from analysis.views.probe_check import STAGES, EntryRow, LoopEntry
from analysis.views.probe_check import Stage as CheckStage

TABLE, CHANGE, POSITION, VIBRATION, LOOP = (
    "Calibration table",
    "As left against as found",
    "Position",
    "Vibration",
    "Current loop",
)
GAP, VOLTS = "Gap, µm", "Volts, V"
STEP, APPLIED, METER = "Step", "Applied, µm", "Meter, mA"
PERCENT, READ = "Share, %", "Read, mA"
NOMINAL, INCREMENT, DEVIATION, RANGE, LEAST, EDITION = (
    "Nominal factor, mV/µm",
    "Allowed of an increment, %",
    "Allowed from the straight line, µm",
    "Judged range, µm",
    "Least usable range, µm",
    "Tolerances of",
)
LOOP_WHAT = "Value carried"
LOOP_RANGE, LOAD, LOOP_TOLERANCE = "Range at 4 and 20 mA, µm", "Load, Ω", "Allowed, % of span"
RUN_TOLERANCES: Final = {
    "position_percent": "Allowed of position, % of full scale",
    "position_um": "Applied position known to, µm",
    "vibration_percent": "Allowed of vibration, % of full scale",
    "vibration_um_pp": "Applied vibration known to, µm p-p",
}
_NONE: Final = "–"


def calibration_table(figures: CalibrationFigures, stage: Stage) -> RecordTable:
    """One table as found or as left: rows, increments that end there, deviations."""
    increments = {i.gap_um: i for i in figures.increments}
    deviations = {d.gap_um: d for d in figures.deviations}
    rows: list[tuple[Cell, ...]] = []
    for gap, volts in figures.table.rows:
        increment, deviation = increments.get(gap), deviations.get(gap)
        row: list[Cell] = [round(gap, 3), round(volts, 5)]
        if increment is None:
            row += [_NONE, _NONE, _NONE]
        else:
            result = "pass" if increment.within else "fail"
            row += [
                round(increment.scale_factor_mv_per_um, 4),
                round(increment.error_percent, 2),
                result if increment.judged else "not judged",
            ]
        row += (
            [_NONE, _NONE]
            if deviation is None
            else [round(deviation.held_um, 2), round(deviation.best_fit_um, 2)]
        )
        rows.append(tuple(row))
    return RecordTable(
        title=TABLE,
        stage=stage,
        columns=(GAP, VOLTS, "Factor, mV/µm", "Error, %", "Increment", "Held, µm", "Best fit, µm"),
        rows=tuple(rows),
        note="Factor and error are of the increment that ends at the row. Held: deviation from the "
        "straight line with its slope held at the nominal factor; best fit: from the least-squares "
        "line.",
    )


def change_table(comparison: TableComparison) -> RecordTable:
    """How much differently gaps are read with the table as left."""
    return RecordTable(
        title=CHANGE,
        columns=(GAP, "As found, V", "As left, V", "Change, µm"),
        rows=tuple(
            (round(r.gap_um, 3), round(r.found_v, 5), round(r.left_v, 5), round(r.change_um, 2))
            for r in comparison.rows
        ),
        note="Change: how much larger the gap is read with the table as left, at this voltage.",
    )


def run_tables(run: CalibratorRun) -> tuple[RecordTable, ...]:
    """Position and vibration of every step; a step without an applied value stands as read."""
    position = [_run_row(n, s, s.position, "position") for n, s in enumerate(run.steps, 1)]
    vibration = [_run_row(n, s, s.vibration, "vibration") for n, s in enumerate(run.steps, 1)]
    columns = (STEP, "Found at, s", APPLIED, "Read, µm", "Error, µm", "Error, % FS")
    loop = ("Due, mA", METER, "Result")
    return (
        RecordTable(title=POSITION, columns=(*columns, *loop), rows=tuple(position)),
        RecordTable(
            title=VIBRATION,
            columns=(*columns, *loop),
            rows=tuple(vibration),
            note="Vibration is unfiltered p-p, mean over blocks of 0.1 s or periods.",
        ),
    )


def _run_row(
    number: int, step: RunStep, reading: StepReading | None, part: str
) -> tuple[Cell, ...]:
    stretch, applied = step.stretch, step.applied or AppliedStep()
    is_gap = part == "position"
    read = value = None
    if stretch is not None:
        read = stretch.gap_um if is_gap else stretch.peak_to_peak_um
    value = applied.gap_um if is_gap else applied.peak_to_peak_um
    meter = applied.measured_position_ma if is_gap else applied.measured_vibration_ma
    result = reading.result if reading is not None else None
    if value is not None and stretch is None:
        result = "fail"
    return (
        float(number),
        "not found" if stretch is None else f"{stretch.start_s:.1f} to {stretch.end_s:.1f}",
        _cell(value, 3),
        _cell(read, 2),
        _cell(reading.error_um if reading is not None else None, 2),
        _cell(reading.error_percent if reading is not None else None, 3),
        _cell(reading.expected_ma if reading is not None else None, 3),
        _cell(meter, 4),
        result or _NONE,
    )


def loop_table(points: tuple[LoopPoint, ...], stage: Stage) -> RecordTable:
    """The points of a loop check."""
    return RecordTable(
        title=LOOP,
        stage=stage,
        columns=(PERCENT, "Value, µm", "Due, mA", "Due, V", READ, "Error, % of span", "Result"),
        rows=tuple(
            (
                p.percent,
                round(p.value_um, 3),
                round(p.expected_ma, 4),
                round(p.expected_v, 4),
                _cell(p.read_ma, 4),
                _cell(p.error_percent, 3),
                p.result or "not read",
            )
            for p in points
        ),
    )


def _cell(value: float | None, decimals: int) -> Cell:
    return _NONE if value is None else round(value, decimals)


# The way back -------------------------------------------------------------------------------------


def entry_rows(record: CheckRecord) -> tuple[EntryRow, ...]:
    """The calibration tables of a record as rows that can be gone on with."""
    found: dict[float, EntryRow] = {}
    for table in record.table:
        if table.title != TABLE or table.stage not in STAGES:
            continue
        column = "found_v" if table.stage == "as found" else "left_v"
        for row in _named(table):
            gap, volts = _number(row.get(GAP)), _number(row.get(VOLTS))
            if gap is not None and volts is not None:
                known = found.get(gap, EntryRow(gap))
                found[gap] = replace(known, **{column: volts})
    return tuple(found[gap] for gap in sorted(found))


def applied_steps(record: CheckRecord) -> dict[int, AppliedStep]:
    """What was applied in a run, by the place of its step."""
    out: dict[int, AppliedStep] = {}
    for table in record.table:
        if table.title not in (POSITION, VIBRATION):
            continue
        is_gap = table.title == POSITION
        for row in _named(table):
            number = _number(row.get(STEP))
            value, meter = _number(row.get(APPLIED)), _number(row.get(METER))
            if number is None or (value is None and meter is None):
                continue
            place = int(number) - 1
            known = out.get(place, AppliedStep())
            out[place] = (
                replace(known, gap_um=value, measured_position_ma=meter)
                if is_gap
                else replace(known, peak_to_peak_um=value, measured_vibration_ma=meter)
            )
    return out


def loop_entry(record: CheckRecord) -> LoopEntry | None:
    """The loop check of a record; `None` when it has none."""
    fields = _fields(record)
    tables = [table for table in record.table if table.title == LOOP]
    if not tables:
        return None
    entry = LoopEntry(what=fields.get(LOOP_WHAT, ""))
    ends = _pair(fields.get(LOOP_RANGE, ""))
    if ends is not None:
        entry = replace(entry, low_um=ends[0], high_um=ends[1])
    load, allowed = _number(fields.get(LOAD)), _number(fields.get(LOOP_TOLERANCE))
    if load is not None and load > 0.0:
        entry = replace(entry, load_ohm=load)
    if allowed is not None and allowed >= 0.0:
        entry = replace(entry, tolerance_percent=allowed)
    for table in tables:
        reads = [_number(row.get(READ)) for row in _named(table)][: len(entry.found)]
        reads += [None] * (len(entry.found) - len(reads))
        if cast(CheckStage, table.stage) == "as left":
            entry = replace(entry, left=tuple(reads))
        else:
            entry = replace(entry, found=tuple(reads))
    return entry


def run_tolerances(record: CheckRecord) -> RunTolerances:
    """What a run was judged against; what the record does not say stays as it is by default."""
    fields = _fields(record)
    numbers = {key: _number(fields.get(name)) for key, name in RUN_TOLERANCES.items()}
    edition = record.verdict[0].basis if record.verdict else RunTolerances().edition
    known = {key: value for key, value in numbers.items() if value is not None and value >= 0.0}
    return replace(RunTolerances(), **known, edition=edition)


def tolerances_of(record: CheckRecord) -> CalibrationTolerances | None:
    """What a calibration was judged against; `None` when the record does not say it whole."""
    fields = _fields(record)
    nominal, increment, deviation, least = (
        _number(fields.get(name)) for name in (NOMINAL, INCREMENT, DEVIATION, LEAST)
    )
    ends = _pair(fields.get(RANGE, ""))
    if nominal is None or increment is None or deviation is None or least is None or ends is None:
        return None
    if abs(nominal / NOMINAL_MV_PER_UM - 1.0) < 1e-6:
        nominal = NOMINAL_MV_PER_UM  # written with fewer figures than it has
    try:
        return CalibrationTolerances(
            nominal, increment, deviation, ends, least, fields.get(EDITION, "")
        )
    except ValueError:
        return None


def _fields(record: CheckRecord) -> dict[str, str]:
    return {field.name: field.value for field in record.field}


def _named(table: RecordTable) -> list[Mapping[str, Cell]]:
    return [dict(zip(table.columns, row, strict=True)) for row in table.rows]


def _number(cell: Cell | None) -> float | None:
    if cell is None:
        return None
    try:
        return float(cell)
    except ValueError:
        return None


def _pair(text: str) -> tuple[float, float] | None:
    low, _, high = text.partition(" to ")
    ends = _number(low), _number(high)
    if ends[0] is None or ends[1] is None:
        return None
    return ends[0], ends[1]
