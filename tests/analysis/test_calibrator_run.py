"""A probe on a calibrator: steps found by themselves, read and held against what was applied.

The captures are made of closed forms here; the sample is held against its recipe's truth.
"""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest

from analysis.calibration.matching import matched
from analysis.calibration.run import calibrator_run, table_from_run
from analysis.calibration.run_judge import RunRequest
from analysis.calibration.run_words import run_failures
from analysis.calibration.stretches import StepSettings, steady_stretches
from analysis.files.open import open_capture
from analysis.files.setup_read import parse_setup
from analysis.jobs import JobCancelled
from analysis.model.calibration_entries import AppliedStep
from analysis.model.calibration_results import CalibratorRun, RunTolerances, SteadyStretch
from analysis.model.capture import ArraySource, Capture, Channel
from analysis.model.errors import InputError
from analysis.model.setup import Output, Probe, Setup
from analysis.model.span import TimeSpan
from analysis.model.units import LengthUnit
from analysis.simulate.recipe import read_recipe
from analysis.simulate.truth import Truth

RATE = 4096.0
K = 0.007874
PROBE = Probe(
    name="P",
    scale_factor_mv_per_um=1000.0 * K,
    linear_range_um=(250.0, 2250.0),
    fault_v=(-22.0, -0.5),
)
SETUP = Setup(
    probe=(PROBE,),
    output=(
        Output(probe="P", measure="position", range_um=(250.0, 2250.0)),
        Output(probe="P", measure="peak_to_peak", range_um=(0.0, 200.0)),
    ),
)
SAMPLES = Path(__file__).parents[2] / "sample_data"


def capture_of(
    steps: list[tuple[float, float, float, float]],
    *,
    move_s: float = 0.3,
    noise_um: float = 0.0,
    rate: float = RATE,
) -> Capture:
    """Steps (gap µm, µm p-p, Hz, length s), each moved to along a straight line in `move_s`."""
    times, gaps, levels, phases = [0.0], [steps[0][0]], [steps[0][1]], []
    for number, (gap, level, _, length) in enumerate(steps):
        if number:
            times.append(times[-1] + move_s)
            gaps.append(gap)
            levels.append(level)
        times.append(times[-1] + length)
        gaps.append(gap)
        levels.append(level)
    t = np.arange(round(times[-1] * rate)) / rate
    edges = np.array(times)
    hertz = np.full(len(t), steps[-1][2])
    for number, step in reversed(list(enumerate(steps))):
        hertz[t < edges[2 * number + 1]] = step[2]
    phases = 2.0 * np.pi * np.cumsum(hertz) / rate
    gap = np.interp(t, edges, gaps) + np.interp(t, edges, levels) / 2.0 * np.cos(phases)
    gap += np.random.default_rng(7).normal(0.0, noise_um, len(t)) if noise_um else 0.0
    channel = Channel("P", rate, ArraySource(-K * gap))
    return Capture("calibrator", {"P": channel})


def spans_of(capture: Capture, settings: StepSettings | None = None) -> list[TimeSpan]:
    channel = capture.channels["P"]
    return list(steady_stretches(channel, PROBE, channel.span, settings))


class TestStretches:
    def test_steps_of_position(self) -> None:
        steps = [(g, 0.0, 80.0, 2.0) for g in (300.0, 310.0, 500.0, 2200.0, 500.0)]
        found = spans_of(capture_of(steps, noise_um=0.3))
        assert len(found) == 5
        for number, span in enumerate(found):
            start = number * 2.3
            assert start - 1e-9 <= span.start_s <= start + 0.25
            assert start + 1.75 <= span.end_s <= start + 2.0 + 1e-9

    def test_steps_of_vibration_at_one_gap(self) -> None:
        steps = [(1250.0, level, 80.0, 2.5) for level in (0.0, 10.0, 20.0, 125.0, 100.0)]
        found = spans_of(capture_of(steps, noise_um=0.3))
        assert [round(span.start_s / 2.8) for span in found] == [0, 1, 2, 3, 4]

    def test_a_slow_ramp_is_no_step(self) -> None:
        t = np.arange(round(30.0 * RATE)) / RATE
        for rate_um_s in (0.5, 5.0, 50.0):
            volts = -K * (500.0 + rate_um_s * t)
            assert spans_of(Capture("ramp", {"P": Channel("P", RATE, ArraySource(volts))})) == []

    def test_a_slowly_growing_vibration_is_no_step(self) -> None:
        t = np.arange(round(30.0 * RATE)) / RATE
        volts = -K * (1250.0 + (10.0 + 3.0 * t) / 2.0 * np.cos(2.0 * np.pi * 80.0 * t))
        assert spans_of(Capture("swell", {"P": Channel("P", RATE, ArraySource(volts))})) == []

    def test_a_step_before_and_after_a_ramp(self) -> None:
        steps = [(500.0, 0.0, 80.0, 3.0), (2000.0, 0.0, 80.0, 3.0)]
        found = spans_of(capture_of(steps, move_s=10.0))
        assert len(found) == 2
        assert found[0].end_s <= 3.0
        assert found[1].start_s >= 13.0

    @pytest.mark.parametrize(("seconds", "count"), [(0.7, 0), (1.5, 3)])
    def test_short_steps(self, seconds: float, count: int) -> None:
        steps = [(g, 0.0, 80.0, seconds) for g in (500.0, 700.0, 900.0)]
        assert len(spans_of(capture_of(steps))) == count

    def test_a_fault_belongs_to_no_stretch(self) -> None:
        capture = capture_of([(1250.0, 0.0, 80.0, 9.0)])
        volts = capture.channels["P"].volts(0, len(capture.channels["P"]))
        volts[round(4.0 * RATE) : round(4.5 * RATE)] = -23.5
        volts[round(7.0 * RATE)] = np.nan
        broken = Capture("fault", {"P": Channel("P", RATE, ArraySource(volts))})
        found = spans_of(broken)
        assert len(found) == 3
        for span in found:
            assert not (span.start_s < 4.5 and span.end_s > 4.0)
            assert not span.start_s < 7.0 < span.end_s

    def test_all_at_fault_or_too_short(self) -> None:
        for volts in (np.full(20_000, -23.9), np.full(20_000, np.nan), np.full(50, -9.8)):
            capture = Capture("none", {"P": Channel("P", RATE, ArraySource(volts))})
            assert spans_of(capture) == []

    def test_a_slow_shaker_needs_longer_blocks(self) -> None:
        capture = capture_of([(1250.0, 100.0, 5.0, 6.0)])
        assert spans_of(capture) == []
        assert len(spans_of(capture, StepSettings(lowest_hz=4.0))) == 1

    def test_settings_that_cannot_be(self) -> None:
        with pytest.raises(ValueError, match="above zero"):
            StepSettings(lowest_hz=0.0)


def stretch(gap: float, level: float) -> SteadyStretch:
    return SteadyStretch(0.0, 1.0, gap, -K * gap, 0.0, level, level, level or None, None)


class TestMatching:
    found = (stretch(500, 1), stretch(750, 1), stretch(752, 1), stretch(750, 51), stretch(1000, 1))

    def places(self, *applied: AppliedStep) -> tuple[int | None, ...]:
        return matched(applied, self.found, 2000.0, 200.0)

    def test_one_each(self) -> None:
        gaps = (500, 750, 750, 750, 1000)
        assert self.places(*(AppliedStep(g) for g in gaps)) == (0, 1, 2, 3, 4)

    def test_the_nearest_of_some(self) -> None:
        assert self.places(AppliedStep(752, 0.0), AppliedStep(1000, 0.0)) == (2, 4)
        assert self.places(AppliedStep(750, 50.0)) == (3,)
        assert self.places(AppliedStep(None, 50.0)) == (3,)

    def test_order_is_kept(self) -> None:
        assert self.places(AppliedStep(1000, 0.0), AppliedStep(500, 0.0)) in (
            (4, None),
            (None, 0),
        )

    def test_far_is_not_found(self) -> None:
        assert self.places(AppliedStep(500), AppliedStep(2200), AppliedStep(1000)) == (0, None, 4)

    def test_none_at_all(self) -> None:
        assert self.places() == ()
        assert matched((AppliedStep(500),), (), 2000.0, 200.0) == (None,)


def run_of(capture: Capture, *applied: AppliedStep, setup: Setup = SETUP) -> CalibratorRun:
    return calibrator_run(capture, setup, RunRequest("P", applied))


class TestReadings:
    steps = ((500.0, 0.0, 60.0, 2.0), (1250.0, 0.0, 60.0, 2.0), (1250.0, 80.0, 60.0, 3.0))

    def test_truth_without_noise(self) -> None:
        run = run_of(capture_of(list(self.steps)))
        assert len(run.steps) == 3
        for step, (gap, level, hertz, _) in zip(run.steps, self.steps, strict=True):
            assert step.stretch is not None
            assert step.stretch.gap_um == pytest.approx(gap, abs=0.02)
            assert step.stretch.gap_v == pytest.approx(-K * gap, abs=2e-4)
            # 68 samples a period: the largest is off by (π/68)²/2, 0.1 %, at most.
            assert step.stretch.peak_to_peak_um == pytest.approx(level, abs=0.0015 * level + 0.01)
            if level:
                assert step.stretch.sine_um_pp == pytest.approx(level, rel=1e-4)
                assert step.stretch.frequency_hz == pytest.approx(hertz, abs=1e-3)
        assert run.verdict is None
        assert all(step.applied is None for step in run.steps)

    def test_errors_and_currents(self) -> None:
        """25 µm of 2000 µm are 1.25 %; 80 of 200 µm p-p are 10.4 mA."""
        run = run_of(
            capture_of(list(self.steps)),
            AppliedStep(500.0),
            AppliedStep(1225.0),
            AppliedStep(1250.0, 80.0, 60.5, measured_vibration_ma=10.48),
        )
        one, two, three = run.steps
        assert one.position is not None
        assert two.position is not None
        assert three.vibration is not None
        assert one.result == "pass"
        assert (two.position.error_um, two.position.error_percent) == pytest.approx(
            (25.0, 1.25), abs=0.01
        )
        assert two.position.expected_ma == pytest.approx(4.0 + 16.0 * 975.0 / 2000.0)
        assert two.position.reading_ma == pytest.approx(12.0, abs=1e-3)
        assert two.result == "fail"
        assert three.vibration.expected_ma == pytest.approx(10.4)
        assert three.vibration.current_error_percent == pytest.approx(0.5)
        assert three.frequency_error_hz == pytest.approx(-0.5, abs=1e-3)
        assert three.result == "pass"
        assert run.verdict == "fail"
        assert run.reasons == (
            "Step 2: position reads 1250.0 µm where 1225 µm is applied, +1.25 % of full scale.",
        )

    def test_a_loop_that_is_off_fails_though_the_reading_is_right(self) -> None:
        applied = AppliedStep(500.0, measured_position_ma=6.2)  # 6.0 due, 1.25 % of span
        run = run_of(capture_of(list(self.steps)), applied)
        assert run.verdict == "fail"
        assert "6.200 mA where 6.000 mA is due, +1.25 % of span" in run.reasons[0]
        assert "2 steady stretches held against nothing" in run.notices

    def test_tolerances_are_the_users(self) -> None:
        capture = capture_of(list(self.steps))
        for percent, length, verdict in (
            (1.3, 0.0, "pass"),
            (1.0, 6.0, "pass"),
            (1.0, 4.0, "fail"),
        ):
            tolerances = RunTolerances(position_percent=percent, position_um=length)
            request = RunRequest("P", (AppliedStep(1225.0),), tolerances)
            assert calibrator_run(capture, SETUP, request).verdict == verdict

    def test_a_step_that_is_not_there(self) -> None:
        run = run_of(capture_of(list(self.steps)), AppliedStep(500.0), AppliedStep(2250.0))
        missing = [step for step in run.steps if step.stretch is None]
        assert len(missing) == 1
        assert run.verdict == "fail"
        assert run.reasons[0].endswith("a gap of 2250 µm is not in the capture.")

    def test_without_outputs(self) -> None:
        """Full scale of position is the linear range; of vibration none is known, nor a verdict."""
        alone = Setup(probe=(PROBE,))
        run = run_of(capture_of(list(self.steps)), AppliedStep(1250.0, 80.0), setup=alone)
        (step,) = [step for step in run.steps if step.applied is not None]
        assert step.position is not None
        assert step.vibration is not None
        assert step.position.full_scale_um == 2000.0
        assert step.position.expected_ma is None
        assert step.vibration.error_percent is None
        assert step.vibration.result is None
        assert step.result == "pass"
        assert any("no current output of p-p" in notice for notice in run.notices)

    def test_a_slow_shaker(self) -> None:
        """7 Hz: blocks of 0.1 s would hold 0.7 of a movement, so it is read period by period."""
        capture = capture_of([(1250.0, 100.0, 7.0, 8.0)])
        request = RunRequest("P", (), settings=StepSettings(lowest_hz=4.0))
        (step,) = calibrator_run(capture, SETUP, request).steps
        assert step.stretch is not None
        assert step.stretch.peak_to_peak_um == pytest.approx(100.0, abs=0.2)
        assert step.stretch.gap_um == pytest.approx(1250.0, abs=0.2)
        assert step.stretch.frequency_hz == pytest.approx(7.0, abs=1e-3)

    def test_nothing_steady_is_said(self) -> None:
        t = np.arange(40_000) / RATE
        channel = Channel("P", RATE, ArraySource(-K * (500.0 + 100.0 * t)))
        run = run_of(Capture("ramp", {"P": channel}), AppliedStep(500.0))
        assert run.verdict == "fail"
        assert "no steady stretch of 1 s or more" in run.notices[0]

    def test_names_that_are_not_there(self) -> None:
        capture = capture_of([(1250.0, 0.0, 60.0, 2.0)])
        with pytest.raises(InputError, match="no probe Q; there are: P"):
            calibrator_run(capture, SETUP, RunRequest("Q"))
        with pytest.raises(InputError, match="no channel P of P"):
            calibrator_run(Capture("empty", {}), SETUP, RunRequest("P"))

    def test_it_can_be_stopped(self) -> None:
        class Stop:
            def report(self, fraction: float, what: str = "") -> None:
                raise JobCancelled

        with pytest.raises(JobCancelled):
            calibrator_run(capture_of(list(self.steps)), SETUP, RunRequest("P"), Stop())


PLATEAUS = (
    *((3.0 * i, 3.0 * i + 2.6, 250.0 * (i + 1), 0.0) for i in range(9)),
    (27.0, 29.6, 1250.0, 0.0),
    *((30.0 + 5.0 * i, 34.6 + 5.0 * i, 1250.0, 25.0 * (i + 1)) for i in range(5)),
    (55.5, 60.0, 1750.0, 50.0),
)
"""Start and end, s, gap, µm, and vibration, µm p-p, as the sample's recipe has them."""


@pytest.fixture(scope="module", name="run")
def sample_run() -> CalibratorRun:
    capture = open_capture(SAMPLES / "calibrator.h5")
    assert capture.setup_toml is not None
    setup, _ = parse_setup(capture.setup_toml, "setup")
    applied = [AppliedStep(gap, level, 80.0) for _, _, gap, level in PLATEAUS]
    try:
        return calibrator_run(capture, setup, RunRequest("DE-X", tuple(applied)))
    finally:
        capture.close()


class TestSample:
    """The recipe's plateaus: nine gaps, mid-range at rest, five vibrations, one at a larger gap."""

    def test_all_of_them_are_found(self, run: CalibratorRun) -> None:
        assert len(run.steps) == 16
        for step, (start, end, gap, level) in zip(run.steps, PLATEAUS, strict=True):
            assert step.stretch is not None
            assert step.applied == AppliedStep(gap, level, 80.0)
            assert start - 0.1 <= step.stretch.start_s <= start + 0.3
            assert end - 0.3 <= step.stretch.end_s <= end + 0.1

    def test_they_are_read_through_the_nominal_line(self, run: CalibratorRun) -> None:
        """What the probe's true curve gives at the recipe's gap, put through 7.874 mV/µm."""
        recipe = read_recipe(SAMPLES / "recipes" / "calibrator.toml")
        curve = np.array(recipe.channel[0].curve)
        truth = Truth(recipe)
        for step in run.steps:
            assert step.stretch is not None
            middle = (step.stretch.start_s + step.stretch.end_s) / 2.0
            gap = truth.mean_gap_um("DE-X", middle)
            volts = float(np.interp(gap, curve[:, 0], curve[:, 1]))
            level = step.applied.peak_to_peak_um if step.applied is not None else 0.0
            assert step.stretch.gap_um == pytest.approx(-volts / 7.874e-3, abs=0.05 + level / 500.0)

    def test_vibration(self, run: CalibratorRun) -> None:
        for step in run.steps:
            assert step.stretch is not None
            assert step.applied is not None
            level = step.applied.peak_to_peak_um or 0.0
            if level:
                # The curve's slope is within 1.5 % of nominal there.
                assert step.stretch.sine_um_pp == pytest.approx(level, rel=0.015)
                assert step.stretch.frequency_hz == pytest.approx(80.0, abs=1e-3)
            else:
                assert step.stretch.sine_um_pp is None
            # Unfiltered: noise of 0.2 µm rms and steps of 1 mV come on top, 1.3 µm p-p or so.
            assert level - 0.8 < step.stretch.peak_to_peak_um < level + 1.6

    def test_one_step_fails(self, run: CalibratorRun) -> None:
        """The far end of the curve is 21 µm from the nominal line, 1.06 % of 2000 µm."""
        assert [i for i, step in enumerate(run.steps, 1) if step.result == "fail"] == [9]
        assert run.verdict == "fail"
        assert "where 2250 µm is applied, −1.06 % of full scale" in run.reasons[0]
        [in_mil] = run_failures(run.steps, LengthUnit.MIL)
        assert "position reads 87.75 mil where 88.583 mil is applied, −1.06 %" in in_mil

    def test_its_rows_are_the_true_curve(self, run: CalibratorRun) -> None:
        curve = np.array(read_recipe(SAMPLES / "recipes" / "calibrator.toml").channel[0].curve)
        table = table_from_run(run)
        gaps, volts = np.array(table.rows).T
        assert gaps.tolist() == [250.0 * i for i in range(1, 10)]
        assert volts == pytest.approx(np.interp(gaps, curve[:, 0], curve[:, 1]), abs=2e-4)


def test_a_table_needs_three_gaps_that_fall() -> None:
    run = run_of(
        capture_of([(500.0, 0.0, 60.0, 2.0), (800.0, 0.0, 60.0, 2.0)]),
        AppliedStep(500.0),
        AppliedStep(800.0),
    )
    with pytest.raises(InputError, match="2 steps of position"):
        table_from_run(run)
    steps = [(500.0, 0.0, 60.0, 2.0), (800.0, 0.0, 60.0, 2.0), (700.0, 0.0, 60.0, 2.0)]
    wrong = run_of(capture_of(steps), AppliedStep(500.0), AppliedStep(800.0), AppliedStep(900.0))
    with pytest.raises(InputError, match="does not lie below"):
        table_from_run(wrong)
