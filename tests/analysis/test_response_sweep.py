"""Fast sweeps, integrated with scipy.integrate: shift, lowering, and the ripple behind the peak."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from scipy.interpolate import CubicSpline

from analysis.model.response_results import ResponsePoints
from analysis.rotor.response.responses import response_of
from analysis.rotor.response.sweep import (
    slow_half_power_factor,
    sweep_effect,
    swept_response,
)
from tests.analysis.runs import jeffcott_truth, swept_points

NATURAL = 1800.0


@pytest.mark.parametrize(
    ("damping", "rpm0", "rpm1", "rate"),
    [(0.02, 900.0, 2700.0, 230.0), (0.04, 900.0, 2700.0, 230.0), (0.04, 2700.0, 900.0, 150.0)],
)
def test_model_against_the_integrated_equation(
    damping: float, rpm0: float, rpm1: float, rate: float
) -> None:
    """A vector of a turn is a mean over it: the model's is taken over the same stretch."""
    run = swept_points(NATURAL, damping, rpm0, rpm1, rate)
    rpm = np.linspace(rpm0, rpm1, 20_001)
    model = 8.0 * swept_response(rpm, NATURAL, damping, rate)
    order = np.argsort(rpm)
    rpm, model = rpm[order], model[order]
    inside = slice(10, -10)
    speed = run.speed_rpm[inside]
    turn = np.linspace(-0.5, 0.5, 21)[:, np.newaxis] * 60.0 * rate / speed
    wanted = np.abs(np.interp(speed + turn, rpm, model).mean(axis=0))
    got = np.abs(run.vectors[inside])
    assert np.abs(got - wanted).max() < 0.015 * wanted.max()


@pytest.mark.parametrize(
    ("damping", "rpm0", "rpm1", "rate"),
    [
        (0.04, 900.0, 2700.0, 100.0),
        (0.04, 900.0, 2700.0, 230.0),
        (0.02, 900.0, 2700.0, 230.0),
        (0.02, 2700.0, 900.0, 230.0),
        (0.11, 900.0, 3600.0, 230.0),
    ],
)
def test_shift_and_lowering_are_told(damping: float, rpm0: float, rpm1: float, rate: float) -> None:
    """From the swept run alone: what the same rotor shows without haste."""
    speed, height, factor = jeffcott_truth(NATURAL, damping)
    (critical,) = response_of("X", swept_points(NATURAL, damping, rpm0, rpm1, rate), None).criticals
    sweep = critical.sweep
    assert sweep is not None
    shift = 100.0 * (critical.speed_rpm / speed - 1.0)
    lowering = 100.0 * (1.0 - critical.amplitude_um_pp / (8.0 * height))
    assert np.sign(shift) == np.sign(rpm1 - rpm0)
    assert sweep.shift_percent == pytest.approx(shift, abs=0.25)
    assert sweep.lowering_percent == pytest.approx(lowering, abs=2.0)
    assert sweep.slow_speed_rpm == pytest.approx(speed, rel=0.003)
    assert sweep.slow_factor == pytest.approx(factor, rel=0.05)
    said = [doubt for doubt in critical.doubts if doubt.flag == "fast-sweep"]
    assert bool(said) == (max(abs(sweep.shift_percent), abs(sweep.lowering_percent)) > 0.5)


def test_slow_factor_is_that_of_the_curve() -> None:
    for damping in (0.02, 0.05, 0.11):
        assert slow_half_power_factor(damping) == pytest.approx(
            jeffcott_truth(NATURAL, damping)[2], rel=1e-3
        )


def test_a_peak_narrower_than_any_sweep_makes_is_not_explained() -> None:
    assert sweep_effect(1800.0, 400.0, 230.0) is None


class TestTableOf140Turns:
    """140 turns at 230 r/min a second, uneven in speed, with the ripple behind the peak."""

    def run(self, damping: float = 0.012, noise_um: float = 0.3) -> ResponsePoints:
        whole = swept_points(NATURAL, damping, 900.0, 2700.0, 230.0)
        random = np.random.default_rng(4)
        near = np.flatnonzero((whole.speed_rpm > 1350.0) & (whole.speed_rpm < 2450.0))
        rows = np.sort(random.choice(near, 140, replace=False))
        noise = random.standard_normal(140) + 1j * random.standard_normal(140)
        return replace(
            whole,
            time_s=whole.time_s[rows],
            speed_rpm=whole.speed_rpm[rows],
            vectors=whole.vectors[rows] + noise_um / np.sqrt(2.0) * noise,
            consecutive=False,
        )

    def test_the_ripple_is_there(self) -> None:
        """As large as a critical speed of its own would be: the test is none without it."""
        size = np.abs(swept_points(NATURAL, 0.012, 900.0, 2700.0, 230.0).vectors)
        top = int(np.argmax(size))
        behind = size[top:]
        valley = int(np.argmin(behind[:60]))
        assert behind[valley : valley + 40].max() > 1.1 * behind[valley]

    def test_very_light_damping_rings_on_and_on(self) -> None:
        """Ripples far behind the peak are narrower than any mode at this rate."""
        run = swept_points(NATURAL, 0.008, 810.0, 3060.0, 230.0)
        response = response_of("X", run, None)
        (critical,) = response.criticals
        assert critical.speed_rpm < 1900.0
        left = response.passages[0].not_counted
        assert len(left) > 3
        assert {one.doubt.flag for one in left} == {"ripple"}
        assert any("narrower" in one.doubt.sentence for one in left)

    def test_one_critical_speed_and_doubted_ripple(self) -> None:
        run = self.run()
        top = int(np.argmax(np.abs(run.vectors)))
        response = response_of("X", run, None)
        (critical,) = response.criticals
        assert critical.speed_rpm == pytest.approx(run.speed_rpm[top], rel=0.01)
        assert critical.amplitude_um_pp == pytest.approx(np.abs(run.vectors[top]), rel=0.03)
        assert critical.rate == pytest.approx(230.0, rel=0.02)
        assert "fast-sweep" in [doubt.flag for doubt in critical.doubts]
        left = response.passages[0].not_counted
        assert "ripple" in [one.doubt.flag for one in left]
        # The factor is that of the swept curve itself, from all of its turns without noise.
        whole = swept_points(NATURAL, 0.012, 900.0, 2700.0, 230.0)
        fine = np.linspace(1400.0, 2400.0, 20_001)
        size = np.abs(CubicSpline(whole.speed_rpm, whole.vectors)(fine))
        above = np.flatnonzero(size >= 0.707 * size.max())
        first, last = fine[above[0]], fine[above[-1]]
        assert critical.half_power_rpm == pytest.approx((first, last), rel=0.004)
        assert critical.amplification_factor == pytest.approx(
            fine[int(np.argmax(size))] / (last - first), rel=0.06
        )
        # With smoothing over turns: still one, lower, and as found.
        (smoothed,) = response.smoothed
        assert smoothed.amplitude_um_pp < critical.amplitude_um_pp
        assert smoothed.speed_rpm == pytest.approx(critical.speed_rpm, rel=0.01)
        assert smoothed.amplification_factor is not None
        assert smoothed.amplification_factor == pytest.approx(
            critical.amplification_factor, rel=0.15
        )

    def test_without_times_the_ripple_is_doubted_all_the_same(self) -> None:
        run = self.run()
        bare = replace(run, time_s=np.full(140, np.nan))
        response = response_of("X", bare, None)
        (critical,) = response.criticals
        assert critical.rate is None
        assert critical.sweep is None
        assert "ripple" in [one.doubt.flag for one in response.passages[0].not_counted]

    def test_a_second_mode_far_behind_is_no_ripple(self) -> None:
        one = swept_points(1200.0, 0.03, 600.0, 3600.0, 230.0)
        two = swept_points(2900.0, 0.03, 600.0, 3600.0, 230.0, scale_um=6.0)
        both = replace(one, vectors=one.vectors + two.vectors)
        criticals = response_of("X", both, None).criticals
        slow = [c.sweep.slow_speed_rpm for c in criticals if c.sweep is not None]
        assert slow == pytest.approx([1200.0, 2900.0], rel=0.015)
