"""What the Probe check page asks: everything typed is judged as the functions below it judge."""

from __future__ import annotations

from pathlib import Path

import pytest

from analysis.calibration.figures import calibration_figures
from analysis.files.calibration_table import read_calibration_table
from analysis.files.open import open_capture
from analysis.files.setup_read import parse_setup
from analysis.model.calibration_entries import AppliedStep
from analysis.model.calibration_results import SteadyStretch
from analysis.model.errors import InputError
from analysis.model.setup import Output, Probe, Setup
from analysis.model.span import TimeSpan
from analysis.model.units import LengthUnit
from analysis.views.curve_effect import answer_curve_effect, setup_with_curve
from analysis.views.probe_check import (
    CheckRequest,
    EntryRow,
    LoopEntry,
    RunEntry,
    answer_check,
    cell_of,
    pasted_rows,
    placed,
)
from analysis.views.readings import read_span

SAMPLES = Path(__file__).parents[2] / "sample_data"
FOUND, LEFT = (
    read_calibration_table(SAMPLES / "tables" / name)
    for name in ("de_x_as_found.csv", "de_x_as_left.csv")
)
SETUP = Setup(
    probe=(Probe(name="DE-X", scale_factor_mv_per_um=7.874, linear_range_um=(250.0, 2280.0)),),
    output=(
        Output(probe="DE-X", measure="position", range_um=(250.0, 2250.0)),
        Output(probe="DE-X", measure="peak_to_peak", range_um=(0.0, 200.0)),
    ),
)


def rows_of(found=(), left=()) -> tuple[EntryRow, ...]:
    one, two = dict(found), dict(left)
    return tuple(EntryRow(gap, one.get(gap), two.get(gap)) for gap in sorted(one | two))


def stretch(start_s: float, gap_um: float, pp_um: float = 1.0) -> SteadyStretch:
    return SteadyStretch(
        start_s, start_s + 2.0, gap_um, -gap_um * 0.007874, 0.1, pp_um, pp_um, None, None
    )


class TestTable:
    def test_typed_rows_are_judged_as_the_file_is(self):
        answer = answer_check(CheckRequest(rows=rows_of(FOUND.rows, LEFT.rows)))
        for stage, table in (("as found", FOUND), ("as left", LEFT)):
            own, other = answer.stage(stage).figures, calibration_figures(table)
            assert own.increments == other.increments
            assert own.held == other.held
            assert own.usable_range_um == other.usable_range_um
            assert own.reasons == other.reasons
        assert answer.found.figures.verdict == "fail"
        assert answer.left.figures.verdict == "pass"
        assert answer.counting[0] == "as left"
        assert answer.comparison.found_verdict == "fail"

    def test_mil_changes_words_and_no_figure(self):
        rows = rows_of(FOUND.rows)
        um = answer_check(CheckRequest(rows=rows)).found.figures
        mil = answer_check(CheckRequest(rows=rows, unit=LengthUnit.MIL)).found.figures
        assert mil.average_mv_per_um == pytest.approx(um.average_mv_per_um, rel=1e-9)
        assert mil.usable_range_um == pytest.approx(um.usable_range_um)
        assert "mil" in mil.reasons[0]
        assert "µm" in um.reasons[0]

    def test_an_error_names_the_row_as_it_is_numbered(self):
        rows = (
            EntryRow(250.0, -2.0),
            EntryRow(500.0, None, -4.0),
            EntryRow(750.0, "minus six"),
            EntryRow(1000.0, -7.9),
        )
        answer = answer_check(CheckRequest(rows=rows))
        assert answer.found.figures is None
        assert "row 3" in answer.found.error
        assert "minus six" in answer.found.error
        # One row of the other stage makes no table either, and says so by itself.
        assert "1 row cannot show a straight line" in answer.left.error

    def test_volts_without_a_gap_are_told(self):
        rows = (*rows_of(FOUND.rows), EntryRow(None, -20.5))
        assert "row 11" in answer_check(CheckRequest(rows=rows)).found.error

    def test_nothing_typed_is_no_error(self):
        answer = answer_check(CheckRequest())
        assert answer.counting is None
        assert (answer.found.error, answer.left.error) == ("", "")

    def test_tables_without_common_ground_stand_by_themselves(self):
        low = [(gap, -gap * 0.007874) for gap in (250.0, 300.0, 350.0)]
        high = [(gap, -gap * 0.007874) for gap in (1250.0, 1300.0, 1350.0)]
        answer = answer_check(CheckRequest(rows=rows_of(low, high)))
        assert answer.comparison is None
        assert answer.found.figures is not None
        assert answer.left.figures is not None


class TestTyping:
    @pytest.mark.parametrize(
        ("text", "cell"),
        [
            ("-9.84", -9.84),
            ("−9,84", -9.84),
            (" 250 ", 250.0),
            ("", None),
            ("1.234,5", "1.234,5"),
            ("nan", "nan"),
            ("n/a", "n/a"),
        ],
    )
    def test_cells(self, text, cell):
        assert cell_of(text) == cell

    def test_a_table_with_names_decimal_commas_and_mil(self):
        rows = pasted_rows("gap_mil\tvolts\n10\t-2,00\n20\t-4,00\n30\t-6,00\n", LengthUnit.UM)
        assert [gap for gap, _, _ in rows] == pytest.approx([254.0, 508.0, 762.0])
        assert [volts for _, volts, _ in rows] == [-2.0, -4.0, -6.0]

    def test_without_names_gaps_are_in_the_unit_shown(self):
        text = "10\t-2\n20\t-4\n30\t-6"
        assert pasted_rows(text, LengthUnit.MIL)[0][0] == pytest.approx(254.0)
        text = "250\t-2\n500\t-4\n750\t-6"
        assert pasted_rows(text, LengthUnit.UM)[0][0] == 250.0

    def test_three_columns_are_as_found_and_as_left(self):
        text = "gap mil\tfound\tleft\n10\t-1,9\t-2\n20\t-4,1\t-4\n30\t-6,2\t-6\n40\t-8,3\t-8"
        rows = pasted_rows(text, LengthUnit.UM)
        assert rows[0] == pytest.approx((254.0, -1.9, -2.0))
        assert rows[-1] == pytest.approx((1016.0, -8.3, -8.0))

    def test_what_is_no_table_is_refused_in_one_line(self):
        with pytest.raises(InputError) as error:
            pasted_rows("gap_um\tvolts\n250\t-2\n500\t-1\n750\t-6", LengthUnit.UM)
        assert "\n" not in str(error.value)
        assert "rise" in str(error.value)


class TestLoop:
    def test_currents_and_voltages_give_the_same_errors(self):
        read = (4.01, 8.02, 12.0, 15.9, None)
        by_current = answer_check(CheckRequest(loop=LoopEntry(found=read)))
        volts = tuple(None if r is None else r * 0.25 for r in read)
        entry = LoopEntry(found=volts, in_volts=True)
        by_voltage = answer_check(CheckRequest(loop=entry))
        one, two = by_current.loop["as found"], by_voltage.loop["as found"]
        for a, b in zip(one.points[:4], two.points[:4], strict=True):
            assert a.error_percent == pytest.approx(b.error_percent, abs=1e-9)
        assert one.points[3].error_percent == pytest.approx(-100.0 * 0.1 / 16.0)
        assert one.points[3].result == "fail"
        assert one.verdict == "fail"
        assert by_current.loop["as left"].verdict is None

    def test_an_empty_range_is_told(self):
        answer = answer_check(CheckRequest(loop=LoopEntry(low_um=5.0, high_um=5.0)))
        assert answer.loop == {}
        assert "differ" in answer.loop_error


class TestRun:
    STRETCHES = (stretch(0.0, 251.0), stretch(3.0, 505.0), stretch(6.0, 1250.0, 49.0))

    def ask(self, **entry):
        return answer_check(
            CheckRequest(run=RunEntry(**entry), stretches=self.STRETCHES, setup=SETUP, probe="DE-X")
        ).run

    def test_what_is_typed_beside_a_stretch_belongs_to_it_however_far_it_is(self):
        run = self.ask(applied={1: AppliedStep(gap_um=2000.0)})
        assert [step.applied is not None for step in run.steps] == [False, True, False]
        assert run.steps[1].position.error_um == pytest.approx(-1495.0)
        assert run.verdict == "fail"

    def test_errors_are_of_full_scale(self):
        run = self.ask(applied={2: AppliedStep(1240.0, 50.0, measured_position_ma=12.0)})
        step = run.steps[2]
        assert step.position.error_percent == pytest.approx(0.5)
        assert step.position.expected_ma == pytest.approx(4.0 + 16.0 * 990.0 / 2000.0)
        assert step.position.current_error_percent == pytest.approx(0.5)
        assert step.vibration.error_percent == pytest.approx(-0.5)
        assert run.verdict == "pass"

    def test_a_list_is_put_beside_the_stretches_that_it_fits(self):
        listed = (AppliedStep(250.0), AppliedStep(1250.0, 50.0), AppliedStep(2200.0))
        entry = placed(listed, self.STRETCHES, SETUP, "DE-X")
        assert set(entry.applied) == {0, 2}
        assert entry.missing == (AppliedStep(2200.0),)
        run = self.ask(applied=entry.applied, missing=entry.missing)
        assert run.steps[-1].stretch is None
        assert run.verdict == "fail"

    def test_without_steps_there_is_no_run(self):
        request = CheckRequest(setup=SETUP, probe="DE-X")
        assert answer_check(request).run is None
        request = CheckRequest(setup=SETUP, probe="gone", stretches=self.STRETCHES)
        assert answer_check(request).run is None


@pytest.fixture(scope="module")
def capture():
    opened = open_capture(SAMPLES / "run_up.h5")
    yield opened
    opened.close()


class TestEffect:
    def test_it_tells_the_readings_of_both_setups(self, capture):
        setup = parse_setup(capture.setup_toml, "run_up.h5")[0]
        changed = setup_with_curve(setup, "DE-X", LEFT.rows)
        span = TimeSpan(79.5, 80.5)
        effect = answer_curve_effect(capture, setup, changed, "DE-X", span)
        before, after = (read_span(capture, each, span) for each in (setup, changed))
        told = {row.what: row for row in effect.rows}
        assert told["gap"].now == before.probes["DE-X"].gap_um.value
        assert told["gap"].then == after.probes["DE-X"].gap_um.value
        assert told["gap"].change != 0.0
        assert told["S max"].then == after.planes["Drive end"].s_max_um
        assert told["1X"].kind == "length"

    def test_the_setup_in_use_is_left_alone(self, capture):
        setup = parse_setup(capture.setup_toml, "run_up.h5")[0]
        changed = setup_with_curve(setup, "DE-X", LEFT.rows)
        assert setup.probe_named("DE-X").calibration is None
        assert len(changed.probe_named("DE-X").calibration) == len(LEFT.rows)
        assert changed.limit == setup.limit
        assert changed.probe_named("DE-Y") == setup.probe_named("DE-Y")
