"""Waveforms of any length: windows, samples, columns of long stretches, the overview."""

from __future__ import annotations

import numpy as np
import pytest

from analysis.jobs import JobCancelled
from analysis.model.capture import ArraySource, Capture, Channel
from analysis.model.setup import Probe
from analysis.model.span import TimeSpan
from analysis.rotor.gap import gap_from_volts
from analysis.views import waveforms
from analysis.views.moment import answer_moment
from analysis.views.moment_request import MomentRequest
from analysis.views.overview import answer_overview
from analysis.views.time_window import automatic_window, window_around
from analysis.views.waveforms import gap_trace
from tests.analysis.synthetic import capture_of, setup_of, steady

RATE = 20_000.0
WHOLE = TimeSpan(10.0, 110.0)
PROBE = Probe(
    name="X", channel="X", angle_deg=45.0, scale_factor_mv_per_um=8.0, fault_v=(-22.0, -0.5)
)


def capture(seconds: float = 60.0, rate: float = RATE, **changes) -> Capture:
    """Noise about -10 V, as counts of a converter; the same for the same length."""
    rng = np.random.default_rng(5)
    raw = rng.integers(-600, 600, round(seconds * rate)).astype(np.int16)
    facts = {"volts_per_count": 1e-3, "volts_offset": -10.0, "start_s": 3.0, **changes}
    return Capture("long", {"X": Channel("X", rate, ArraySource(raw), **facts)})


def gap_of(made: Capture) -> np.ndarray:
    channel = made.channels["X"]
    return gap_from_volts(channel.volts(0, len(channel)), PROBE)


@pytest.mark.parametrize(
    ("moment", "length", "place", "wanted"),
    [
        (50.0, 10.0, 0.5, (45.0, 55.0)),
        (50.0, 10.0, 0.2, (48.0, 58.0)),
        (12.0, 10.0, 0.5, (10.0, 20.0)),
        (109.0, 10.0, 0.5, (100.0, 110.0)),
        (50.0, 100.0, 0.1, (10.0, 110.0)),
        (50.0, 1e9, 0.5, (10.0, 110.0)),
        (10.0, 1e-4, 0.5, (10.0, 10.0001)),
    ],
)
def test_a_window_stands_about_the_moment_and_stops_at_the_ends(moment, length, place, wanted):
    window = window_around(moment, length, WHOLE, place)
    assert (window.start_s, window.end_s) == pytest.approx(wanted)
    if length >= WHOLE.length_s:
        assert window == WHOLE


@pytest.mark.parametrize(("held", "length"), [(0.08, 0.1), (0.1, 0.1), (0.11, 0.2), (0.3, 0.5)])
def test_the_automatic_window_has_a_round_length(held, length):
    window = automatic_window(TimeSpan(50.0, 50.0 + held), 50.0 + held / 2, WHOLE)
    assert window.length_s == pytest.approx(length)
    assert (window.start_s + window.end_s) / 2 == pytest.approx(50.0 + held / 2)


def test_a_few_samples_are_all_there_with_their_neighbours():
    made = capture()
    window = TimeSpan(20.0, 20.0 + 8 / RATE)
    trace, known = gap_trace(made, PROBE, window, 800, moment_s=20.0, beyond=True)
    assert known is None
    assert not trace.envelope
    assert len(trace.x) == 8 + 2 * 2
    assert trace.x[2] == pytest.approx(0.0, abs=1e-9)
    first = round((20.0 - 3.0) * RATE) - 2
    assert trace.y == pytest.approx(gap_of(made)[first : first + 12])
    bare, _ = gap_trace(made, PROBE, window, 800, moment_s=20.0)
    assert len(bare.x) == 8


@pytest.mark.parametrize("columns", [100, 333, 1000])
@pytest.mark.parametrize("seconds", [7.3, 40.0, 57.9])
def test_columns_read_in_blocks_are_those_of_the_whole(seconds, columns):
    made = capture()
    window = TimeSpan(4.0, 4.0 + seconds)
    trace, known = gap_trace(made, PROBE, window, columns, moment_s=20.0)
    assert known is None
    assert trace.envelope
    assert len(trace.x) <= 2 * columns
    assert np.all(np.diff(trace.x) >= 0)
    first, count = round(1.0 * RATE), round(seconds * RATE)
    inside = gap_of(made)[first : first + count]
    width = -(-count // columns)
    for place in (0, 1, columns // 2, len(trace.y) // 2 - 1):
        column = inside[place * width : (place + 1) * width]
        drawn = trace.y[2 * place : 2 * place + 2]
        assert (drawn.min(), drawn.max()) == pytest.approx((column.min(), column.max()))


def test_what_cannot_be_read_at_once_is_told(monkeypatch):
    monkeypatch.setattr(waveforms, "MOST_READ", 200_000)
    made = capture()
    window = TimeSpan(3.0, 63.0)
    trace, known = gap_trace(made, PROBE, window, 500, moment_s=33.0)
    assert known == pytest.approx((25.0, 35.0))
    assert (trace.x[0], trace.x[-1]) == pytest.approx((25.0, 35.0), abs=0.05)


def test_the_overview_brings_what_was_lacking(monkeypatch):
    monkeypatch.setattr(waveforms, "MOST_READ", 200_000)
    made = capture()
    overview = answer_overview(made)
    window = TimeSpan(3.0, 63.0)
    trace, known = gap_trace(made, PROBE, window, 500, moment_s=33.0, overview=overview)
    assert known is None
    assert trace.envelope
    assert len(trace.x) <= 1000
    gap = gap_of(made)
    assert (np.nanmin(trace.y), np.nanmax(trace.y)) == pytest.approx((gap.min(), gap.max()))
    # Column by column: nothing of the samples lies outside, to the float32 of the overview.
    low, high = (f(trace.y.reshape(-1, 2), axis=1) for f in (np.min, np.max))
    for place in (3, 100, 250, 499):
        middle = round(trace.x[2 * place] * RATE)
        column = gap[middle - 1000 : middle + 1000]
        assert low[place] <= column.min() + 0.01
        assert high[place] >= column.max() - 0.01


def test_an_overview_that_still_fills_shows_how_far_it_has_come(monkeypatch):
    monkeypatch.setattr(waveforms, "MOST_READ", 200_000)
    made = capture(240.0)
    partials = []
    answer_overview(made, partial=partials.append)
    half = next(each for each in partials if each.done_s > 60.0)
    window = TimeSpan(3.0, 243.0)
    trace, known = gap_trace(made, PROBE, window, 500, moment_s=20.0, overview=half)
    assert known == pytest.approx((0.0, half.done_s - 3.0))
    assert np.isfinite(trace.y[trace.x < known[1] - 1.0]).all()
    assert np.isnan(trace.y[trace.x > known[1] + 1.0]).all()


def test_faults_are_gaps_however_the_window_is_read():
    made = capture()
    raw = made.channels["X"].source.values
    raw[400_000:700_000] = 9_900  # -0.1 V
    for overview in (None, answer_overview(made)):
        trace, _ = gap_trace(
            made, PROBE, TimeSpan(3.0, 63.0), 500, moment_s=33.0, overview=overview
        )
        assert np.isnan(trace.y[(trace.x > 20.5) & (trace.x < 34.5)]).all()
        assert np.isfinite(trace.y[(trace.x < 19.5) | (trace.x > 35.5)]).all()


def test_a_long_reading_can_be_stopped():
    class Stop:
        def report(self, fraction, what=""):
            raise JobCancelled

    with pytest.raises(JobCancelled):
        gap_trace(capture(), PROBE, TimeSpan(3.0, 63.0), 500, moment_s=33.0, progress=Stop())


@pytest.mark.parametrize("length_s", [8 / 10_240, 0.01, 0.3, 3.9, 4.0, 100.0])
@pytest.mark.parametrize("moment", [0.0, 1.234, 4.0])
def test_the_moment_page_can_have_any_window(length_s, moment):
    made, setup = capture_of(steady(3000.7), 4.0, 10_240.0), setup_of()
    request = MomentRequest(moment, waveform_s=length_s, waveform_place=0.3)
    answer = answer_moment(made, setup, request)
    assert answer.waveform_span == window_around(moment, length_s, made.span, 0.3)
    assert answer.moment_offset_s == pytest.approx(moment - answer.waveform_span.start_s)
    assert not answer.waits_for_overview
    waveform = answer.waveforms["X"]
    assert len(waveform.trace.x) <= 2 * request.columns + 4
    plain = answer_moment(made, setup, MomentRequest(moment))
    mine, theirs = answer.readings.probes["X"], plain.readings.probes["X"]
    assert mine.peak_to_peak_um == theirs.peak_to_peak_um


def test_marks_go_where_they_would_be_a_smear():
    made, setup = capture_of(steady(3000.7), 20.0, 10_240.0), setup_of()
    some = answer_moment(made, setup, MomentRequest(10.0, waveform_s=1.0)).waveforms["X"]
    assert len(some.marks_s) in (50, 51)
    none = answer_moment(made, setup, MomentRequest(10.0, waveform_s=20.0)).waveforms["X"]
    assert len(none.marks_s) == 0
