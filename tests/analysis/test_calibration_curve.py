"""A table as a probe's curve, and two tables against each other."""

from __future__ import annotations

import tomllib

import numpy as np
import pytest

from analysis.calibration.curve import compare_tables, with_calibration
from analysis.calibration.figures import calibration_figures
from analysis.files.calibration_table import parse_calibration_table
from analysis.files.setup_read import parse_setup
from analysis.files.setup_write import setup_to_toml
from analysis.model.calibration_results import CalibrationTable
from analysis.model.errors import InputError
from analysis.model.setup import KnownPoint, Probe, Setup
from analysis.reporting.calibrate_json import calibrate_document
from analysis.reporting.calibrate_text import calibrate_text, setup_line
from analysis.rotor.gap import gap_from_volts, volts_from_gap

PROBE = Probe(
    name="DE-X",
    channel="DE_X",
    angle_deg=45.0,
    scale_factor_mv_per_um=7.874,
    point=KnownPoint(gap_um=1250, volts=-9.84),
    linear_range_um=(250.0, 2280.0),
    fault_v=(-22.0, -0.5),
)
ROWS = ((250.0, -2.0), (1000.0, -8.0), (2000.0, -15.0), (2250.0, -16.0))


class TestCurveOfAProbe:
    def test_rows_are_what_the_gap_is_read_from(self) -> None:
        probe = with_calibration(PROBE, ROWS)
        gaps = gap_from_volts(np.array([-2.0, -5.0, -8.0, -11.5, -15.5, -1.2, -16.4]), probe)
        assert gaps == pytest.approx([250.0, 625.0, 1000.0, 1500.0, 2125.0, 150.0, 2350.0])
        assert volts_from_gap(gaps, probe)[3] == pytest.approx(-11.5)

    def test_everything_else_stays(self) -> None:
        probe = with_calibration(PROBE, reversed(ROWS))  # type: ignore[arg-type]
        assert probe.model_copy(update={"calibration": None}) == PROBE
        assert PROBE.calibration is None
        assert with_calibration(PROBE, ROWS, linear_range_um=(254.0, 2032.0)).linear_range_um == (
            254.0,
            2032.0,
        )

    def test_it_is_monotone(self) -> None:
        probe = with_calibration(PROBE, ROWS)
        volts = np.linspace(-18.0, -0.5, 2001)
        assert (np.diff(gap_from_volts(volts, probe)) < 0.0).all()

    def test_a_table_in_mil_leaves_no_tails_of_digits(self) -> None:
        text = "gap_mil,volts\n" + "".join(f"{m},{-0.2 * m}\n" for m in range(10, 91, 10))
        probe = with_calibration(PROBE, parse_calibration_table(text).rows)
        written = setup_to_toml(Setup(probe=(probe,)))
        assert "254.0, -2.0" in written
        assert (
            max(
                len(word)
                for line in written.splitlines()
                if "calib" in line
                for word in line.split(",")
            )
            < 25
        )
        again, _ = parse_setup(written, "again")
        assert again.probe[0] == probe

    @pytest.mark.parametrize(
        ("rows", "said"),
        [
            (ROWS[:2], "at least three rows"),
            ((*ROWS, (2500.0, -15.5)), "must fall in volts"),
            ((*ROWS, (2250.0004, -16.5)), "2250 µm twice"),
        ],
    )
    def test_no_curve(self, rows: tuple[tuple[float, float], ...], said: str) -> None:
        with pytest.raises(InputError, match=f"probe DE-X: .*{said}") as caught:
            with_calibration(PROBE, rows)
        assert "\n" not in str(caught.value)

    def test_the_line_for_a_setup_is_toml(self) -> None:
        line = setup_line(calibration_figures(CalibrationTable(ROWS)))
        assert tomllib.loads(line) == {"calibration": [list(row) for row in ROWS]}


class TestAsFoundAsLeft:
    def figures(self, *rows: tuple[float, float]):  # type: ignore[no-untyped-def]
        return calibration_figures(CalibrationTable(rows, source="t.csv"))

    def test_a_shift_of_volts(self) -> None:
        """As left 0.1 V lower on a line of 8 mV/µm: gaps are read 12.5 µm smaller."""
        found = self.figures(*((g, -0.008 * g) for g in (250.0, 750.0, 1250.0, 2250.0)))
        left = self.figures(*((g, -0.1 - 0.008 * g) for g in (500.0, 750.0, 1500.0, 2000.0)))
        compared = compare_tables(found, left)
        assert [row.gap_um for row in compared.rows] == [500.0, 750.0, 1250.0, 1500.0, 2000.0]
        assert [row.change_um for row in compared.rows] == pytest.approx([-12.5] * 5)
        assert [row.change_v for row in compared.rows] == pytest.approx([-0.1] * 5)
        assert compared.rows[2].found_v == pytest.approx(-10.0)
        assert compared.average_change_percent == pytest.approx(0.0, abs=1e-9)

    def test_a_change_of_factor(self) -> None:
        """8.0 to 8.4 mV/µm: what was read as 2000 µm is 2000/1.05 µm."""
        gaps = (250.0, 1000.0, 2000.0)
        found = self.figures(*((g, -0.0080 * g) for g in gaps))
        left = self.figures(*((g, -0.0084 * g) for g in gaps))
        compared = compare_tables(found, left)
        assert compared.worst.gap_um == 2000.0
        assert compared.worst.change_um == pytest.approx(2000.0 / 1.05 - 2000.0)
        assert compared.average_change_percent == pytest.approx(5.0)
        assert (compared.found_verdict, compared.left_verdict) == ("fail", "fail")
        assert "by up to 95.2 µm, at 2000 µm" in calibrate_text(left, compared)
        document = calibrate_document(left, compared)["as_found"]
        assert document["largest_change_um"] == pytest.approx(-95.238, abs=1e-3)
        assert [row["gap_um"] for row in document["rows"]] == list(gaps)

    def test_rows_in_mil_and_um_meet(self) -> None:
        found = self.figures(*((m * 25.4, -0.2 * m) for m in (10.0, 50.0, 90.0)))
        left = self.figures((254.0, -2.0), (1270.0, -10.0), (2286.0, -18.0))
        compared = compare_tables(found, left)
        assert len(compared.rows) == 3
        assert compared.worst.change_um == pytest.approx(0.0, abs=1e-6)

    def test_no_common_ground(self) -> None:
        found = self.figures((100.0, -1.0), (200.0, -2.0), (300.0, -3.0))
        left = self.figures((1100.0, -9.0), (1200.0, -10.0), (1300.0, -11.0))
        with pytest.raises(InputError, match="no gaps in common"):
            compare_tables(found, left)
