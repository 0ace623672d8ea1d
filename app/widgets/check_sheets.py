"""From what is typed and judged to the cells of the Probe check page's sheets."""

from __future__ import annotations

from collections.abc import Mapping
from typing import TYPE_CHECKING, Final

from analysis.calibration.words import factor_text
from analysis.model.calibration_entries import AppliedStep
from analysis.model.units import LengthUnit
from app.plots.style import state_mark

from .sheet import Cell, SheetData
from .words import DASH, length, number

if TYPE_CHECKING:
    from analysis.model.calibration_results import CalibratorRun, LoopPoint, RunStep, StepReading
    from analysis.views.curve_effect import CurveEffect, EffectRow
    from analysis.views.probe_check import Cell as Entry
    from analysis.views.probe_check import CheckAnswer, EntryRow, LoopEntry, Stage

LEAST_ROWS: Final = 14
TABLE_FIELDS: Final = {0: "gap_um", 1: "found_v", 3: "left_v"}
"""Columns of the table that are typed into, and what they are in `EntryRow`."""

RUN_FIELDS: Final = {
    1: "gap_um",
    6: "measured_position_ma",
    7: "peak_to_peak_um",
    12: "measured_vibration_ma",
}
RUN_LENGTHS: Final = ("gap_um", "peak_to_peak_um")
LOOP_STAGES: Final[Mapping[int, Stage]] = {4: "as found", 6: "as left"}
PASS, FAIL = "✓", "✗"


def entry_text(value: Entry, factor: float = 1.0, decimals: int = 4, least: int = 0) -> str:
    """What stands in a cell that is typed into."""
    if not isinstance(value, float):
        return value or ""
    text = f"{value * factor:.{decimals}f}"
    while "." in text and text.endswith("0") and len(text.partition(".")[2]) > least:
        text = text[:-1]
    text = text.rstrip(".")
    return "0" if text == "-0" else text


def result_text(result: str | None) -> str:
    """Sign and word of a verdict."""
    return {"pass": f"{PASS} pass", "fail": f"{FAIL} fail"}.get(result or "", DASH)


def result_tone(result: str | None) -> str:
    """The tone of a verdict."""
    return result if result in ("pass", "fail") else "muted"


# Calibration table -------------------------------------------------------------------------------


def table_sheet(
    rows: tuple[EntryRow, ...], answer: CheckAnswer | None, unit: LengthUnit
) -> SheetData:
    """The table as typed, and the error of the increment that ends at each row."""
    errors = [_errors(answer, stage) for stage in ("as found", "as left")]
    out = []
    for place in range(max(len(rows) + 1, LEAST_ROWS)):
        row = rows[place] if place < len(rows) else None
        gap = row.gap_um if row is not None else None
        cells = [_typed(gap, unit.per_um, 1 if unit is LengthUnit.UM else 3)]
        volts = (row.found_v, row.left_v) if row is not None else (None, None)
        for value, error in zip(volts, errors, strict=True):
            cells.append(_typed(value, least=2))
            known = error.get(round(gap, 3)) if isinstance(gap, float) else None
            cells.append(known if value is not None and known is not None else Cell())
        out.append(tuple(cells))
    return SheetData(
        heads=(f"gap\n{unit.value}", "as found\nV", "error\n%", "as left\nV", "error\n%"),
        tips=(
            f"Gap from probe tip to target, {unit.value}",
            "Gap voltage as found, V: negative",
            "Scale factor of the increment that ends here, against nominal, %; in brackets: "
            "outside the testing range, not judged",
            "Gap voltage as left, V: negative",
            "As the other error, of the table as left, %",
        ),
        rows=tuple(out),
    )


def _typed(value: Entry, factor: float = 1.0, decimals: int = 4, least: int = 0) -> Cell:
    wrong = isinstance(value, str)
    tip = f"“{value}” is no number" if wrong else ""
    tone = "fail" if wrong else "ink"
    return Cell(entry_text(value, factor, decimals, least), tone, editable=True, tip=tip)


def _errors(answer: CheckAnswer | None, stage: Stage) -> dict[float, Cell]:
    figures = answer.stage(stage).figures if answer is not None else None
    if answer is None or figures is None:
        return {}
    out = {}
    for increment in figures.increments:
        text = _signed(increment.error_percent, 1)
        factor = factor_text(increment.scale_factor_mv_per_um, answer.request.unit)
        tone = "muted"
        if not increment.judged:
            text = f"({text})"
        elif not increment.within:
            text, tone = f"{FAIL} {text}", "fail"
        out[round(increment.gap_um, 3)] = Cell(text, tone, tip=factor)
    return out


# Effect ------------------------------------------------------------------------------------------


def effect_sheet(effect: CurveEffect | None, unit: LengthUnit) -> SheetData:
    """Readings by the setup and by the curve."""
    heads = ("reading", "setup", "curve", "change")
    tips = (
        "Readings at the moment that this curve has a part in",
        "As the setup was opened",
        "With the table at the left in the place of the probe's line or curve",
        "The second less the first",
    )
    rows = tuple(_effect_cells(row, unit) for row in effect.rows) if effect is not None else ()
    return SheetData(heads, tips, rows)


def _effect_cells(row: EffectRow, unit: LengthUnit) -> tuple[Cell, ...]:
    units = {"gap": unit.value, "length": unit.value, "current": "mA", "degrees": "°"}
    name = ", ".join(filter(None, (row.what, units.get(row.kind, ""))))
    if row.kind == "state":
        words = [" ".join(state_mark(str(value))) for value in (row.now, row.then)]
        changed = row.now != row.then
        change = Cell("changes" if changed else "same", "fail" if changed else "muted")
        return Cell(name), Cell(words[0]), Cell(words[1]), change
    texts = [_effect_text(value, row.kind, unit) for value in (row.now, row.then)]
    change = row.change
    told = DASH if change is None else _effect_text(change, row.kind, unit, sign=True)
    quiet = change is None or not told.strip("+−0.")
    return (
        Cell(name),
        Cell(texts[0], "muted"),
        Cell(texts[1]),
        Cell(told, "muted" if quiet else "accent"),
    )


def _effect_text(
    value: float | str | None, kind: str, unit: LengthUnit, *, sign: bool = False
) -> str:
    if not isinstance(value, float):
        return DASH
    if kind == "degrees":
        text = number(value, 1)
    elif kind == "current":
        text = number(value, 2)
    elif kind == "ratio":
        text = number(value, 3)
    else:
        text = length(value, unit)
    return _sign(text, value) if sign else text


# Calibrator run ----------------------------------------------------------------------------------


def run_sheet(run: CalibratorRun | None, unit: LengthUnit) -> SheetData:
    """Steps found, what was applied beside them, errors, currents due and read."""
    u = unit.value
    currents = ("due\nmA", "meter\nmA")
    position = (f"gap\nset, {u}", f"gap\nread, {u}", f"error\n{u}", "error\n% FS", *currents)
    vibration = (f"p-p\nset, {u}", f"p-p\nread, {u}", f"error\n{u}", "error\n% FS", *currents)
    tips = (
        "Type what the calibrator or micrometer was set to; vibration in p-p",
        "Read from the capture: mean gap, unfiltered p-p",
        "Read less applied",
        "Error in per cent of full scale: the range of the current output, else the linear range",
        "What the loop is to carry for the value applied",
        "Type what the meter in the loop read",
    )
    return SheetData(
        heads=("found at\ns", *position, *vibration, "Hz\nread", "result"),
        tips=(
            "Start and end of the steady stretch, s",
            *tips,
            *tips,
            "Frequency of the vibration read from the capture, Hz",
            "Position and vibration against the tolerances",
        ),
        rows=tuple(_run_cells(step, unit) for step in run.steps) if run is not None else (),
    )


def _run_cells(step: RunStep, unit: LengthUnit) -> tuple[Cell, ...]:
    stretch, applied = step.stretch, step.applied or AppliedStep()
    if stretch is None:
        head = Cell("not found", "fail")
        gap = pp = frequency = None
    else:
        head = Cell(f"{stretch.start_s:.1f}–{stretch.end_s:.1f}", "muted")
        gap, pp, frequency = stretch.gap_um, stretch.peak_to_peak_um, stretch.frequency_hz
    may = stretch is not None
    return (
        head,
        *_reading_cells(
            applied.gap_um, applied.measured_position_ma, gap, step.position, unit, editable=may
        ),
        *_reading_cells(
            applied.peak_to_peak_um,
            applied.measured_vibration_ma,
            pp,
            step.vibration,
            unit,
            editable=may,
        ),
        Cell(number(frequency, 1), "muted"),
        Cell(result_text(step.result), result_tone(step.result)),
    )


def _reading_cells(
    applied: float | None,
    meter: float | None,
    read: float | None,
    reading: StepReading | None,
    unit: LengthUnit,
    *,
    editable: bool,
) -> tuple[Cell, ...]:
    tone = result_tone(reading.result if reading is not None else None)
    tone = "ink" if tone == "pass" else tone
    error = percent = due = None
    if reading is not None:
        error, percent, due = reading.error_um, reading.error_percent, reading.expected_ma
    shown = DASH if error is None else _sign(length(error, unit), error)
    tip = ""
    if reading is not None and reading.current_error_percent is not None:
        tip = f"{_signed(reading.current_error_percent, 2)} % of span from what is due"
    decimals = 1 if unit is LengthUnit.UM else 3
    return (
        Cell(entry_text(applied, unit.per_um, decimals), editable=editable),
        Cell(length(read, unit), "muted" if reading is None else "ink"),
        Cell(shown, tone),
        Cell(DASH if percent is None else _signed(percent, 2), tone),
        Cell(number(due, 3), "muted"),
        Cell(entry_text(meter, 1.0, 3), editable=editable, tip=tip),
    )


# Loop --------------------------------------------------------------------------------------------


def loop_sheet(answer: CheckAnswer | None, entry: LoopEntry, unit: LengthUnit) -> SheetData:
    """Points of the loop, what is due, and what was read as found and as left."""
    per = "V" if entry.in_volts else "mA"
    heads = (
        "share\n%",
        f"value\n{unit.value}",
        "due\nmA",
        f"due\nV over {entry.load_ohm:g} Ω",
        f"as found\nread, {per}",
        "error\n% of span",
        f"as left\nread, {per}",
        "error\n% of span",
    )
    tips = (
        "Share of the span",
        "Value that the loop is to carry",
        "Current due: 4 mA at the lower end, 20 mA at the upper one",
        "Voltage due across the load",
        f"Type what the meter read, {per}",
        "Current read less the one due, in per cent of 16 mA",
        f"Type what the meter read, {per}",
        "Current read less the one due, in per cent of 16 mA",
    )
    if answer is None or not answer.loop:
        return SheetData(heads, tips)
    found, left = answer.loop["as found"], answer.loop["as left"]
    rows = []
    for place, (one, two) in enumerate(zip(found.points, left.points, strict=True)):
        rows.append(
            (
                Cell(number(one.percent, 0)),
                Cell(length(one.value_um, unit)),
                Cell(number(one.expected_ma, 3)),
                Cell(number(one.expected_v, 3)),
                _typed(entry.found[place]),
                _loop_error(one),
                _typed(entry.left[place]),
                _loop_error(two),
            )
        )
    return SheetData(heads, tips, tuple(rows))


def _loop_error(point: LoopPoint) -> Cell:
    if point.error_percent is None:
        return Cell(DASH, "muted")
    mark = PASS if point.result == "pass" else FAIL
    return Cell(f"{mark} {_signed(point.error_percent, 2)}", result_tone(point.result))


def _signed(value: float, decimals: int) -> str:
    return _sign(number(value, decimals), value)


def _sign(text: str, value: float) -> str:
    return f"+{text}" if value > 0 and text.strip("0.") else text
