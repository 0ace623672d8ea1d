"""What a calibration table tells: closed-form tables with known answers, good and bad."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from analysis.calibration.figures import calibration_figures
from analysis.files.calibration_table import parse_calibration_table
from analysis.model.calibration_entries import NOMINAL_MV_PER_UM, CalibrationTolerances
from analysis.model.calibration_results import CalibrationFigures, CalibrationTable
from analysis.model.units import LengthUnit
from analysis.reporting.calibrate_json import calibrate_document
from analysis.reporting.calibrate_text import calibrate_text, setup_line

K = NOMINAL_MV_PER_UM / 1000.0


def straight(start: float, stop: float, step: float, factor: float = K) -> CalibrationTable:
    gaps = np.arange(start, stop + step / 2.0, step)
    return CalibrationTable(tuple((float(g), float(-0.1 - factor * g)) for g in gaps))


def bent(*changes: tuple[float, float]) -> CalibrationTable:
    """250 to 2250 µm in steps of 250; `changes` are (gap of an increment's end, its error in %)."""
    errors = dict(changes)
    volts, rows = -2.0, [(250.0, -2.0)]
    for gap in range(500, 2251, 250):
        volts -= K * 250.0 * (1.0 + errors.get(float(gap), 0.0) / 100.0)
        rows.append((float(gap), volts))
    return CalibrationTable(tuple(rows))


class TestStraight:
    @pytest.mark.parametrize(
        ("table", "usable"),
        [
            (straight(254.0, 2286.0, 254.0), (254.0, 2286.0)),
            (straight(250.0, 2250.0, 250.0), (250.0, 2250.0)),
            (straight(0.0, 2540.0, 254.0), (0.0, 2540.0)),
            (straight(200.0, 2400.0, 100.0), (200.0, 2400.0)),
        ],
    )
    def test_passes(self, table: CalibrationTable, usable: tuple[float, float]) -> None:
        figures = calibration_figures(table)
        assert figures.verdict == "pass"
        assert figures.reasons == ()
        assert figures.average_mv_per_um == pytest.approx(NOMINAL_MV_PER_UM)
        assert figures.held is not None
        assert figures.held.deviation_um == pytest.approx(0.0, abs=1e-9)
        assert figures.held.offset_v == pytest.approx(-0.1)
        assert figures.best_fit is not None
        assert figures.best_fit.offset_v == pytest.approx(-0.1)
        assert figures.usable_range_um == pytest.approx(usable)
        assert [i.error_percent for i in figures.increments] == pytest.approx(
            [0.0] * (len(table.rows) - 1), abs=1e-9
        )

    def test_in_mil_it_is_the_same(self) -> None:
        lines = [f"{mil},{-0.2 * mil}" for mil in range(10, 91, 10)]
        figures = calibration_figures(parse_calibration_table("gap_mil,volts\n" + "\n".join(lines)))
        assert figures.verdict == "pass"
        assert figures.average_mv_per_um == pytest.approx(200.0 / 25.4)
        assert figures.usable_range_um == pytest.approx((254.0, 2286.0))

    def test_another_nominal_factor(self) -> None:
        table = straight(500.0, 4500.0, 250.0, 0.0039)
        assert calibration_figures(table).verdict == "fail"
        tolerances = CalibrationTolerances(
            nominal_mv_per_um=4.0, testing_range_um=(500.0, 4500.0), least_range_um=4000.0
        )
        figures = calibration_figures(table, tolerances)
        assert figures.verdict == "fail"  # 2.5 % of 4000 µm is 100 µm, ±50 µm
        assert figures.held is not None
        assert figures.held.deviation_um == pytest.approx(50.0)
        assert [i.error_percent for i in figures.increments] == pytest.approx([-2.5] * 16)


class TestJudgedPart:
    def test_metric_rows_are_judged_from_250_to_2250(self) -> None:
        figures = calibration_figures(straight(0.0, 2500.0, 250.0))
        assert figures.judged_range_um == (250.0, 2250.0)
        assert [i.judged for i in figures.increments] == [False, *[True] * 8, False]
        assert [row.judged for row in figures.deviations] == [False, *[True] * 9, False]

    def test_a_flat_start_does_not_fail_the_probe(self) -> None:
        """Contact at 0 µm: the curve is flat there, outside the testing range."""
        rows = ((0.0, -1.2), *bent().rows)
        figures = calibration_figures(CalibrationTable(rows))
        assert not figures.increments[0].within
        assert figures.verdict == "pass"
        assert figures.usable_range_um == (250.0, 2250.0)

    def test_the_average_is_between_the_ends_of_the_range(self) -> None:
        """V(254) and V(2286) interpolated by hand."""
        rows = ((0.0, -0.5), (500.0, -4.0), (2000.0, -16.0), (2500.0, -19.0))
        at_254, at_2286 = -0.5 - 3.5 * 254 / 500, -16.0 - 3.0 * 286 / 500
        figures = calibration_figures(CalibrationTable(rows))
        assert figures.average_mv_per_um == pytest.approx((at_254 - at_2286) / 2032.0 * 1000.0)

    def test_a_short_table_says_what_was_not_judged(self) -> None:
        figures = calibration_figures(straight(500.0, 1500.0, 250.0))
        assert figures.verdict == "fail"
        assert figures.reasons == (
            "The usable range is 1000 µm, from 500 µm to 1500 µm (2000 µm wanted).",
        )
        assert figures.remarks == (
            "The rows stand for 500 µm to 1500 µm of the testing range of 254 µm to 2286 µm; the "
            "rest is not judged.",
        )

    def test_a_table_beside_the_range_fails(self) -> None:
        figures = calibration_figures(straight(3000.0, 6000.0, 250.0))
        assert figures.verdict == "fail"
        assert figures.average_mv_per_um is None
        assert figures.held is None
        assert figures.reasons == (
            "The table has no increment within the testing range of 254 µm to 2286 µm.",
        )
        document = calibrate_document(figures)
        assert document["average_scale_factor_mv_per_um"] is None
        assert document["straight_line_deviation_um"] is None
        assert "no increment within" in calibrate_text(figures)


class TestReasons:
    def test_one_increment(self) -> None:
        """9 % below at 1000-1250 µm: 22.5 µm lost there, ±11.25 µm about the line."""
        figures = calibration_figures(bent((1250.0, -9.0)))
        assert figures.held is not None
        assert figures.held.deviation_um == pytest.approx(11.25)
        assert figures.usable_range_um == (1250.0, 2250.0)
        assert figures.reasons == (
            "The increment from 1000 µm to 1250 µm gives 7.165 mV/µm, 9.0 % below 7.874 mV/µm "
            "(5 % allowed).",
            "The usable range is 1000 µm, from 1250 µm to 2250 µm (2000 µm wanted).",
        )

    def test_neighbours_are_told_together_and_sides_apart(self) -> None:
        figures = calibration_figures(bent((500.0, 6.0), (750.0, 8.0), (1000.0, -7.0)))
        assert [r.split(" gives ")[0].split(" give ")[0] for r in figures.reasons[:2]] == [
            "The 2 increments from 250 µm to 750 µm",
            "The increment from 750 µm to 1000 µm",
        ]
        assert "up to 8.0 % above" in figures.reasons[0]

    def test_in_mil(self) -> None:
        figures = calibration_figures(bent((1250.0, -9.0)), unit=LengthUnit.MIL)
        assert figures.reasons[0] == (
            "The increment from 39.4 mil to 49.2 mil gives 182.0 mV/mil, 9.0 % below "
            "200.0 mV/mil (5 % allowed)."
        )

    def test_deviation_alone(self) -> None:
        """Eight increments 4 % low: 80 µm over 2000 µm, ±40 µm; increments are within."""
        figures = calibration_figures(bent(*((float(g), -4.0) for g in range(500, 2251, 250))))
        assert figures.reasons[0] == (
            "The deviation from the straight line reaches 40.0 µm at 250 µm and 2250 µm (25.4 µm "
            "allowed, slope held at 7.874 mV/µm)."
        )
        # ±25.4 µm are used up after 1270 µm: five increments of 10 µm each.
        assert figures.usable_range_um == (250.0, 1500.0)
        assert figures.best_fit is not None
        assert figures.best_fit.deviation_um == pytest.approx(0.0, abs=1e-9)

    def test_another_material_is_thought_of(self) -> None:
        figures = calibration_figures(straight(250.0, 2250.0, 250.0, 1.28 * K))
        assert figures.verdict == "fail"
        assert figures.usable_range_um is None
        assert "no usable range" in figures.reasons[-1]
        assert any("target material" in remark for remark in figures.remarks)
        assert not any("target" in r for r in calibration_figures(bent((500.0, 9.0))).remarks)

    def test_on_the_tolerance_is_within(self) -> None:
        lines = [(mil * 25.4, -0.1 * mil * 2.0 * 0.95) for mil in range(10, 91, 10)]
        figures = calibration_figures(
            CalibrationTable(tuple(lines)), CalibrationTolerances(deviation_um=100.0)
        )
        assert all(i.within for i in figures.increments)
        assert figures.verdict == "pass"


def test_rows_out_of_order_are_a_fault_of_the_caller() -> None:
    for rows in (((1.0, -1.0), (2.0, -2.0)), ((1.0, -1.0), (3.0, -2.0), (2.0, -3.0))):
        with pytest.raises(ValueError, match=r"three rows|must rise"):
            calibration_figures(CalibrationTable(rows))
    with pytest.raises(ValueError, match="must rise"):
        CalibrationTolerances(testing_range_um=(5.0, 5.0))
    with pytest.raises(ValueError, match="above zero"):
        CalibrationTolerances(nominal_mv_per_um=0.0)


def plain_usable(figures: CalibrationFigures) -> float:
    """Length of the usable range, by trying every run."""
    rows, tolerances = figures.table.rows, figures.tolerances
    k = tolerances.nominal_mv_per_um / 1000.0
    best = 0.0
    for i in range(len(rows)):
        for j in range(i + 1, len(rows)):
            level = [(v + k * g) / k for g, v in rows[i : j + 1]]
            if all(step.within for step in figures.increments[i:j]) and (
                max(level) - min(level) <= 2.0 * tolerances.deviation_um
            ):
                best = max(best, rows[j][0] - rows[i][0])
    return best


@settings(max_examples=150, deadline=None)
@given(st.lists(st.tuples(st.floats(60.0, 400.0), st.floats(-12.0, 12.0)), min_size=3, max_size=14))
def test_usable_range_is_the_longest_run(steps: list[tuple[float, float]]) -> None:
    gap, volts, rows = 200.0, -1.5, [(200.0, -1.5)]
    for length, error in steps:
        gap, volts = gap + length, volts - K * length * (1.0 + error / 100.0)
        rows.append((gap, volts))
    figures = calibration_figures(CalibrationTable(tuple(rows)))
    found = figures.usable_range_um
    length = 0.0 if found is None else found[1] - found[0]
    assert length == pytest.approx(plain_usable(figures), abs=1e-6)
    assert (figures.verdict == "fail") is bool(figures.reasons)


def test_document_is_the_contracts() -> None:
    figures = calibration_figures(bent((1250.0, -9.0)))
    document = calibrate_document(figures)
    assert document["average_scale_factor_mv_per_um"] == figures.average_mv_per_um
    assert document["incremental"][3]["gap_um"] == 1250.0
    assert document["incremental"][3]["error_percent"] == pytest.approx(-9.0)
    assert document["incremental"][3]["scale_factor_mv_per_um"] == pytest.approx(0.91 * K * 1000)
    assert document["straight_line_deviation_um"] == pytest.approx(11.25)
    assert document["linear_range_um"] == [1250.0, 2250.0]
    assert document["verdict"] == "fail"
    assert document["reasons"] == list(figures.reasons)


def test_text_marks_what_is_beyond() -> None:
    text = calibrate_text(calibration_figures(CalibrationTable(((0.0, -1.2), *bent().rows))))
    assert "Verdict  PASS" in text
    (row,) = [line for line in text.splitlines() if line.startswith("250 ")]
    assert row.split()[2:4] == ["3.200", "(-59.4*)"]
    assert setup_line(calibration_figures(bent())).startswith("calibration = [[250, -2], [500, -")
