"""The record of a check: to TOML and back unchanged, bad files refused in one line."""

from __future__ import annotations

import tomllib
from dataclasses import replace
from datetime import datetime
from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from pydantic import ValidationError

from analysis.files.record_file import (
    parse_record,
    read_record,
    record_to_toml,
    write_record,
)
from analysis.model.errors import InputError
from analysis.model.proof import StepResult
from analysis.model.record import CheckRecord, RecordTable
from analysis.protection.proof_test import PROOF_CAUTIONS, check_capture, proof_steps
from analysis.reporting.record import CAPTURE_ALONE, CheckHead, proof_record

from .check_record import full_record
from .proof_capture import ALARM, TRIP, captured, doings, setup_with

RIGHT = setup_with(ALARM, TRIP, machine={"title": "Brine pump P-204"})


class TestToml:
    def test_there_and_back(self, tmp_path: Path) -> None:
        path = tmp_path / "check.toml"
        write_record(path, full_record())
        assert read_record(path) == full_record()
        # Any other reader of TOML sees plain values.
        plain = tomllib.loads(path.read_text(encoding="utf-8"))
        assert plain["ambient_c"] == 21.5
        assert plain["made_at"].year == 2026
        assert plain["table"][0]["rows"][2][:2] == [50.0, 8.0]
        assert plain["steps"][0]["steps"][3]["result"] == "not found"

    def test_the_bare_least(self) -> None:
        record = CheckRecord(kind="loop_check", title="")
        text = record_to_toml(record)
        assert 'kind = "loop_check"' in text
        assert "version = 1" in text
        assert parse_record(text, "x") == record

    @settings(deadline=None, max_examples=50)
    @given(st.text(max_size=60), st.floats(allow_nan=False, allow_infinity=False))
    def test_any_text_and_number(self, text: str, number: float) -> None:
        # A record is UTF-8: halves of surrogate pairs are no text.
        text = text.encode("utf-8", "replace").decode("utf-8")
        record = CheckRecord(
            kind="proof_test",
            title=text,
            ambient_c=number,
            table=(RecordTable(title=text, columns=("a", "b"), rows=((number, text),)),),
        )
        assert parse_record(record_to_toml(record), "x") == record

    @pytest.mark.parametrize(
        ("text", "told"),
        [
            ("a = [", "no TOML"),
            ("a = 1", "kind"),
            ('kind = "proof_test"', "title"),
            ('kind = "other"\ntitle = "x"', "kind"),
            ('kind = "loop_check"\ntitle = "x"\nversion = 2', "version"),
            ('kind = "loop_check"\ntitle = "x"\nwhat = 2', "what"),
            ('kind = "loop_check"\ntitle = "x"\nambient_c = nan', "ambient_c"),
            (
                'kind = "loop_check"\ntitle = "x"\n[[table]]\ntitle = "t"\ncolumns = ["a"]\n'
                "rows = [[1.0, 2.0]]",
                "2 cells",
            ),
        ],
    )
    def test_bad_ones_are_refused_in_a_line(self, text: str, told: str) -> None:
        with pytest.raises(InputError) as caught:
            parse_record(text, "bad.toml")
        assert str(caught.value).startswith("bad.toml: ")
        assert told in str(caught.value)
        assert "\n" not in str(caught.value)

    def test_no_file(self, tmp_path: Path) -> None:
        with pytest.raises(InputError, match="no such file"):
            read_record(tmp_path / "none.toml")
        with pytest.raises(InputError, match="no folder"):
            write_record(tmp_path / "none" / "x.toml", full_record())


def test_a_row_must_fit_its_table() -> None:
    with pytest.raises(ValidationError):
        RecordTable(title="t", columns=("a", "b"), rows=((1.0,),))


class TestProofRecord:
    def head(self) -> CheckHead:
        return CheckHead(
            number="PT-1", made_by="A. Tester", made_at=datetime(2026, 2, 24, 10, 5), ambient_c=20.0
        )

    def test_of_a_captured_test(self) -> None:
        """The trip has lost its latch: its verdict fails, the alarm's and the circuit's pass."""
        steps = proof_steps(RIGHT)
        wrong = setup_with(ALARM, TRIP | {"latching": False})
        results = check_capture(steps, captured(doings(RIGHT), wrong))
        record = proof_record(RIGHT, steps, results, self.head())
        assert [verdict.result for verdict in record.verdict] == ["pass", "fail", "pass"]
        assert all(verdict.basis for verdict in record.verdict)
        # A capture holds no relay and no loop, and the record says so.
        alone = [verdict.text.endswith(CAPTURE_ALONE) for verdict in record.verdict]
        assert alone == [True, False, True]
        assert record.machine == "Brine pump P-204"
        assert record.cautions == PROOF_CAUTIONS
        assert [probe.name for probe in record.probe] == ["DE-X"]
        assert "7.874 mV/µm" in record.probe[0].scale_factor
        assert len(record.steps[0].steps) == len(steps)
        assert record.steps[0].stage == "as found"
        failed = [step for step in record.steps[0].steps if step.result == "fail"]
        assert [step.title for step in failed] == [
            "DE-X: p-p trip above 125 µm, back inside",
            "DE-X: p-p trip above 125 µm, reset after",
        ]
        assert "capture," in failed[0].read
        assert [each.role for each in record.signature]
        assert parse_record(record_to_toml(record), "x") == record

    def test_what_has_no_result_is_not_done(self) -> None:
        steps = proof_steps(RIGHT)
        results = [StepResult(step.number, "pass") for step in steps if step.index == 0]
        results = [replace(result, by_hand=True) for result in results]
        record = proof_record(RIGHT, steps, results, self.head())
        assert [verdict.result for verdict in record.verdict] == ["pass", "not done", "not done"]
        assert not record.verdict[0].text.endswith(CAPTURE_ALONE)

    def test_as_found_and_as_left(self) -> None:
        steps = proof_steps(RIGHT)
        found = [
            StepResult(step.number, "fail" if step.kind == "beyond" else "pass") for step in steps
        ]
        left = [StepResult(step.number, "pass") for step in steps]
        first = proof_record(RIGHT, steps, found, self.head())
        both = proof_record(RIGHT, steps, left, self.head(), stage="as left", earlier=first)
        assert [table.stage for table in both.steps] == ["as found", "as left"]
        results = [verdict.result for verdict in both.verdict]
        assert results == ["information"] * 3 + ["pass"] * 3
        assert both.verdict[0].text.endswith("as found: fail")
