"""What limits look at, every 0.1 s: windows, low speed, standstill, faults, rates."""

from __future__ import annotations

import math

import numpy as np
import pytest

from analysis.model.capture import ArraySource, Capture, Channel
from analysis.model.results import ProbeRevolutions, RevolutionTable
from analysis.protection.monitor import monitor_series
from analysis.rotor.revolutions import revolution_table
from tests.analysis.alarm_captures import setup_with, step_capture
from tests.analysis.synthetic import SCALE, setup_of


def series_of(capture, setup=None, *, speed_rpm=None):
    setup = setup or setup_of()
    table = revolution_table(capture, setup, capture.span, speed_rpm=speed_rpm)
    return monitor_series(capture, setup, table)


def without_probes(capture, *names):
    kept = {name: channel for name, channel in capture.channels.items() if name not in names}
    return Capture(capture.name, kept)


def test_steady_measures_are_those_put_in():
    series = series_of(step_capture(3.0, {"X": [(0.0, 80.0)], "Y": [(0.0, 60.0)]}))
    assert series.phase_known
    assert series.time_s == pytest.approx(np.arange(1, 31) / 10.0, abs=1e-12)
    assert series.speed_rpm == pytest.approx(3000.0, rel=1e-6)
    for name, level in (("X", 80.0), ("Y", 60.0)):
        probe = series.probes[name]
        assert probe.peak_to_peak_um == pytest.approx(level, rel=1e-3)
        assert probe.gap_um == pytest.approx(1250.0, abs=0.01)
        assert np.abs(probe.first_order) == pytest.approx(level, rel=1e-3)
        assert not probe.fault.any()


def test_a_tick_looks_back_and_never_ahead():
    series = series_of(step_capture(3.0, {"X": [(0.0, 40.0), (1.5, 90.0)], "Y": [(0.0, 1.0)]}))
    at = dict(zip(series.time_s.round(1), series.probes["X"].peak_to_peak_um, strict=True))
    assert at[1.5] == pytest.approx(40.0, rel=1e-3)
    assert at[1.7] == pytest.approx(90.0, rel=1e-3)
    assert 40.0 < at[1.6] < 90.0 + 1e-6


def test_the_mean_of_equal_values_is_that_value():
    """125.3 three times must not be a digit below 125.3: a limit there is met."""
    rows = 300
    start = np.arange(rows) * 0.033
    level = np.full(rows, 125.3)
    zeros = np.zeros(rows)
    probe = ProbeRevolutions(
        zeros, zeros, zeros, level, {}, np.full(rows, 100), np.zeros(rows, dtype=bool)
    )
    speed = np.full(rows, 60.0 / 0.033)
    table = RevolutionTable("events", start, start + 0.033, speed, zeros > 1, {"X": probe})
    channel = Channel("X", 1000.0, ArraySource(np.full(9900, -9.0)))
    series = monitor_series(Capture("made", {"X": channel}), setup_of(), table)
    assert len(series) > 90
    assert (series.probes["X"].peak_to_peak_um == 125.3).all()


def test_against_plain_windows():
    """Every tick against a search through all revolutions: those ended in it, else the last."""
    capture = step_capture(
        12.0,
        {"X": [(t, 30.0 + 5.0 * (t % 7)) for t in range(12)], "Y": [(0.0, 20.0)]},
        speed_hz=[(0.0, 50.0), (3.0, 23.0), (5.0, 4.1), (9.0, 31.0)],
    )
    setup = setup_of()
    table = revolution_table(capture, setup, capture.span)
    series = monitor_series(capture, setup, table)
    pp = table.probes["X"].peak_to_peak_um
    for time, found in zip(series.time_s, series.probes["X"].peak_to_peak_um, strict=True):
        rows = [i for i in range(len(table)) if time - 0.1 + 1e-7 < table.end_s[i] <= time + 1e-7]
        rows = rows or [int(np.flatnonzero(table.end_s <= time + 1e-7)[-1])]
        assert found == pytest.approx(np.mean(pp[rows]), rel=1e-12)


def test_at_low_speed_the_last_revolution_counts_until_the_next_has_ended():
    capture = step_capture(9.0, {"X": [(0.0, 70.0)], "Y": [(0.0, 50.0)]}, speed_hz=[(0.0, 0.8)])
    series = series_of(capture)
    # Before the first turn has ended, blocks: position and faults need no turn.
    first_turn = 1.25 + 1.25 * 0.7
    whole = series.time_s > first_turn + 0.1
    assert series.time_s[0] == pytest.approx(0.1)
    assert series.probes["X"].peak_to_peak_um[whole] == pytest.approx(70.0, rel=2e-3)
    assert series.speed_rpm[whole] == pytest.approx(48.0, rel=1e-3)
    assert np.isfinite(series.probes["X"].gap_um).all()


def test_a_stopped_shaft_is_judged_in_blocks():
    """Running, stopped for 4 s with the shaft moved and a dropped sample, running again."""
    capture = step_capture(
        10.0,
        {"X": [(0.0, 60.0), (3.0, 0.0), (7.0, 60.0)], "Y": [(0.0, 1.0)]},
        {"X": [(0.0, 1250.0), (4.5, 1400.0)]},
        faults={"X": [(5.52, 5.5203)]},
        speed_hz=[(0.0, 50.0), (3.0, 0.0), (7.0, 50.0)],
    )
    series = series_of(capture)
    probe = series.probes["X"]
    assert series.time_s == pytest.approx(np.arange(1, 101) / 10.0)
    still = (series.time_s > 3.2) & (series.time_s < 7.0)
    moved = (series.time_s > 4.65) & (series.time_s < 9.0)
    assert np.isnan(series.speed_rpm[still]).all()
    assert np.isnan(probe.first_order[still]).all()
    assert np.flatnonzero(probe.fault).tolist() == [55]  # the tick at 5.6 s
    assert np.isnan(probe.gap_um[probe.fault]).all()
    healthy = moved & ~probe.fault
    assert probe.gap_um[healthy] == pytest.approx(1400.0, abs=0.5)
    assert not series.probes["Y"].fault.any()
    assert any("3." in notice and "blocks of 0.1 s" in notice for notice in series.notices)


def test_a_fault_is_seen_at_once_when_a_slow_shaft_has_stopped():
    """The last turn, of 1.25 s, still counts for as long; a fault must not wait for it."""
    capture = step_capture(
        12.0,
        {"X": [(0.0, 70.0)], "Y": [(0.0, 50.0)]},
        faults={"X": [(6.4, 12.0)]},
        speed_hz=[(0.0, 0.8), (6.0, 0.0)],
    )
    series = series_of(capture)
    at_fault = series.time_s[series.probes["X"].fault]
    assert at_fault[0] == pytest.approx(6.5)
    assert len(at_fault) == 56


def test_a_stopped_shaft_from_the_first_sample_to_the_last():
    capture = step_capture(2.0, {"X": [(0.0, 0.0)], "Y": [(0.0, 0.0)]}, speed_hz=[(0.0, 0.0)])
    series = series_of(capture)
    assert len(series) == 20
    assert series.probes["X"].gap_um == pytest.approx(1250.0)
    assert np.isnan(series.probes["X"].first_order).all()


def test_without_a_phase_reference():
    capture = without_probes(step_capture(2.0, {"X": [(0.0, 70.0)], "Y": [(0.0, 50.0)]}), "REF")
    blocks = series_of(capture, setup_of(reference=False))
    assert not blocks.phase_known
    assert blocks.time_s == pytest.approx(np.arange(1, 21) / 10.0)
    assert blocks.probes["X"].peak_to_peak_um == pytest.approx(70.0, rel=1e-3)
    assert np.isnan(blocks.probes["X"].first_order).all()
    assert np.isnan(blocks.speed_rpm).all()
    given = series_of(capture, setup_of(reference=False), speed_rpm=3000.0)
    assert not given.phase_known
    assert np.abs(given.probes["X"].first_order) == pytest.approx(70.0, rel=1e-3)
    assert given.speed_rpm == pytest.approx(3000.0, rel=1e-3)


def test_dropped_samples_void_their_ticks_alone():
    capture = step_capture(
        5.0, {"X": [(0.0, 70.0)], "Y": [(0.0, 50.0)]}, faults={"X": [(2.0, 3.0)]}
    )
    series = series_of(capture)
    probe = series.probes["X"]
    at_fault = series.time_s[probe.fault]
    assert at_fault[0] == pytest.approx(2.1, abs=0.11)
    assert at_fault[-1] == pytest.approx(3.1, abs=0.11)
    assert np.isnan(probe.peak_to_peak_um[probe.fault]).all()
    assert np.isfinite(probe.peak_to_peak_um[~probe.fault]).all()
    assert np.isfinite(series.probes["Y"].peak_to_peak_um).all()


def test_several_rates_and_a_channel_that_begins_late():
    made = step_capture(4.0, {"X": [(0.0, 70.0)], "Y": [(0.0, 50.0)]})
    times = 1.0 + np.arange(400) / 200.0
    slow = Channel("Y", 200.0, ArraySource(np.full(len(times), -SCALE * 1300.0)), start_s=1.0)
    capture = Capture("mixed", {**made.channels, "Y": slow})
    series = series_of(capture)
    late = series.probes["Y"]
    inside = (series.time_s > 1.05) & (series.time_s < 2.95)
    assert late.gap_um[inside] == pytest.approx(1300.0)
    outside = (series.time_s < 0.95) | (series.time_s > 3.15)
    # Nothing recorded is no circuit fault.
    assert np.isnan(late.gap_um[outside]).all()
    assert not late.fault.any()
    assert series.probes["X"].peak_to_peak_um == pytest.approx(70.0, rel=1e-3)


def test_a_channel_slower_than_the_turns_is_still_judged():
    made = step_capture(2.0, {"X": [(0.0, 70.0)], "Y": [(0.0, 50.0)]})
    slow = Channel("Y", 30.0, ArraySource(np.full(60, -SCALE * 1300.0)))
    series = series_of(Capture("slow", {**made.channels, "Y": slow}))
    assert series.probes["Y"].gap_um == pytest.approx(1300.0)


@pytest.mark.parametrize("reference", [True, False])
def test_shorter_than_a_tick(reference):
    capture = step_capture(0.07, {"X": [(0.0, 70.0)], "Y": [(0.0, 50.0)]}, reference=reference)
    series = series_of(capture, setup_of(reference=reference))
    assert len(series) == 0
    assert list(series.probes) == ["X", "Y"]
    assert any("too short" in notice for notice in series.notices)


def test_ticks_of_a_long_capture_that_begins_at_an_odd_time_are_right_to_the_last():
    origin, rows = 17.3, 60_000
    start = origin + np.arange(rows) * 0.02
    zeros = np.zeros(rows)
    level = np.arange(rows, dtype=float)
    probe = ProbeRevolutions(
        zeros, zeros, zeros, level, {}, np.full(rows, 100), np.zeros(rows, dtype=bool)
    )
    table = RevolutionTable(
        "events", start, start + 0.02, np.full(rows, 3000.0), zeros > 1, {"X": probe}
    )
    channel = Channel("X", 10.0, ArraySource(np.zeros(12_000)), start_s=origin)
    series = monitor_series(Capture("made", {"X": channel}), setup_of(), table)
    assert len(series) == 12_000
    # Five turns a tick, 0 to 4 in the first: their mean is 2, then 7, 12 ...
    assert series.probes["X"].peak_to_peak_um.tolist() == (2.0 + 5.0 * np.arange(12_000)).tolist()
    assert math.isclose(series.time_s[-1], origin + 1200.0)


def test_setups_without_limits_have_measures_all_the_same():
    assert len(series_of(step_capture(1.0, {"X": [(0.0, 9.0)], "Y": [(0.0, 9.0)]}), setup_with()))
