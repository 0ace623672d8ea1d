"""The record of a probe check tells what was judged, and can be gone on with."""

from __future__ import annotations

from dataclasses import replace
from datetime import date

import pytest

from analysis.files.record_file import parse_record, record_to_toml
from analysis.model.calibration_entries import AppliedStep, CalibrationTolerances
from analysis.model.calibration_results import RunTolerances
from analysis.model.record import Instrument
from analysis.reporting.check_record import LOOP_CAUTION, check_record
from analysis.reporting.check_tables import (
    applied_steps,
    entry_rows,
    loop_entry,
    run_tolerances,
    tolerances_of,
)
from analysis.reporting.record import CheckHead
from analysis.views.probe_check import CheckRequest, LoopEntry, RunEntry, answer_check

from .test_probe_check_view import FOUND, LEFT, SETUP, rows_of, stretch

HEAD = CheckHead(
    made_by="A. Example",
    ambient_c=21.5,
    instruments=(Instrument(name="Micrometer", calibrated_on=date(2026, 3, 4)),),
)


def again(record):
    """The record, written and opened again."""
    return parse_record(record_to_toml(record), "check.toml")


def record_of(check, **request):
    answer = answer_check(CheckRequest(probe="DE-X", **request))
    return check_record(check, answer, HEAD, material="AISI 4140", setup=SETUP)


class TestCalibration:
    def test_as_left_counts_and_as_found_is_told(self):
        record = record_of("table", rows=rows_of(FOUND.rows, LEFT.rows))
        results = [verdict.result for verdict in record.verdict]
        assert results == ["information"] * 3 + ["pass"] * 3
        assert record.verdict[0].text.endswith("fail")
        assert all("from memory" in verdict.basis for verdict in record.verdict)
        assert [table.stage for table in record.table] == ["as found", "as left", ""]
        assert record.ambient_c == 21.5
        assert record.instrument[0].calibrated_on == date(2026, 3, 4)
        assert record.probe[0].target_material == "AISI 4140"
        assert any("one target material" in caution for caution in record.cautions)

    def test_as_found_alone_counts(self):
        record = record_of("table", rows=rows_of(FOUND.rows))
        assert [verdict.result for verdict in record.verdict] == ["fail"] * 3

    def test_it_can_be_gone_on_with(self):
        rows = rows_of(FOUND.rows, LEFT.rows)
        tolerances = replace(
            CalibrationTolerances(), increment_percent=4.0, deviation_um=20.0, edition="our own"
        )
        record = again(record_of("table", rows=rows, tolerances=tolerances))
        assert entry_rows(record) == rows
        assert tolerances_of(record) == tolerances

    def test_default_tolerances_come_back_as_they_were(self):
        record = again(record_of("table", rows=rows_of(LEFT.rows)))
        assert tolerances_of(record) == CalibrationTolerances()

    def test_a_record_that_was_meddled_with_gives_what_can_be_read(self):
        record = record_of("table", rows=rows_of(LEFT.rows))
        fields = tuple(f for f in record.field if not f.name.startswith("Judged"))
        assert tolerances_of(record.model_copy(update={"field": fields})) is None


APPLIED = {
    0: AppliedStep(250.0, measured_position_ma=4.02),
    1: AppliedStep(500.0),
    2: AppliedStep(1250.0, 50.0, measured_vibration_ma=8.01),
}


class TestRun:
    STRETCHES = (stretch(0.0, 251.0), stretch(3.0, 530.0), stretch(6.0, 1250.0, 49.0))

    def record(self):
        entry = RunEntry(APPLIED, tolerances=RunTolerances(position_um=2.0, edition="ours"))
        return record_of("run", run=entry, stretches=self.STRETCHES, setup=SETUP)

    def test_verdicts_are_of_position_and_of_vibration(self):
        record = self.record()
        told = {verdict.text: verdict.result for verdict in record.verdict}
        assert told == {
            "Position: 2 of 3 steps within tolerance": "fail",
            "Vibration: 1 of 1 steps within tolerance": "pass",
        }
        [position, vibration] = record.table
        due = position.columns.index("Due, mA")
        assert [row[due] for row in position.rows] == [4.0, 6.0, 12.0]
        assert vibration.rows[2][vibration.columns.index("Due, mA")] == 8.0

    def test_it_can_be_gone_on_with(self):
        record = again(self.record())
        assert applied_steps(record) == APPLIED
        assert run_tolerances(record) == RunTolerances(position_um=2.0, edition="ours")

    def test_nothing_applied_is_not_done(self):
        record = record_of("run", stretches=self.STRETCHES, setup=SETUP)
        assert [verdict.result for verdict in record.verdict] == ["not done"]
        assert applied_steps(again(record)) == {}


class TestLoop:
    ENTRY = LoopEntry(
        found=(4.01, 8.02, 12.0, 15.9, 20.0), left=(4.0, 8.0, 12.0, 16.0, None), what="position"
    )

    def test_a_loop_that_is_not_read_through_is_not_done(self):
        record = record_of("loop", loop=self.ENTRY)
        assert [verdict.result for verdict in record.verdict] == ["information", "not done"]
        assert record.cautions[0] == LOOP_CAUTION

    def test_it_can_be_gone_on_with(self):
        assert loop_entry(again(record_of("loop", loop=self.ENTRY))) == self.ENTRY

    def test_volts_become_the_currents_that_they_are(self):
        volts = LoopEntry(found=(1.0, 2.0, 3.0, 4.0, 5.0), in_volts=True)
        back = loop_entry(again(record_of("loop", loop=volts)))
        assert back.found == pytest.approx((4.0, 8.0, 12.0, 16.0, 20.0))
        assert not back.in_volts
