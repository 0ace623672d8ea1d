"""What the Probe check page asks: tables as they are typed, a calibrator run, a loop check."""

from __future__ import annotations

import math
import re
from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Final, Literal

from analysis.calibration.curve import compare_tables
from analysis.calibration.figures import calibration_figures
from analysis.calibration.loop import (
    LOAD_OHM,
    current_from_voltage,
    judged_loop,
    loop_points,
    loop_verdict,
)
from analysis.calibration.matching import matched
from analysis.calibration.run_judge import RunRequest, held_against
from analysis.files.calibration_table import parse_calibration_table
from analysis.model.calibration_entries import AppliedStep, CalibrationTolerances
from analysis.model.calibration_results import (
    CalibrationFigures,
    CalibratorRun,
    LoopPoint,
    PassOrFail,
    RunTolerances,
    SteadyStretch,
    TableComparison,
)
from analysis.model.errors import InputError
from analysis.model.setup import Setup
from analysis.model.units import LengthUnit

Stage = Literal["as found", "as left"]
STAGES: Final[tuple[Stage, Stage]] = ("as found", "as left")

Cell = float | str | None
"""A number, what was typed in place of one, or nothing."""

_DEFAULT_POSITION_UM: Final = 2000.0
_DEFAULT_VIBRATION_UM: Final = 200.0


@dataclass(frozen=True)
class EntryRow:
    """One line of the table being typed: gap in µm, volts as found and as left."""

    gap_um: Cell = None
    found_v: Cell = None
    left_v: Cell = None

    def volts(self, stage: Stage) -> Cell:
        """The volts of a stage."""
        return self.found_v if stage == "as found" else self.left_v

    @property
    def empty(self) -> bool:
        """Whether nothing stands in it."""
        return self.gap_um is None and self.found_v is None and self.left_v is None


def cell_of(text: str) -> Cell:
    """What somebody typed: a number where it is one, point and comma both decimal marks."""
    bare = text.strip().replace("−", "-")
    if not bare:
        return None
    try:
        value = float(re.sub(r"^([+-]?\d*),(\d+)$", r"\1.\2", bare))
    except ValueError:
        return bare
    return value if math.isfinite(value) else bare


@dataclass(frozen=True)
class LoopEntry:
    """A loop check as it is typed: range at 4 and 20 mA, what was read at each point.

    `what` is the measure that the loop carries, in words. What was read is mA, or V across the
    load with `in_volts`; empty where nothing was read yet.
    `tolerance_percent` is of the span of 16 mA; 0.5 % is common practice for a loop with its
    indicator, the owner's procedure comes first.
    """

    low_um: float = 250.0
    high_um: float = 2250.0
    load_ohm: float = LOAD_OHM
    in_volts: bool = False
    tolerance_percent: float = 0.5
    what: str = ""
    found: tuple[Cell, ...] = (None,) * 5
    left: tuple[Cell, ...] = (None,) * 5

    def reads(self, stage: Stage) -> tuple[Cell, ...]:
        """What was read in a stage."""
        return self.found if stage == "as found" else self.left


@dataclass(frozen=True)
class RunEntry:
    """What was applied, by the place of its stretch in the capture."""

    applied: Mapping[int, AppliedStep] = field(default_factory=dict)
    missing: tuple[AppliedStep, ...] = ()
    tolerances: RunTolerances = field(default_factory=RunTolerances)


@dataclass(frozen=True)
class CheckRequest:
    """All that is typed on the page; `unit` is the one that sentences are written in.

    The run is left out where there is no setup or where its steps have not been found yet.
    """

    rows: tuple[EntryRow, ...] = ()
    tolerances: CalibrationTolerances = field(default_factory=CalibrationTolerances)
    loop: LoopEntry = field(default_factory=LoopEntry)
    run: RunEntry = field(default_factory=RunEntry)
    stretches: tuple[SteadyStretch, ...] | None = None
    setup: Setup | None = None
    probe: str = ""
    unit: LengthUnit = LengthUnit.UM


@dataclass(frozen=True)
class StageFigures:
    """One stage of the table: its figures, or why there are none; both empty: nothing typed."""

    figures: CalibrationFigures | None = None
    error: str = ""


@dataclass(frozen=True)
class LoopFigures:
    """One stage of the loop check; `verdict` is `None` until every point was read."""

    points: tuple[LoopPoint, ...]
    verdict: PassOrFail | None


@dataclass(frozen=True)
class CheckAnswer:
    """The answer to a `CheckRequest`. `loop_error` says why there is no loop check."""

    request: CheckRequest
    found: StageFigures
    left: StageFigures
    comparison: TableComparison | None
    loop: Mapping[Stage, LoopFigures]
    loop_error: str
    run: CalibratorRun | None

    def stage(self, stage: Stage) -> StageFigures:
        """The figures of a stage."""
        return self.found if stage == "as found" else self.left

    @property
    def counting(self) -> tuple[Stage, CalibrationFigures] | None:
        """The table that counts: as left, as found before there is one."""
        for stage in ("as left", "as found"):
            figures = self.stage(stage).figures
            if figures is not None:
                return stage, figures
        return None

    def looked_at(self, stage: Stage) -> tuple[Stage, CalibrationFigures] | None:
        """The table of this stage where it is complete, else the one that counts.

        A capture taken before an adjustment is to be read by the curve as found.
        """
        figures = self.stage(stage).figures
        return self.counting if figures is None else (stage, figures)


def answer_check(request: CheckRequest) -> CheckAnswer:
    """Judge everything that is typed. Quick; never raises for what a person can type."""
    found, left = (_stage(request, stage) for stage in STAGES)
    comparison = None
    if found.figures is not None and left.figures is not None:
        try:
            comparison = compare_tables(found.figures, left.figures)
        except InputError:
            comparison = None  # no gaps in common: each stands by itself
    loop, loop_error = _loop(request.loop)
    return CheckAnswer(request, found, left, comparison, loop, loop_error, _run(request))


def pasted_rows(text: str, unit: LengthUnit) -> tuple[tuple[float, float, float | None], ...]:
    """What was pasted from a spreadsheet: (gap_um, volts, volts as left or `None`).

    Two columns, with or without a line of names, as `parse_calibration_table` takes them; or three
    of them, gap, as found and as left, of which the line of names (if any) is not looked at.

    Raises:
        InputError: in one line what is wrong.
    """
    lines = [line for line in re.split(r"\r\n|\r|\n", text) if line.strip()]
    cells = [[cell.strip() for cell in line.split("\t")] for line in lines]
    if cells and all(len(row) == 3 for row in cells) and _numeric(cells[-1]):
        if _in_mil(cells[0][0]):
            unit = LengthUnit.MIL
        body = cells if _numeric(cells[0]) else cells[1:]
        both = [
            parse_calibration_table(
                "\n".join(f"{row[0]}\t{row[place]}" if row[place] else "" for row in body),
                stage,
                unit=unit,
            )
            for place, stage in enumerate(STAGES, 1)
        ]
        one, two = (dict(table.rows) for table in both)
        return tuple((gap, one[gap], two.get(gap)) for gap in sorted(one))
    table = parse_calibration_table(text, "pasted table", unit=unit)
    return tuple((gap, volts, None) for gap, volts in table.rows)


def placed(
    applied: tuple[AppliedStep, ...],
    stretches: tuple[SteadyStretch, ...],
    setup: Setup,
    probe: str,
) -> RunEntry:
    """A list of applied steps, in the order of time, put beside the stretches that they fit."""
    scales = [_DEFAULT_POSITION_UM, _DEFAULT_VIBRATION_UM]
    for output in setup.output:
        if output.probe == probe and output.measure in ("position", "peak_to_peak"):
            place = 0 if output.measure == "position" else 1
            scales[place] = abs(output.range_um[1] - output.range_um[0]) or scales[place]
    places = matched(applied, stretches, scales[0], scales[1])
    beside = {at: step for at, step in zip(places, applied, strict=True) if at is not None}
    missing = tuple(step for at, step in zip(places, applied, strict=True) if at is None)
    return RunEntry(beside, missing)


def stage_text(rows: tuple[EntryRow, ...], stage: Stage, unit: LengthUnit) -> str:
    """The lines of a stage, one a row; rows without its volts are empty, so that numbers hold."""
    lines = []
    for row in rows:
        volts = row.volts(stage)
        if volts is None:
            lines.append("")
            continue
        gap = row.gap_um
        shown = f"{gap * unit.per_um:.12g}" if isinstance(gap, float) else gap or ""
        value = f"{volts:.12g}" if isinstance(volts, float) else volts
        lines.append(f"{_one_field(shown)}\t{_one_field(value)}")
    return "\n".join(lines)


def _stage(request: CheckRequest, stage: Stage) -> StageFigures:
    text = stage_text(request.rows, stage, request.unit)
    if not text.strip():
        return StageFigures()
    try:
        table = parse_calibration_table(text, stage, unit=request.unit)
        return StageFigures(calibration_figures(table, request.tolerances, unit=request.unit))
    except InputError as error:
        return StageFigures(error=str(error).replace("line ", "row "))


def _one_field(text: str) -> str:
    return re.sub(r"[\t\r\n\"]", " ", text)


def _loop(entry: LoopEntry) -> tuple[dict[Stage, LoopFigures], str]:
    try:
        points = loop_points(entry.low_um, entry.high_um, load_ohm=entry.load_ohm)
    except ValueError as error:
        return {}, f"{error}."
    out: dict[Stage, LoopFigures] = {}
    for stage in STAGES:
        reads = [read if isinstance(read, float) else None for read in entry.reads(stage)]
        if entry.in_volts:
            reads = [None if r is None else current_from_voltage(r, entry.load_ohm) for r in reads]
        judged = judged_loop(points, reads, entry.tolerance_percent)
        out[stage] = LoopFigures(judged, loop_verdict(judged))
    return out, ""


def _run(request: CheckRequest) -> CalibratorRun | None:
    if request.stretches is None or request.setup is None:
        return None
    try:
        probe = request.setup.probe_named(request.probe)
    except KeyError:
        return None
    known = {at: s for at, s in request.run.applied.items() if at < len(request.stretches)}
    order = sorted(known)
    applied = (*(known[at] for at in order), *request.run.missing)
    places = (*order, *(None for _ in request.run.missing))
    asked = RunRequest(
        probe=probe.name, applied=applied, tolerances=request.run.tolerances, places=places
    )
    return held_against(request.stretches, request.setup, probe, asked)


def _numeric(cells: list[str]) -> bool:
    return any(isinstance(cell_of(cell), float) for cell in cells)


def _in_mil(name: str) -> bool:
    return "mil" in name.lower()
