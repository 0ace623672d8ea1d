"""Readings against exact truth: steady captures in closed form, and the contract's definitions."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from analysis.model.capture import ArraySource, Capture, Channel
from analysis.model.span import TimeSpan
from analysis.rotor.orbit import ellipse
from analysis.rotor.vectors import vector_from
from analysis.views.readings import read_span
from tests.analysis.synthetic import Signal, X, Y, capture_of, pulses, setup_of, steady, volts_of


def lag_error(a: float, b: float) -> float:
    return abs((a - b + 180.0) % 360.0 - 180.0)


@pytest.mark.parametrize("rotation", ["ccw", "cw"])
@pytest.mark.parametrize("angles", [(45.0, -45.0), (60.0, -45.0), (10.0, 115.0)])
@pytest.mark.parametrize(("rpm", "rate"), [(3000.7, 8192.0), (5391.0, 10_240.0), (612.3, 5120.0)])
def test_steady_capture_agrees_with_truth(rotation, angles, rpm, rate):
    # Bounds: the figures this foundation is to reach.
    capture = capture_of(steady(rpm), 4.0, rate)
    setup = setup_of(angles, rotation)
    readings = read_span(capture, setup, capture.span)
    assert readings.speed.mean_rpm == pytest.approx(rpm, rel=1e-5)
    for name, truth in (("X", X), ("Y", Y)):
        probe = readings.probes[name]
        assert probe.gap_um.value == pytest.approx(truth.gap_um, abs=0.1)
        assert probe.gap_v.value == pytest.approx(float(volts_of(truth.gap_um)), abs=0.001)
        assert probe.peak_to_peak_um.value == pytest.approx(truth.peak_to_peak, rel=0.004)
        for order, (amplitude, lag) in truth.orders.items():
            vector = probe.vectors[order]
            assert vector.amplitude.value == pytest.approx(amplitude, rel=0.002)
            assert lag_error(vector.phase_lag_deg.value, lag) < 0.15
    for order, found in readings.planes["P"].orbits.items():
        x, y = vector_from(*X.orders[order]), vector_from(*Y.orders[order])
        true = ellipse(order, x, y, *angles, rotation)
        assert found.major_um == pytest.approx(true.major_um, abs=0.1)
        assert found.minor_um == pytest.approx(true.minor_um, abs=0.1)
        assert found.precession == true.precession
        apart = abs(found.inclination_deg - true.inclination_deg) % 180.0
        assert min(apart, 180.0 - apart) < 0.3


def test_motion_along_the_machine_axes_comes_out_as_such():
    # A circle of 60 µm p-p turning counter-clockwise, in closed form: x = 30 cos θ, y = 30 sin θ.
    # For a probe at a from 12 o'clock clockwise, s = x sin a + y cos a = 30 cos(θ - (90° - a)).
    for a1, a2 in ((45.0, -45.0), (75.0, -30.0)):
        signals = {
            "X": Signal(1000.0, {1: (60.0, 90.0 - a1)}),
            "Y": Signal(1000.0, {1: (60.0, 90.0 - a2)}),
        }
        capture = capture_of(steady(3000.7), 2.0, 8192.0, signals=signals)
        for rotation, precession in (("ccw", "forward"), ("cw", "backward")):
            readings = read_span(capture, setup_of((a1, a2), rotation), capture.span)
            orbit = readings.planes["P"].orbits[1]
            assert orbit.major_um == pytest.approx(60.0, abs=0.05)
            assert orbit.minor_um == pytest.approx(60.0, abs=0.05)
            assert orbit.precession == precession
            assert readings.planes["P"].s_max_um == pytest.approx(30.0, abs=0.05)


@settings(deadline=None, max_examples=25)
@given(
    amplitude=st.floats(5.0, 300.0),
    lag=st.floats(0.0, 359.9),
    rpm=st.floats(400.0, 9000.0),
    third=st.floats(0.0, 40.0),
)
def test_any_vector_is_read_back(amplitude, lag, rpm, third):
    # A third order that is not asked for must not leak into those that are.
    signals = {"X": Signal(1200.0, {1: (amplitude, lag), 3: (third, 10.0)}), "Y": Y}
    # Edges of some samples: a steeper one is known to half a sample only, and at nearly a whole
    # number of samples a turn (7228 r/min at 10240 Hz: 85.003) no average over turns takes it out.
    capture = capture_of(steady(rpm), 1.5, 10_240.0, signals=signals, reference_rate=81_920.0)
    vector = read_span(capture, setup_of(), capture.span).probes["X"].vectors[1]
    assert vector.amplitude.value == pytest.approx(amplitude, rel=0.002, abs=0.003 * third)
    assert lag_error(vector.phase_lag_deg.value, lag) < 0.15 + 0.5 * third / amplitude


def test_a_sine_between_fft_lines_without_a_reference():
    # 49.37 Hz in 4 s: lines are 0.25 Hz apart, and a Hann window alone would lose up to 15 %.
    times = np.arange(20_000) / 5000.0
    gap = 1000.0 - 50.0 * np.cos(2.0 * np.pi * 49.37 * times - 1.0)
    capture = Capture("sine", {"X": Channel("X", 5000.0, ArraySource(volts_of(gap)))})
    setup = setup_of(reference=False)
    for given_rpm in (2962.2, 2960.0, 3000.0, 2900.0):
        readings = read_span(capture, setup, capture.span, speed_rpm=given_rpm)
        vector = readings.probes["X"].vectors[1]
        assert vector.amplitude.value == pytest.approx(100.0, rel=0.005)
        assert vector.phase_lag_deg is None  # there is no event to count from
        assert readings.speed.mean_rpm == pytest.approx(2962.2, abs=0.1)
    blocks = read_span(capture, setup, capture.span)
    assert blocks.speed.kind == "blocks"
    assert blocks.speed.mean_rpm is None
    assert blocks.probes["X"].vectors == {}
    assert blocks.probes["X"].peak_to_peak_um.value == pytest.approx(100.0, rel=0.005)


def test_linear_range_margin_counts_every_sample():
    # 1X of 104 µm p-p about 1250: from 1198 at one end; the far end is 2280.
    signals = {"X": Signal(2240.0, {1: (100.0, 0.0)}), "Y": Signal(1250.0, {1: (100.0, 90.0)})}
    capture = capture_of(steady(3000.0), 2.0, 8192.0, signals=signals)
    readings = read_span(capture, setup_of(), capture.span)
    outside = readings.probes["X"].linear_range
    assert outside.max_um == pytest.approx(2290.0, abs=0.1)
    assert outside.margin_um == pytest.approx(-10.0, abs=0.1)
    # Beyond 2280 while -50 cos θ > 40: acos(0.8)/π of the turn.
    assert outside.outside_fraction == pytest.approx(np.arccos(0.8) / np.pi, abs=0.01)
    inside = readings.probes["Y"].linear_range
    assert inside.margin_um == pytest.approx(950.0, abs=0.1)
    assert inside.outside_fraction == 0.0


def test_dropped_samples_void_their_revolutions_only():
    capture = capture_of(steady(3000.0), 1.0, 8000.0)
    volts = capture.channels["X"].volts(0, 8000)
    volts[4000] = np.nan
    volts[6000] = -23.0  # outside fault_v
    channels = {**capture.channels, "X": Channel("X", 8000.0, ArraySource(volts))}
    readings = read_span(Capture("dropped", channels), setup_of(), capture.span)
    probe = readings.probes["X"]
    assert probe.circuit_fault
    assert probe.fault_fraction == pytest.approx(2 / 8000)
    assert probe.condition == "fault"
    assert probe.peak_to_peak_um.value == pytest.approx(X.peak_to_peak, rel=0.004)
    assert probe.linear_range.max_um < 1400.0  # the faulty sample is no gap
    assert not readings.probes["Y"].circuit_fault


def test_a_dead_channel_gives_nothing_but_the_fault():
    capture = capture_of(steady(3000.0), 1.0, 8000.0)
    dead = Channel("X", 8000.0, ArraySource(np.full(8000, -24.0)))
    setup = setup_of(
        output=[{"probe": "X", "measure": "peak_to_peak", "range_um": [0.0, 200.0]}],
        limit=[{"probes": ["X"], "measure": "peak_to_peak", "level": "trip", "above": 10.0}],
    )
    readings = read_span(Capture("dead", {**capture.channels, "X": dead}), setup, capture.span)
    probe = readings.probes["X"]
    assert probe.gap_um is None
    assert probe.peak_to_peak_um is None
    assert probe.linear_range is None
    assert probe.outputs_ma == {"peak_to_peak": 3.6}
    assert probe.limits[0].met is None
    assert readings.planes["P"].orbits == {}
    assert readings.planes["P"].s_max_um is None


def test_channels_of_other_rates_and_starts():
    turns = steady(2941.3)
    capture = capture_of(turns, 2.0, 10_000.0, reference_rate=25_000.0)
    rate, start = 6400.0, 0.1234
    times = start + np.arange(9000) / rate
    gap = Y.gap_um - Y.displacement(2.0 * np.pi * turns(times))
    other = Channel("Y", rate, ArraySource(volts_of(gap)), start_s=start)
    readings = read_span(
        Capture("rates", {**capture.channels, "Y": other}), setup_of(), capture.span
    )
    vector = readings.probes["Y"].vectors[1]
    assert vector.amplitude.value == pytest.approx(76.0, rel=0.002)
    assert lag_error(vector.phase_lag_deg.value, 40.0) < 0.15
    exact = read_span(capture, setup_of(), capture.span).planes["P"]
    assert readings.planes["P"].s_max_um == pytest.approx(exact.s_max_um, abs=0.1)


def test_counts_and_offsets_of_a_stored_channel():
    times = np.arange(16_000) / 8000.0
    turns = steady(3000.7)(times)
    gap = X.gap_um - X.displacement(2.0 * np.pi * turns)
    counts = np.round((volts_of(gap) + 10.0) / 0.0004).astype(np.int16)
    stored = Channel("X", 8000.0, ArraySource(counts), 0.0, 0.0004, -10.0)
    reference = Channel("REF", 8000.0, ArraySource(pulses(turns)))
    capture = Capture("counts", {"X": stored, "REF": reference})
    probe = read_span(capture, setup_of(), capture.span).probes["X"]
    assert probe.gap_um.value == pytest.approx(1250.0, abs=0.1)
    assert probe.vectors[1].amplitude.value == pytest.approx(104.0, rel=0.002)


@pytest.mark.parametrize("samples", [0, 1, 2, 15, 400])
def test_tiny_captures_read_without_a_word_too_much(samples):
    volts = np.full(samples, -10.0)
    channels = {n: Channel(n, 8000.0, ArraySource(volts)) for n in ("X", "Y", "REF")}
    capture = Capture("tiny", channels)
    readings = read_span(capture, setup_of(), capture.span)
    gap = readings.probes["X"].gap_um
    if samples == 0:
        assert gap is None
    else:
        assert gap.value == pytest.approx(10.0 / 0.007874)
    assert readings.speed.mean_rpm is None


def test_a_span_without_a_whole_revolution_says_so():
    capture = capture_of(steady(3000.0), 2.0, 8000.0)
    readings = read_span(capture, setup_of(), TimeSpan(1.0, 1.005))
    assert readings.speed.revolutions == 0
    assert any("no whole revolution" in notice for notice in readings.notices)
    assert readings.probes["X"].gap_um is None
