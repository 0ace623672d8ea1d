"""The Moment page's answer: what it shows agrees with the readings and with the truth."""

from __future__ import annotations

from itertools import pairwise

import numpy as np
import pytest

from analysis.model.capture import ArraySource, Capture, Channel
from analysis.views.moment import answer_moment
from analysis.views.moment_request import MomentRequest, SpectrumChoice
from analysis.views.readings import read_span
from analysis.views.timeline import answer_timeline
from tests.analysis.synthetic import Signal, X, capture_of, ramp, setup_of, steady, volts_of

CAPTURE = capture_of(steady(3000.7), 4.0, 10_240.0)
SETUP = setup_of()


def line_at(result, frequency: float) -> float:
    near = np.abs(result.frequency - frequency) < 1e-9
    return float(result.amplitude_um[near][0])


def test_readings_are_those_of_the_same_span():
    answer = answer_moment(CAPTURE, SETUP, MomentRequest(2.0))
    same = read_span(CAPTURE, SETUP, answer.span)
    assert answer.readings.speed.revolutions == 8
    mine, theirs = answer.readings.probes["X"], same.probes["X"]
    assert mine.peak_to_peak_um.value == pytest.approx(theirs.peak_to_peak_um.value, rel=1e-9)
    assert mine.vectors[1].vector == pytest.approx(theirs.vectors[1].vector, rel=1e-9)


@pytest.mark.parametrize("moment", [-5.0, 0.0, 0.01, 2.0, 3.999, 4.0, 99.0])
@pytest.mark.parametrize("half_turns", [0.5, 4.0, 16.0])
def test_any_moment_can_be_asked_for(moment, half_turns):
    answer = answer_moment(CAPTURE, SETUP, MomentRequest(moment, half_turns))
    assert answer.readings.speed.revolutions == 2 * half_turns
    inside = answer.waveform_span
    assert CAPTURE.span.start_s <= inside.start_s <= inside.end_s <= CAPTURE.span.end_s
    assert 0.0 <= answer.moment_offset_s <= inside.length_s
    trace = answer.waveforms["X"].trace
    assert len(trace.x) <= 2 * 800
    assert np.all(np.diff(trace.x) >= 0)


def test_marks_sit_where_the_shaft_passes_its_event():
    waveform = answer_moment(CAPTURE, SETUP, MomentRequest(2.0)).waveforms["X"]
    # At θ = 0 the gap is mean - s(0).
    at_event = X.gap_um - float(X.displacement(np.zeros(1))[0])
    assert len(waveform.marks_s) in (9, 10, 11)
    assert waveform.marks_um == pytest.approx(np.full(len(waveform.marks_um), at_event), abs=0.5)
    assert waveform.mean_um == pytest.approx(X.gap_um, abs=0.1)


def test_order_spectrum_reads_the_orders():
    # Two-sided: forward and backward circles; F and B of the 1X ellipse, p-p.
    answer = answer_moment(CAPTURE, SETUP, MomentRequest(2.0))
    orbit = answer.readings.planes["P"].orbits[1]
    spectrum = answer.spectrum
    assert spectrum.two_sided
    assert spectrum.axis == "orders"
    assert line_at(spectrum, 1.0) == pytest.approx(2.0 * abs(orbit.forward), rel=1e-3)
    assert line_at(spectrum, -1.0) == pytest.approx(2.0 * abs(orbit.backward), rel=1e-3)


@pytest.mark.parametrize(
    ("scaling", "factor"), [("p-p", 1.0), ("peak", 0.5), ("rms", 0.5 / np.sqrt(2.0))]
)
def test_one_sided_order_spectrum_in_each_scaling(scaling, factor):
    choice = SpectrumChoice(two_sided=False, scaling=scaling)
    spectrum = answer_moment(CAPTURE, SETUP, MomentRequest(2.0, spectrum=choice)).spectrum
    assert line_at(spectrum, 1.0) == pytest.approx(104.0 * factor, rel=1e-3)
    assert line_at(spectrum, 2.0) == pytest.approx(22.0 * factor, rel=2e-3)


def test_an_order_spectrum_does_not_smear_in_a_ramp():
    capture = capture_of(ramp(2000.0, 4000.0, 4.0), 4.0, 10_240.0)
    spectrum = answer_moment(capture, SETUP, MomentRequest(2.0)).spectrum
    orbit = answer_moment(capture, SETUP, MomentRequest(2.0)).readings.planes["P"].orbits[1]
    assert line_at(spectrum, 1.0) == pytest.approx(2.0 * abs(orbit.forward), rel=0.01)


def test_nothing_folds_into_the_orders():
    # A line at 0.37 of the sampling rate: resampled carelessly it would land among the orders.
    times = np.arange(40_960) / 10_240.0
    high = 20.0 * np.cos(2.0 * np.pi * 3789.0 * times)
    channel = CAPTURE.channels["X"]
    volts = channel.volts(0, len(channel)) + volts_of(high)
    mixed = Capture("high", {**CAPTURE.channels, "X": Channel("X", 10_240.0, ArraySource(volts))})
    choice = SpectrumChoice(two_sided=False)
    clean = answer_moment(CAPTURE, SETUP, MomentRequest(2.0, spectrum=choice)).spectrum
    spoilt = answer_moment(mixed, SETUP, MomentRequest(2.0, spectrum=choice)).spectrum
    low = clean.frequency < 20.0
    assert np.abs(spoilt.amplitude_um[low] - clean.amplitude_um[low]).max() < 0.1
    # One order at the 1X vector too: projected from every sample, not resampled.
    vector = answer_moment(mixed, SETUP, MomentRequest(2.0)).readings.probes["X"].vectors[1]
    assert vector.amplitude.value == pytest.approx(104.0, rel=0.005)


def test_spectrum_in_hz():
    choice = SpectrumChoice(two_sided=False, axis="hz", window="flat-top")
    spectrum = answer_moment(CAPTURE, SETUP, MomentRequest(2.0, spectrum=choice)).spectrum
    peak = np.argmax(spectrum.amplitude_um)
    assert spectrum.frequency[peak] == pytest.approx(50.01, abs=spectrum.resolution)
    assert spectrum.amplitude_um[peak] == pytest.approx(104.0, rel=0.002)


def test_forward_is_with_the_rotation():
    # The same motion, counter-clockwise circle; only the rotation set differs.
    signals = {"X": Signal(1000.0, {1: (60.0, 45.0)}), "Y": Signal(1000.0, {1: (60.0, 135.0)})}
    capture = capture_of(steady(3000.7), 2.0, 10_240.0, signals=signals)
    for rotation, sign in (("ccw", 1.0), ("cw", -1.0)):
        answer = answer_moment(capture, setup_of(rotation=rotation), MomentRequest(1.0))
        assert line_at(answer.spectrum, sign) == pytest.approx(60.0, rel=1e-3)
        assert line_at(answer.spectrum, -sign) < 0.1
        path = answer.filtered_orbit
        area = float(np.sum(path.x[:-1] * np.diff(path.y) - path.y[:-1] * np.diff(path.x)))
        assert area > 0.0  # drawn counter-clockwise in either case: that is how it moves


def test_raw_and_filtered_orbit_lie_on_each_other():
    signals = {"X": Signal(1000.0, {1: (60.0, 45.0)}), "Y": Signal(1000.0, {1: (40.0, 150.0)})}
    capture = capture_of(steady(3000.7), 2.0, 10_240.0, signals=signals)
    answer = answer_moment(capture, SETUP, MomentRequest(1.0))
    raw, filtered = answer.orbit, answer.filtered_orbit
    assert np.ptp(raw.x) == pytest.approx(np.ptp(filtered.x), rel=0.002)
    assert np.ptp(raw.y) == pytest.approx(np.ptp(filtered.y), rel=0.002)
    assert raw.marks_x == pytest.approx(np.full(len(raw.marks_x), filtered.marks_x[0]), abs=0.3)
    assert raw.marks_y == pytest.approx(np.full(len(raw.marks_y), filtered.marks_y[0]), abs=0.3)


def test_without_a_reference_there_is_a_picture_but_no_phase():
    bare = setup_of(reference=False)
    blocks = answer_moment(CAPTURE, bare, MomentRequest(2.0))
    assert blocks.readings.speed.kind == "blocks"
    assert blocks.spectrum is None  # no orders without a speed
    assert blocks.orbit is not None
    assert blocks.filtered_orbit is None
    hz = SpectrumChoice(axis="hz")
    assert answer_moment(CAPTURE, bare, MomentRequest(2.0, spectrum=hz)).spectrum is not None
    told = answer_moment(CAPTURE, bare, MomentRequest(2.0, speed_rpm=3000.0))
    assert told.readings.planes["P"].orbits[1].major_um == pytest.approx(105.67, abs=0.2)
    assert told.readings.probes["X"].vectors[1].phase_lag_deg is None
    assert len(told.waveforms["X"].marks_s) == 0


def test_timeline_fills_while_it_reads():
    capture = capture_of(ramp(600.0, 6000.0, 60.0), 60.0, 40_960.0)
    seen = []
    result = answer_timeline(capture, SETUP, partial=seen.append)
    assert len(seen) >= 2
    assert all(a.done_s < b.done_s for a, b in pairwise(seen))
    assert result.done_s == capture.span.end_s
    assert len(result.time_s) == len(result.speed_rpm) == len(result.condition["X"])
    speed = 600.0 + 5400.0 / 60.0 * result.time_s
    assert result.speed_rpm == pytest.approx(speed, rel=0.002)


def test_what_was_told_early_stays():
    capture = capture_of(ramp(600.0, 6000.0, 60.0), 60.0, 40_960.0)
    seen = []
    result = answer_timeline(capture, SETUP, partial=seen.append)
    early = seen[0].peak_to_peak_um["X"]
    assert np.isfinite(early).all()
    assert early == pytest.approx(result.peak_to_peak_um["X"][: len(early)])


def test_every_mark_of_the_orbit_lies_where_the_event_was():
    # 3000.7 r/min at 2 kHz: nine degrees a sample, so a mark on a sample would be microns off.
    slow = capture_of(steady(3000.7), 4.0, 2000.0)
    result = answer_moment(slow, SETUP, MomentRequest(2.0))
    raw = result.orbit
    assert raw is not None
    where = np.hypot(raw.marks_x - raw.marks_x.mean(), raw.marks_y - raw.marks_y.mean())
    assert len(where) == 8
    assert where.max() < 1.0
    assert len(raw.x) == pytest.approx(8 * 2000.0 / 50.012, abs=1.0)
