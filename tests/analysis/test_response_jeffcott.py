"""A run-up of the textbook rotor with slow roll: what is asked of the critical speed it shows."""

from __future__ import annotations

import numpy as np
import pytest

from analysis.model.response_results import ResponsePoints, ResponseResult
from analysis.rotor.response.responses import response_of
from analysis.rotor.response.slow_roll import SlowRoll, propose, typed
from analysis.rotor.revolutions import revolution_table
from analysis.views.response import ResponseRequest, answer_response
from tests.analysis.runs import (
    OPERATING,
    SLOW,
    jeffcott,
    jeffcott_truth,
    points,
    run_capture,
    turn_times,
)
from tests.analysis.synthetic import setup_of

NATURAL = 3100.0
SETUP = setup_of(machine={"rotation": "ccw", "operating_rpm": list(OPERATING)})
ONE_PLANE_OFF = ResponseRequest(planes=False)


def captured(damping: float, rpm1: float, rate: float = 60.0) -> ResponseResult:
    def vector(rpm: np.ndarray) -> np.ndarray:
        return SLOW + 10.0 * jeffcott(rpm, NATURAL, damping)

    capture = run_capture({"X": vector, "Y": lambda rpm: -1j * vector(rpm)}, 400.0, rpm1, rate)
    table = revolution_table(capture, SETUP, capture.span, orders=(1,))
    return answer_response("run", table, SETUP, ONE_PLANE_OFF)


@pytest.mark.parametrize("damping", [0.04, 0.11])
def test_from_a_capture(damping: float) -> None:
    speed, height, factor = jeffcott_truth(NATURAL, damping)
    result = captured(damping, 5300.0)
    margin = 100.0 * (OPERATING[0] - speed) / OPERATING[0]
    for response in result.probes.values():
        assert response.slow_roll is not None
        assert response.slow_roll.speed_rpm == pytest.approx(400.0, rel=0.1)
        (critical,) = response.criticals
        assert critical.speed_rpm == pytest.approx(speed, rel=0.006)
        assert critical.amplitude_um_pp == pytest.approx(10.0 * height, rel=0.03)
        assert critical.amplification_factor == pytest.approx(factor, rel=0.06)
        assert critical.separation_margin_percent == pytest.approx(margin, abs=0.7)
        assert critical.phase_change_deg == pytest.approx(90.0, abs=5.0)
        assert critical.phase_slope_factor == pytest.approx(0.5 / damping, rel=0.1)
        assert not response.passages[0].not_counted
        (smoothed,) = response.smoothed
        assert smoothed.speed_rpm == pytest.approx(speed, rel=0.006)
        assert smoothed.amplification_factor == pytest.approx(factor, rel=0.06)


def test_a_run_that_ends_below_its_critical_gives_none() -> None:
    result = captured(0.04, 2700.0)
    for response in result.probes.values():
        assert response.criticals == ()
        (notice,) = response.passages[0].notices
        assert notice.flag == "rises-at-the-end"
        assert "still rises towards the highest speed reached (269" in notice.sentence


@pytest.mark.parametrize("noise_um", [0.0, 0.5, 2.0])
@pytest.mark.parametrize("damping", [0.02, 0.04, 0.11])
@pytest.mark.parametrize("count", [60, 200, 3000])
def test_uneven_noisy_points(count: int, damping: float, noise_um: float) -> None:
    """Speeds at random: the samples' own largest value misses the peak, or is lifted by noise."""
    random = np.random.default_rng(count)
    rpm = np.sort(random.uniform(400.0, 6000.0, count))
    times = np.cumsum(random.uniform(0.5, 1.5, count))
    speed, height, factor = jeffcott_truth(NATURAL, damping)
    vectors = 10.0 * jeffcott(rpm, NATURAL, damping)
    run = points(times, rpm, vectors, noise_um=noise_um, consecutive=False)
    response = response_of("X", run, None)
    (critical,) = response.criticals
    # A share of the noise that the points within the peak leave, about.
    doubt = noise_um / (10.0 * height) / max(count / 400.0 / factor * 2.0, 1.0) ** 0.5
    assert critical.speed_rpm == pytest.approx(speed, rel=0.001 + 0.5 * doubt / factor**0.5)
    assert critical.amplitude_um_pp == pytest.approx(10.0 * height, rel=0.005 + 2.0 * doubt)
    assert critical.amplification_factor == pytest.approx(factor, rel=0.01 + 4.0 * doubt)


def test_largest_sample_is_worse_than_the_curve() -> None:
    """The bias that the curve is there for."""
    speed, height, _ = jeffcott_truth(NATURAL, 0.02)
    rpm = np.linspace(403.0, 6000.0, 60)
    vectors = 10.0 * jeffcott(rpm, NATURAL, 0.02)
    run = points(rpm, rpm, vectors, consecutive=False)
    (critical,) = response_of("X", run, None).criticals
    sampled = float(np.abs(vectors).max())
    assert abs(sampled / (10.0 * height) - 1.0) > 0.03
    assert critical.amplitude_um_pp == pytest.approx(10.0 * height, rel=0.01)
    assert critical.speed_rpm == pytest.approx(speed, rel=0.002)
    assert any(doubt.flag == "few-points" for doubt in critical.doubts)


class TestEndsOfTheData:
    def run(self, rpm1: float, damping: float = 0.04) -> ResponsePoints:
        times, rpm = turn_times(400.0, rpm1, 60.0)
        return points(times, rpm, 10.0 * jeffcott(rpm, NATURAL, damping), noise_um=0.2)

    def test_just_behind_the_peak_there_is_no_factor(self) -> None:
        (critical,) = response_of("X", self.run(3180.0), None, OPERATING).criticals
        assert critical.half_power_rpm[0] is not None
        assert critical.half_power_rpm[1] is None
        assert critical.amplification_factor is None
        assert critical.required_margin_percent is None
        assert "end-of-data" in [doubt.flag for doubt in critical.doubts]

    def test_a_run_down_is_told_from_a_run_up(self) -> None:
        times, rpm = turn_times(6000.0, 400.0, 60.0)
        down = points(times, rpm, 10.0 * jeffcott(rpm, NATURAL, 0.04))
        (critical,) = response_of("X", down, None).criticals
        assert critical.direction == "down"
        assert critical.rate == pytest.approx(-60.0, rel=0.01)

    def test_steady_running_has_no_passage(self) -> None:
        times = np.arange(400) / 50.0
        rpm = np.full(400, 3000.0) + np.sin(times)
        response = response_of("X", points(times, rpm, np.full(400, 5 + 0j)), None)
        assert response.passages == ()
        assert [notice.flag for notice in response.notices] == ["no-passage"]

    def test_noise_alone_is_no_critical_speed(self) -> None:
        for seed in range(8):
            times, rpm = turn_times(400.0, 6000.0, 60.0)
            flat = points(times, rpm, np.full(len(rpm), 3 + 1j), noise_um=3.0, seed=seed)
            assert response_of("X", flat, None).criticals == ()

    def test_a_peak_without_phase_change_is_not_counted(self) -> None:
        times, rpm = turn_times(400.0, 6000.0, 60.0)
        bump = 5.0 + 20.0 * np.exp(-(((rpm - 3000.0) / 200.0) ** 2)) + 0j
        response = response_of("X", points(times, rpm, bump, noise_um=0.1), None)
        assert response.criticals == ()
        (left,) = response.passages[0].not_counted
        assert left.doubt.flag == "no-phase-change"
        assert left.speed_rpm == pytest.approx(3000.0, abs=20.0)

    def test_inside_the_operating_range_the_margin_is_negative(self) -> None:
        (critical,) = response_of("X", self.run(6000.0), None, (2900.0, 5300.0)).criticals
        assert critical.separation_margin_percent is not None
        assert critical.separation_margin_percent < 0.0
        assert "in-operating-range" in [doubt.flag for doubt in critical.doubts]


def test_up_and_down_are_one_critical_speed() -> None:
    up_t, up = turn_times(400.0, 6000.0, 60.0)
    down_t, down = turn_times(6000.0, 400.0, 40.0)
    rpm = np.concatenate([up, np.full(500, 6000.0), down])
    times = np.concatenate(
        [up_t, up_t[-1] + 5.0 * np.arange(1, 501) / 500.0, up_t[-1] + 6 + down_t]
    )
    response = response_of("X", points(times, rpm, 10.0 * jeffcott(rpm, NATURAL, 0.04)), None)
    assert [each.passage.direction for each in response.passages] == ["up", "down"]
    assert [len(each.criticals) for each in response.passages] == [1, 1]
    (critical,) = response.criticals
    assert critical.direction == "down"  # the slower sweep


def test_slow_roll_not_taken_off_spoils_the_figures() -> None:
    """The same run with and without: compensation is what makes them right."""
    times, rpm = turn_times(400.0, 6000.0, 60.0)
    big = 6.0 * SLOW
    raw = points(times, rpm, big + 10.0 * jeffcott(rpm, NATURAL, 0.11))
    _, height, factor = jeffcott_truth(NATURAL, 0.11)
    found = propose(raw)
    assert isinstance(found, SlowRoll)
    for slow_roll in (found, typed(1, big)):
        (critical,) = response_of("X", raw, slow_roll).criticals
        assert critical.amplitude_um_pp == pytest.approx(10.0 * height, rel=0.03)
        assert critical.amplification_factor == pytest.approx(factor, rel=0.06)
    (critical,) = response_of("X", raw, None).criticals
    wrong = critical.amplification_factor
    assert wrong is None or abs(wrong / factor - 1.0) > 0.06
