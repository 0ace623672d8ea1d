"""Slow roll: proposed where it is steady, refused with the reason where it is not, taken off."""

from __future__ import annotations

import numpy as np
import pytest

from analysis.model.response_results import ResponsePoints, SlowRoll
from analysis.rotor.response.slow_roll import (
    Refused,
    at_speed,
    compensated,
    propose,
    runout_waveform,
    typed,
    waveform_compensated,
)
from tests.analysis.runs import SLOW, jeffcott, points, turn_times


def run(rpm0: float, rpm1: float, noise_um: float = 0.1, **more: object) -> ResponsePoints:
    times, rpm = turn_times(rpm0, rpm1, 60.0)
    vectors = SLOW + 10.0 * jeffcott(rpm, 3000.0, 0.05)
    return points(times, rpm, vectors, noise_um=noise_um, **more)  # type: ignore[arg-type]


def test_proposed_at_the_lowest_speeds() -> None:
    found = propose(run(400.0, 6000.0))
    assert isinstance(found, SlowRoll)
    assert found.source == "proposed"
    assert found.speed_rpm == pytest.approx(430.0, abs=30.0)
    # Unbalance leaves 10 µm times (N/Nc)² in it.
    assert abs(found.vector - SLOW) < 0.35
    assert found.scatter_um == pytest.approx(0.1, abs=0.1)
    assert found.doubts == ()


@pytest.mark.parametrize(
    ("points_of_run", "flag"),
    [
        (run(1900.0, 6000.0), "changes-with-speed"),
        (run(5000.0, 5100.0), "one-speed"),
        (run(400.0, 6000.0, noise_um=12.0), "not-steady"),
        (run(400.0, 404.0), "too-few"),
    ],
)
def test_refused_with_the_reason(points_of_run: ResponsePoints, flag: str) -> None:
    found = propose(points_of_run)
    assert isinstance(found, Refused)
    assert found.reason.flag == flag
    assert found.reason.sentence.startswith("no slow-roll vector: ")


def test_refused_too_near_the_largest_response() -> None:
    rpm = np.linspace(1500.0, 6000.0, 800)
    flat = points(rpm / 60.0, rpm, 5.0 + 2.0 * (np.abs(rpm - 2500.0) < 40.0) + 0j)
    found = propose(flat)
    assert isinstance(found, Refused)
    assert found.reason.flag == "too-fast"


def test_at_a_speed_asked_for() -> None:
    found = at_speed(run(400.0, 6000.0), 600.0)
    assert isinstance(found, SlowRoll)
    assert found.source == "asked"
    assert found.speed_rpm == pytest.approx(600.0, abs=10.0)
    truth = SLOW + 10.0 * complex(jeffcott(np.array([600.0]), 3000.0, 0.05)[0])
    assert abs(found.vector - truth) < 0.1
    refused = at_speed(run(400.0, 6000.0), 200.0)
    assert isinstance(refused, Refused)
    assert refused.reason.flag == "not-reached"
    assert "from 405 to" in refused.reason.sentence


def test_nearest_row_of_a_sparse_table_is_taken() -> None:
    rpm = np.arange(300.0, 6000.0, 50.0)
    sparse = points(rpm, rpm, SLOW + 10.0 * jeffcott(rpm, 3000.0, 0.05), consecutive=False)
    found = at_speed(sparse, 425.0)
    assert isinstance(found, SlowRoll)
    assert found.speed_rpm in (400.0, 450.0)
    assert "few-revolutions" in [doubt.flag for doubt in found.doubts]


def test_asked_for_where_it_is_vibration_is_doubted() -> None:
    found = at_speed(run(400.0, 6000.0), 2500.0)
    assert isinstance(found, SlowRoll)
    assert "changes-with-speed" in [doubt.flag for doubt in found.doubts]


def test_before_and_after_that_differ_are_told() -> None:
    before, after = run(400.0, 6000.0), run(6000.0, 400.0, seed=2)
    both = ResponsePoints(
        1,
        np.concatenate([before.time_s, before.time_s[-1] + 1.0 + after.time_s]),
        np.concatenate([before.speed_rpm, after.speed_rpm]),
        np.concatenate([before.vectors, after.vectors + 2.0]),
        True,
    )
    found = propose(both)
    assert isinstance(found, SlowRoll)
    assert [doubt.flag for doubt in found.doubts] == ["before-and-after-differ"]
    assert "2.0 µm" in found.doubts[0].sentence


def test_taken_off_as_a_vector() -> None:
    raw = run(400.0, 6000.0, noise_um=0.0)
    off = compensated(raw, typed(1, SLOW))
    assert np.abs(off.vectors - 10.0 * jeffcott(raw.speed_rpm, 3000.0, 0.05)).max() < 1e-9
    assert compensated(raw, None) is raw


class TestWaveform:
    theta = np.arange(40_000) / 777.3

    @staticmethod
    def track(theta: np.ndarray) -> np.ndarray:
        """A track with a dent: many orders, which no single vector takes off."""
        u = np.mod(theta, 1.0)
        return 3.0 * np.cos(2.0 * np.pi * u - 1.0) - 8.0 * np.exp(-(((u - 0.4) / 0.02) ** 2))

    def test_a_dent_is_taken_off_by_angle(self) -> None:
        random = np.random.default_rng(1)
        seen = self.track(self.theta) + 0.2 * random.standard_normal(len(self.theta))
        wave = runout_waveform(self.theta, seen)
        assert len(wave) == 512
        assert wave.mean() == pytest.approx(0.0, abs=1e-12)
        shaft = 20.0 * np.cos(2.0 * np.pi * self.theta - 2.0)
        left = waveform_compensated(self.theta, shaft + self.track(self.theta), wave) - shaft
        assert np.ptp(self.track(self.theta)) > 8.0
        assert np.abs(left - left.mean()).max() < 0.35

    def test_few_samples_a_turn_leave_no_holes(self) -> None:
        theta = np.arange(150) / 50.0
        wave = runout_waveform(theta, self.track(theta))
        assert np.isfinite(wave).all()
        with pytest.raises(ValueError, match="samples"):
            runout_waveform(theta, np.full(150, np.nan))
