"""The record of a probe check: calibration table, calibrator run, or loop."""

from __future__ import annotations

from typing import Final, Literal

from analysis.calibration.words import TARGET_CAUTION, length_text
from analysis.model.calibration_entries import CalibrationTolerances
from analysis.model.calibration_results import CalibrationFigures, RunStep
from analysis.model.record import (
    CheckRecord,
    Outcome,
    ProbeIdentity,
    RecordField,
    RecordTable,
    Stage,
    Verdict,
)
from analysis.model.setup import Setup
from analysis.model.units import LengthUnit
from analysis.views.probe_check import STAGES, CheckAnswer

from .caution import CAUTION
from .check_tables import (
    DEVIATION,
    EDITION,
    INCREMENT,
    LEAST,
    LOAD,
    LOOP_RANGE,
    LOOP_TOLERANCE,
    LOOP_WHAT,
    NOMINAL,
    RANGE,
    RUN_TOLERANCES,
    calibration_table,
    change_table,
    loop_table,
    run_tables,
)
from .record import SIGNATURES, CheckHead, chains_of

Check = Literal["table", "run", "loop"]

LOOP_CAUTION: Final = (
    "A loop may drive indicators, a control system or a shutdown: it is opened or driven only with "
    "the owner's leave, under local codes, and put back and seen to be back before signing."
)
MASTERS_FIRST: Final = (
    "Tolerances and limits are the machine owner's and the maker's; figures of standards stand "
    "here from memory and come second."
)
_LOOP_BASIS: Final = "common practice; bands of the current: NAMUR NE 43, seen in articles on it"
TARGET = "Target material"


def check_record(
    check: Check,
    answer: CheckAnswer,
    head: CheckHead,
    *,
    material: str,
    setup: Setup | None = None,
) -> CheckRecord:
    """The record of the check in sight, as far as it has been done.

    Args:
        check: which of the three.
        answer: what was typed, and how it was judged.
        head: who, when, with what; its chains count before those that the setup knows.
        material: of the target.
        setup: the open capture's, for the machine's name and the probe's factor.
    """
    name = answer.request.probe or "a probe"
    fields = [RecordField(name=TARGET, value=material)] if material else []
    cautions = [TARGET_CAUTION, MASTERS_FIRST, CAUTION]
    tables: list[RecordTable]
    if check == "table":
        own, tables, verdicts = _calibration(answer)
        kind, title = "probe_calibration", f"Calibration of {name}"
    elif check == "run":
        own, tables, verdicts = _run(answer)
        kind, title = "calibrator_run", f"{name} on a calibrator"
    else:
        own, tables, verdicts = _loop(answer)
        kind, title = "loop_check", f"Current loop of {name}"
        cautions.insert(0, LOOP_CAUTION)
    return CheckRecord(
        kind=kind,
        title=title,
        number=head.number,
        machine=setup.machine.title if setup is not None else "",
        site=head.site,
        made_by=head.made_by,
        made_at=head.made_at,
        ambient_c=head.ambient_c,
        program=head.program,
        source=head.source,
        remarks=head.remarks,
        cautions=tuple(cautions),
        field=(*fields, *own),
        probe=head.chains or _chains(setup, answer.request.probe, material),
        instrument=head.instruments,
        verdict=tuple(verdicts),
        table=tuple(tables),
        signature=SIGNATURES,
    )


def _chains(setup: Setup | None, name: str, material: str) -> tuple[ProbeIdentity, ...]:
    if setup is not None and name in [probe.name for probe in setup.probe]:
        known = chains_of(setup, [name])
        return tuple(each.model_copy(update={"target_material": material}) for each in known)
    return (ProbeIdentity(name=name, target_material=material),) if name else ()


Parts = tuple[list[RecordField], list[RecordTable], list[Verdict]]


def _calibration(answer: CheckAnswer) -> Parts:
    tolerances = answer.request.tolerances
    tables, verdicts = [], []
    staged = [(stage, answer.stage(stage).figures) for stage in STAGES]
    there = [(stage, figures) for stage, figures in staged if figures is not None]
    for stage, figures in there:
        tables.append(calibration_table(figures, stage))
        # As left counts; as found before it is told as information.
        verdicts += _calibration_verdicts(figures, stage, counts=stage == there[-1][0])
    if answer.comparison is not None:
        tables.append(change_table(answer.comparison))
    return _tolerance_fields(tolerances), tables, verdicts


def _tolerance_fields(tolerances: CalibrationTolerances) -> list[RecordField]:
    low, high = tolerances.testing_range_um
    return [
        RecordField(name=NOMINAL, value=f"{tolerances.nominal_mv_per_um:.7g}"),
        RecordField(name=INCREMENT, value=f"{tolerances.increment_percent:g}"),
        RecordField(name=DEVIATION, value=f"{tolerances.deviation_um:g}"),
        RecordField(name=RANGE, value=f"{low:g} to {high:g}"),
        RecordField(name=LEAST, value=f"{tolerances.least_range_um:g}"),
        RecordField(name=EDITION, value=tolerances.edition),
    ]


def _calibration_verdicts(
    figures: CalibrationFigures, stage: Stage, *, counts: bool
) -> list[Verdict]:
    tolerances = figures.tolerances
    basis = tolerances.edition
    judged = [i for i in figures.increments if i.judged]
    worst = max(judged, key=lambda i: abs(i.error_percent), default=None)
    out: list[Verdict] = []

    def tell(text: str, good: bool) -> None:
        result: Outcome = "pass" if good else "fail"
        if not counts:
            text, result = f"{text}: {result}", "information"
        out.append(Verdict(text=f"{stage.capitalize()}: {text}", result=result, basis=basis))

    if worst is None or figures.held is None:
        tell("no increment lies within the judged range", good=False)
    else:
        tell(
            f"increments, largest error {worst.error_percent:+.1f} % from {worst.low_um:.0f} to "
            f"{worst.gap_um:.0f} µm, {tolerances.increment_percent:g} % allowed",
            good=all(i.within for i in judged),
        )
        held = figures.held.deviation_um
        fit = figures.best_fit.deviation_um if figures.best_fit is not None else held
        tell(
            f"straight line within {held:.1f} µm with the slope held, {tolerances.deviation_um:g} "
            f"µm allowed; best fit {fit:.1f} µm",
            good=held <= tolerances.deviation_um * (1.0 + 1e-9),
        )
    usable = figures.usable_range_um
    length = 0.0 if usable is None else usable[1] - usable[0]
    words = "no usable range"
    if usable is not None:
        words = (
            f"usable from {length_text(usable[0], LengthUnit.UM)} to "
            f"{length_text(usable[1], LengthUnit.UM)}"
        )
    tell(
        f"{words}, {tolerances.least_range_um:g} µm wanted",
        good=length >= tolerances.least_range_um - 1e-6,
    )
    return out


def _run(answer: CheckAnswer) -> Parts:
    run = answer.run
    if run is None:
        return [], [], []
    tolerances = run.tolerances
    fields = [
        RecordField(name=name, value=f"{getattr(tolerances, key):g}")
        for key, name in RUN_TOLERANCES.items()
    ]
    judged = [(number, step) for number, step in enumerate(run.steps, 1) if step.applied]
    verdicts = []
    for part in ("position", "vibration"):
        results = [_part_result(step, part) for _, step in judged]
        results = [result for result in results if result is not None]
        if not results:
            continue
        good = sum(result == "pass" for result in results)
        outcome: Outcome = "pass" if good == len(results) else "fail"
        text = f"{part.capitalize()}: {good} of {len(results)} steps within tolerance"
        verdicts.append(Verdict(text=text, result=outcome, basis=tolerances.edition))
    if not verdicts:
        verdicts.append(
            Verdict(text="Nothing was held against it", result="not done", basis=tolerances.edition)
        )
    return fields, list(run_tables(run)), verdicts


def _part_result(step: RunStep, part: str) -> str | None:
    applied = step.applied
    value = None
    if applied is not None:
        value = applied.gap_um if part == "position" else applied.peak_to_peak_um
    if value is not None and step.stretch is None:
        return "fail"
    reading = step.position if part == "position" else step.vibration
    return reading.result if reading is not None else None


def _loop(answer: CheckAnswer) -> Parts:
    entry = answer.request.loop
    fields = [
        *([RecordField(name=LOOP_WHAT, value=entry.what)] if entry.what else []),
        RecordField(name=LOOP_RANGE, value=f"{entry.low_um:g} to {entry.high_um:g}"),
        RecordField(name=LOAD, value=f"{entry.load_ohm:g}"),
        RecordField(name=LOOP_TOLERANCE, value=f"{entry.tolerance_percent:g}"),
    ]
    tables, verdicts = [], []
    begun = [
        stage
        for stage, figures in answer.loop.items()
        if any(point.read_ma is not None for point in figures.points)
    ]
    for stage in begun or list(answer.loop)[:1]:
        figures = answer.loop[stage]
        tables.append(loop_table(figures.points, stage))
        errors = [abs(p.error_percent) for p in figures.points if p.error_percent is not None]
        worst = f"largest error {max(errors):.2f} % of span" if errors else "nothing was read"
        result: Outcome = figures.verdict or "not done"
        text = f"{stage.capitalize()}: {worst}, {entry.tolerance_percent:g} % allowed"
        if begun and stage != begun[-1]:
            text, result = f"{text}: {result}", "information"
        verdicts.append(Verdict(text=text, result=result, basis=_LOOP_BASIS))
    return fields, tables, verdicts
