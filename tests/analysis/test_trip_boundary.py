"""The trip boundary against settings tried one by one, and its margins."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from analysis.protection.limit_logic import delay_ticks
from analysis.protection.replay import replay
from analysis.protection.trip_boundary import trip_boundary
from tests.analysis.alarm_captures import made_series, setup_with

ABOVE = {
    "probes": ["X"],
    "measure": "peak_to_peak",
    "level": "trip",
    "above": 100.0,
    "delay_s": 1.0,
    "latching": True,
}


def acts(series, limit) -> bool:
    """Whether a limit sets, by the replay itself."""
    return any(e.event == "set" for e in replay(series, setup_with(limit)).events)


def boundary_of(series, limit, **more):
    return trip_boundary({"one": series}, setup_with(limit).limit[0], 0, **more)


values = st.lists(st.floats(1.0, 200.0) | st.just(float("nan")), min_size=1, max_size=40)


@settings(max_examples=150, deadline=None)
@given(
    x=values,
    y=values,
    votes=st.sampled_from([1, 2]),
    measure=st.sampled_from(["peak_to_peak", "position", "1x"]),
    faults=st.integers(0, 5),
    delay=st.integers(0, 12),
    side=st.sampled_from(["above", "below"]),
)
def test_a_setting_on_the_boundary_acts_and_one_beyond_it_does_not(
    x, y, votes, measure, faults, delay, side
):
    ticks = min(len(x), len(y))
    columns = {"X": np.array(x[:ticks]), "Y": np.array(y[:ticks])}
    at_fault = np.zeros(ticks, dtype=bool)
    at_fault[2 : 2 + faults] = True
    series = made_series(
        ticks,
        **{
            {"peak_to_peak": "peak_to_peak", "position": "gap", "1x": "first_order"}[
                measure
            ]: columns
        },
        fault={"Y": at_fault},
    )
    limit = {
        "probes": ["X", "Y"],
        "measure": measure,
        "level": "trip",
        side: 50.0,
        "delay_s": delay / 10.0,
        "votes": votes,
    }
    boundary = boundary_of(series, limit, longest_s=2.0)
    (curve,) = boundary.curves["one"]
    level = float(curve.level_um[delay])
    assert curve.delay_s[delay] == delay / 10.0
    outward = 1.0 if side == "above" else -1.0
    if np.isnan(level):
        assert not acts(series, {**limit, side: outward * 1e-9})
    elif np.isinf(level):
        assert acts(series, {**limit, side: outward * 1e9})
    else:
        assert acts(series, {**limit, side: level})
        assert not acts(series, {**limit, side: level + outward * 1e-6})
    (margin,) = boundary.margins
    assert margin.acts is acts(series, limit)
    if margin.level_um is not None:
        assert margin.level_um == pytest.approx(outward * (50.0 - level))
    if margin.delay_s is not None:
        assert margin.acts is (margin.delay_s <= 1e-9)


def test_curves_fall_with_the_delay_and_end_with_the_capture():
    random = np.random.default_rng(4)
    series = made_series(120, {"X": random.uniform(20.0, 140.0, 120)})
    (curve,) = boundary_of(series, ABOVE).together
    assert curve.delay_s.tolist() == [k / 10.0 for k in range(151)]
    assert (np.diff(curve.level_um[:120]) <= 0.0).all()
    assert np.isnan(curve.level_um[120:]).all()
    assert curve.level_um[0] == series.probes["X"].peak_to_peak_um.max()


def test_margins_in_level_and_delay():
    level = np.full(300, 40.0)
    level[100:116] = 130.0  # 1.5 s from its first tick to its last
    level[104:110] = 110.0
    series = made_series(300, {"X": level})
    (trips,) = boundary_of(series, ABOVE).margins
    assert (trips.acts, trips.level_um) == (True, pytest.approx(-10.0))
    assert trips.delay_s == pytest.approx(1.0 - 1.5)
    (waits,) = boundary_of(series, {**ABOVE, "delay_s": 2.0}).margins
    assert (waits.acts, waits.level_um) == (False, pytest.approx(60.0))
    assert waits.delay_s == pytest.approx(0.5)
    # Never met: no delay is short enough to act.
    (never,) = boundary_of(series, {**ABOVE, "above": 135.0}).margins
    assert (never.acts, never.delay_s) == (False, None)


def test_the_multiplier_is_divided_out():
    speed = np.full(100, 3000.0)
    speed[50:] = 5000.0
    level = np.full(100, 150.0)
    level[50:] = 90.0
    series = made_series(100, {"X": level}, speed_rpm=speed)
    limit = {**ABOVE, "multiplier": {"factor": 2.0, "rpm": [2600.0, 3400.0]}}
    (curve,) = boundary_of(series, limit).together
    assert curve.level_um[0] == 90.0
    assert curve.level_um[30] == 90.0
    assert curve.level_um[60] == 75.0  # only across the change of speed
    assert acts(series, {**limit, "above": 75.0, "delay_s": 6.0})
    assert not acts(series, {**limit, "above": 75.1, "delay_s": 6.0})


def test_several_captures_together():
    quiet = made_series(100, {"X": np.full(100, 60.0)})
    short = made_series(30, {"X": np.full(30, 90.0)})
    limit = setup_with(ABOVE).limit[0]
    boundary = trip_boundary({"quiet": quiet, "short": short}, limit, 3, longest_s=5.0)
    assert boundary.index == 3
    assert list(boundary.curves) == ["quiet", "short"]
    (together,) = boundary.together
    assert together.level_um[29] == 90.0
    assert together.level_um[30] == 60.0
    (margin,) = boundary.margins
    assert margin.level_um == pytest.approx(10.0)


def test_both_sides_of_a_position():
    gap = np.full(100, 1250.0)
    gap[20:50], gap[60:80] = 1500.0, 1000.0
    series = made_series(100, gap={"X": gap})
    limit = {**ABOVE, "measure": "position", "above": 1560.0, "below": 960.0}
    boundary = boundary_of(series, limit)
    assert [curve.side for curve in boundary.together] == ["above", "below"]
    above, below = boundary.together
    assert (above.level_um[10], below.level_um[10]) == (1500.0, 1000.0)
    assert (above.level_um[30], below.level_um[20]) == (1250.0, 1250.0)
    assert [m.level_um for m in boundary.margins] == [pytest.approx(60.0), pytest.approx(40.0)]


def test_a_long_delay_a_region_and_nothing_to_judge():
    series = made_series(400, {"X": np.full(400, 60.0)})
    long = boundary_of(series, {**ABOVE, "above": 50.0, "delay_s": 20.0})
    assert len(long.together[0].delay_s) == delay_ticks(20.0) + 1
    assert long.margins[0].acts
    where = {"amplitude_um": [1.0, 2.0], "lag_deg": [0.0, 90.0]}
    region = {"probes": ["X"], "measure": "1x_vector", "level": "trip", "region": where}
    outside = boundary_of(series, region)
    assert (outside.curves, outside.together, outside.margins) == ({"one": ()}, (), ())
    nothing = boundary_of(made_series(0, {"X": np.empty(0)}), ABOVE)
    assert np.isnan(nothing.together[0].level_um).all()
    assert (nothing.margins[0].acts, nothing.margins[0].level_um) == (False, None)
    assert trip_boundary({}, setup_with(ABOVE).limit[0], 0).margins == ()
