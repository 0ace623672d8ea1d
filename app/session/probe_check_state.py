"""What is typed on the Probe check page: table, loop, applied steps, and what they are held to."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import replace
from typing import TYPE_CHECKING, Any, Literal

from PySide6.QtCore import QObject, Signal

from analysis.model.calibration_entries import AppliedStep, CalibrationTolerances, Row

if TYPE_CHECKING:
    from analysis.reporting.record import CheckHead
    from analysis.views.probe_check import Cell, EntryRow, LoopEntry, RunEntry, Stage

Check = Literal["table", "run", "loop"]
DEFAULT_MATERIAL = "AISI 4140"
OWN_FIGURES = "figures of one's own; else "


class ProbeCheckState(QObject):
    """The page's entries. They belong to no capture and outlive it: a table stands by itself.

    `changed` comes with anything that is judged, `table_changed` with the rows alone,
    `facts_changed` with the probe, the material, the check or the stage looked at. What is applied
    in a run belongs to the capture, and goes with it.
    """

    changed = Signal()
    table_changed = Signal()
    facts_changed = Signal()

    def __init__(self) -> None:
        super().__init__()
        self.rows: tuple[EntryRow, ...] = ()
        self.tolerances = CalibrationTolerances()
        self.material = DEFAULT_MATERIAL
        self.probe = ""
        self.check: Check = "table"
        self.stage: Stage = "as found"
        self.head: CheckHead | None = None
        self._loop: LoopEntry | None = None
        self._run: RunEntry | None = None

    @property
    def is_blank(self) -> bool:
        """Whether nothing has been typed yet that belongs to a probe."""
        run, loop = self._run, self._loop
        read = loop is not None and any(cell is not None for cell in (*loop.found, *loop.left))
        return not (self.rows or read or (run is not None and run.applied))

    @property
    def loop(self) -> LoopEntry:
        """The loop check as typed so far."""
        if self._loop is None:
            from analysis.views.probe_check import LoopEntry

            self._loop = LoopEntry()
        return self._loop

    @property
    def run(self) -> RunEntry:
        """What was applied in the calibrator run, as typed so far."""
        if self._run is None:
            from analysis.views.probe_check import RunEntry

            self._run = RunEntry()
        return self._run

    # Table ---------------------------------------------------------------------------------------

    def set_cell(self, place: int, column: str, value: Cell) -> None:
        """Put a value into a row; the row after the last one begins a new one.

        `column` is a field of `EntryRow`.
        """
        from analysis.views.probe_check import EntryRow

        rows = list(self.rows)
        while len(rows) <= place:
            rows.append(EntryRow())
        rows[place] = replace(rows[place], **{column: value})
        while rows and rows[-1].empty:
            rows.pop()
        self.set_rows(tuple(rows))

    def set_rows(self, rows: tuple[EntryRow, ...]) -> None:
        """Another table."""
        if rows != self.rows:
            self.rows = rows
            self.table_changed.emit()
            self.changed.emit()

    def set_table(self, stage: Stage, table: Iterable[Row]) -> None:
        """Put a whole table in the place of one stage's; the other stage keeps its rows."""
        from analysis.views.probe_check import EntryRow

        column, other = ("found_v", "left_v") if stage == "as found" else ("left_v", "found_v")
        kept = [
            replace(row, **{column: None}) for row in self.rows if getattr(row, other) is not None
        ]
        for gap, volts in table:
            near = next(
                (i for i, row in enumerate(kept) if _is_near(row.gap_um, gap)),
                None,
            )
            if near is None:
                kept.append(EntryRow(gap, **{column: volts}))
            else:
                kept[near] = replace(kept[near], **{column: volts})
        kept.sort(key=lambda row: row.gap_um if isinstance(row.gap_um, float) else float("inf"))
        self.stage = stage
        self.set_rows(tuple(kept))
        self.facts_changed.emit()

    def clear(self, stage: Stage) -> None:
        """Take one stage's volts off."""
        self.set_table(stage, ())

    def set_tolerances(self, tolerances: CalibrationTolerances) -> None:
        """Judge by these figures, with their edition."""
        if tolerances != self.tolerances:
            self.tolerances = tolerances
            self.changed.emit()

    def change_tolerance(self, **changes: Any) -> None:
        """One figure of one's own; what no tolerance can be changes nothing."""
        known = self.tolerances
        edition = known.edition
        if not edition.startswith(OWN_FIGURES):
            edition = OWN_FIGURES + edition
        try:
            self.set_tolerances(replace(known, **changes, edition=edition))
        except ValueError:
            self.changed.emit()  # the field goes back to what stands

    # Run and loop --------------------------------------------------------------------------------

    def set_run(self, run: RunEntry) -> None:
        """Other applied steps, or other tolerances of them."""
        if run != self.run:
            self._run = run
            self.changed.emit()

    def change_applied(self, place: int, **changes: Any) -> None:
        """Another value beside the stretch at this place; a step without values is none."""
        step = replace(self.run.applied.get(place, AppliedStep()), **changes)
        applied = {**self.run.applied, place: step}
        if step == AppliedStep():
            del applied[place]
        self.set_run(replace(self.run, applied=applied))

    def change_run_tolerance(self, **changes: float) -> None:
        """What an error of the run may be."""
        known = self.run.tolerances
        edition = known.edition
        if not edition.startswith(OWN_FIGURES):
            edition = OWN_FIGURES + edition
        self.set_run(replace(self.run, tolerances=replace(known, **changes, edition=edition)))

    def forget_run(self) -> None:
        """Of another capture or probe: nothing is applied; the tolerances stay."""
        self.set_run(replace(self.run, applied={}, missing=()))

    def set_loop(self, loop: LoopEntry) -> None:
        """Another loop check."""
        if loop != self.loop:
            self._loop = loop
            self.changed.emit()

    def change_loop(self, **changes: Any) -> None:
        """Another figure of the loop check."""
        self.set_loop(replace(self.loop, **changes))

    def set_read(self, stage: Stage, place: int, value: Cell) -> None:
        """What was read at one point of the loop."""
        name = "found" if stage == "as found" else "left"
        reads = list(getattr(self.loop, name))
        reads[place] = value
        self.change_loop(**{name: tuple(reads)})

    # Facts ---------------------------------------------------------------------------------------

    def set_facts(self, **facts: Any) -> None:
        """Another probe, material, check or stage."""
        changed = {key: value for key, value in facts.items() if getattr(self, key) != value}
        for key, value in changed.items():
            setattr(self, key, value)
        if changed:
            self.facts_changed.emit()


def _is_near(known: Cell, gap_um: float) -> bool:
    return isinstance(known, float) and abs(known - gap_um) < 0.01
