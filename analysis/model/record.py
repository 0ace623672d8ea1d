"""The record of a check: what was checked, with what, by whom, and what came out.

One shape for every check: proof test, probe calibration, calibrator run, loop check. Its content
is plain data, goes to TOML and back unchanged (`analysis.files.record_file`), and is drawn as one
PDF (`app.reports.record_pdf`). Texts are for people, numbers in tables stand as they were read.
"""

from __future__ import annotations

from datetime import date, datetime
from typing import Annotated, Literal

from pydantic import BaseModel, ConfigDict, Field, model_validator

RecordKind = Literal["proof_test", "probe_calibration", "calibrator_run", "loop_check"]
Stage = Literal["", "as found", "as left"]
Outcome = Literal["pass", "fail", "not done", "not found", "information"]

# A record is a few pages; nothing within these bounds can eat the machine.
Line = Annotated[str, Field(max_length=500)]
Words = Annotated[str, Field(max_length=4000)]
Cell = Annotated[float, Field(allow_inf_nan=False)] | Line


class _Table(BaseModel):
    model_config = ConfigDict(frozen=True, extra="forbid")


class Instrument(_Table):
    """An instrument that was used, with its calibration."""

    name: Line
    serial: Line = ""
    calibrated_on: date | None = None
    due_on: date | None = None
    certificate: Line = ""


class ProbeIdentity(_Table):
    """One measuring chain: tag, and the serial numbers on its parts."""

    name: Line
    channel: Line = ""
    probe_serial: Line = ""
    cable_serial: Line = ""
    driver_serial: Line = ""
    target_material: Line = ""
    scale_factor: Line = ""


class RecordField(_Table):
    """A line of the record's head: what, and its value as text."""

    name: Line
    value: Words


class RecordTable(_Table):
    """A table, as found or as left. Every row has one cell a column; a number or a text."""

    title: Line
    stage: Stage = ""
    columns: Annotated[tuple[Line, ...], Field(min_length=1, max_length=12)]
    rows: Annotated[tuple[tuple[Cell, ...], ...], Field(max_length=2000)] = ()
    note: Words = ""

    @model_validator(mode="after")
    def _rows_fit(self) -> RecordTable:
        for number, row in enumerate(self.rows, 1):
            if len(row) != len(self.columns):
                raise ValueError(
                    f"row {number} has {len(row)} cells, the table has {len(self.columns)} columns"
                )
        return self


class RecordStep(_Table):
    """A step that was to be done: what, what was expected and read, and how it came out."""

    number: Annotated[int, Field(ge=1)]
    title: Line
    do: Words = ""
    expected: Words = ""
    read: Words = ""
    result: Outcome = "not done"
    remark: Words = ""


class StepTable(_Table):
    """Steps of one part of the check, as found or as left."""

    title: Line
    stage: Stage = ""
    steps: Annotated[tuple[RecordStep, ...], Field(max_length=2000)] = ()


class Verdict(_Table):
    """A result with what it rests on: a clause with its edition, or "common practice"."""

    text: Words
    result: Outcome
    basis: Words


class Signature(_Table):
    """Space for a signature: in what role; name and date where they are known."""

    role: Line
    name: Line = ""
    signed_on: date | None = None


class CheckRecord(_Table):
    """The whole record."""

    version: Literal[1] = 1
    kind: RecordKind
    title: Line
    number: Line = ""
    machine: Line = ""
    site: Line = ""
    made_by: Line = ""
    made_at: datetime | None = None
    ambient_c: Annotated[float, Field(allow_inf_nan=False)] | None = None
    program: Line = ""
    source: Line = ""
    remarks: Words = ""
    cautions: tuple[Words, ...] = ()
    field: tuple[RecordField, ...] = ()
    probe: tuple[ProbeIdentity, ...] = ()
    instrument: tuple[Instrument, ...] = ()
    verdict: tuple[Verdict, ...] = ()
    table: tuple[RecordTable, ...] = ()
    steps: tuple[StepTable, ...] = ()
    signature: tuple[Signature, ...] = ()
