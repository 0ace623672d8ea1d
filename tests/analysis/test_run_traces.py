"""Curves of a run for pictures: thinned to measured points, phases unwrapped about the peak."""

from __future__ import annotations

import numpy as np
import pytest

from analysis.files.setup_read import parse_setup
from analysis.model.response_results import ResponsePoints, SlowRoll
from analysis.rotor.vectors import vector_from
from analysis.views.response import SlowRollChoice, with_kept
from analysis.views.run_traces import points_only, traces_of

SETUP = """\
version = 1
[machine]
rotation = "ccw"
[[probe]]
name = "DE-X"
scale_factor_mv_per_um = 7.874
slow_roll = [{ order = 1, um_pp = 4.0, lag_deg = 90.0, rpm = 600.0 }]
"""


def run(count: int = 4000) -> ResponsePoints:
    """Up and down through one mode (Jeffcott 1919), natural 3000 r/min, with a lag of 300°."""
    up = np.linspace(600.0, 5000.0, count)
    speed = np.concatenate([up, up[::-1]])
    r = speed / 3000.0
    vectors = 20.0 * r**2 / (1 - r**2 + 0.1j * r) * np.exp(-1j * np.radians(300.0))
    return ResponsePoints(1, np.arange(2.0 * count) / 50.0, speed, vectors)


def test_passages_are_told_apart_and_thinned_to_measured_points():
    points = run()
    up, down = traces_of(points_only("DE-X", points, None), "speed", 300)
    assert (up.direction, down.direction) == ("up", "down")
    assert up.time_s.max() <= down.time_s.min()
    for trace in (up, down):
        assert trace.thinned
        assert len(trace.vectors) <= 600
        assert set(trace.vectors.tolist()) <= set(points.vectors.tolist())
        assert np.abs(trace.vectors).max() == np.abs(points.vectors).max()


def test_the_lag_runs_on_without_jumps_the_same_way_in_both_passages():
    up, down = traces_of(points_only("DE-X", run(), None), "speed", 300)
    for trace in (up, down):
        assert np.abs(np.diff(trace.lag_deg)).max() < 30.0
        # 300° below the mode, 180° more above it: the closed form, less and plus what damping adds.
        assert trace.lag_deg.min() == pytest.approx(301.2, abs=1.0)
        assert trace.lag_deg.max() - trace.lag_deg.min() == pytest.approx(174.0, abs=2.0)


def test_a_lag_is_not_told_where_the_amplitude_is_noise():
    roll = SlowRoll(1, 0j, 600.0, "proposed", 100, 1.0)
    up, _ = traces_of(points_only("DE-X", run(), roll), "speed", 300)
    # Three times the scatter of 1 µm: reached near 1100 r/min by the closed form.
    first = up.speed_rpm[np.isfinite(up.lag_deg)].min()
    assert 20.0 * (first / 3000) ** 2 / (1 - (first / 3000) ** 2) == pytest.approx(3.0, rel=0.05)


def test_the_slow_roll_vector_is_taken_off_as_a_vector():
    # Worked example: 50 at 120° less 12 at 300° is 62.000 at 120.00° (computed).
    points = ResponsePoints(
        1, np.arange(3.0), np.array([600.0, 900.0, 1500.0]), np.full(3, vector_from(50.0, 120.0))
    )
    roll = SlowRoll(1, vector_from(12.0, 300.0), None, "typed", 0, None)
    [trace] = traces_of(points_only("DE-X", points, roll))
    assert np.abs(trace.vectors) == pytest.approx(62.0, abs=5e-4)
    assert trace.lag_deg == pytest.approx(120.0, abs=5e-3)
    assert np.abs(trace.raw) == pytest.approx(50.0)


def test_what_the_setup_keeps_goes_before_a_proposal_and_behind_what_is_asked_for():
    setup, _ = parse_setup(SETUP, "setup")
    assert with_kept(SlowRollChoice(), setup, 1).vectors["DE-X"] == pytest.approx(-4.0j)
    assert with_kept(SlowRollChoice(), setup, 2).vectors == {}
    asked = SlowRollChoice(speed_rpm=900.0)
    assert with_kept(asked, setup, 1) is asked
    typed = SlowRollChoice(vectors={"DE-X": 1.0 + 0j})
    assert with_kept(typed, setup, 1).vectors == {"DE-X": 1.0 + 0j}
    assert with_kept(SlowRollChoice(take_off=False), setup, 1).vectors == {}


def test_a_beating_lag_does_not_run_away() -> None:
    # A whirl at 0.46 of speed, larger than 1X, seen by single turns: their lag goes round and
    # round, and unwrapped from one to the next it would end thousands of degrees off.
    turns = np.arange(2000.0)
    vectors = 30.0 * np.exp(-1j * np.radians(140.0)) + 45.0 * np.exp(2j * np.pi * 0.46 * turns)
    points = ResponsePoints(1, turns / 80.0, np.linspace(4400.0, 5200.0, 2000), vectors)
    (trace,) = traces_of(points_only("X", points, None))
    assert np.abs(trace.lag_deg - 140.0).max() <= 220.0
    assert float(np.median(trace.lag_deg)) == pytest.approx(140.0, abs=20.0)
