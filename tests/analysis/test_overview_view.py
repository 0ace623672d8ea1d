"""The overview of a capture: from mapped, chunked and read sources, while it fills, and drawn."""

from __future__ import annotations

from pathlib import Path

import h5py
import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from analysis.files.open import open_capture
from analysis.files.overview_cache import OverviewCache
from analysis.jobs import JobCancelled
from analysis.model.capture import ArraySource, Capture, Channel
from analysis.model.span import TimeSpan
from analysis.views.overview import CaptureOverview, answer_overview, overview_trace

RATE = 25_600.0
LENGTH = 300_001


def counts(length: int = LENGTH, seed: int = 0) -> np.ndarray:
    random = np.random.default_rng(seed)
    return random.integers(-16000, -9000, length).astype(np.int16)


def written(path: Path, packing: dict[str, object], **channels: np.ndarray) -> Path:
    with h5py.File(path, "w") as file:
        file.attrs["runtrue_capture"] = 1
        for name, samples in channels.items():
            dataset = file.create_dataset(f"channels/{name}", data=samples, **packing)
            dataset.attrs["sample_rate_hz"] = RATE
            dataset.attrs["volts_per_count"] = 20.0 / 32768.0
    return path


def in_memory(samples: np.ndarray, **facts: float) -> Capture:
    return Capture("made", {"A": Channel("A", RATE, ArraySource(samples), **facts)})


class Watcher:
    """Progress that counts, and stops the job when it is told to."""

    def __init__(self, stop_at: float = 2.0) -> None:
        self.stop_at = stop_at
        self.told: list[float] = []

    def report(self, fraction: float, what: str = "") -> None:
        self.told.append(fraction)
        if fraction >= self.stop_at:
            raise JobCancelled


@pytest.mark.parametrize(
    ("dtype", "packing"),
    [
        ("int16", {}),
        ("float32", {}),
        ("float64", {}),
        ("int16", {"chunks": (5000,), "compression": "gzip", "shuffle": True}),
        ("float32", {"chunks": (65536,)}),
        ("int32", {"chunks": (3333,), "scaleoffset": 0}),
    ],
    ids=str,
)
def test_every_kind_of_storage(tmp_path: Path, dtype: str, packing: dict[str, object]) -> None:
    samples = counts().astype(dtype)
    if samples.dtype.kind == "f":
        samples[1000:5000] = np.nan
        samples[77] = np.nan
    capture = open_capture(written(tmp_path / "a.h5", packing, A=samples))
    one = answer_overview(capture).channels["A"]
    volts = capture.channels["A"].volts(0, LENGTH)
    low, high, mean = one.extremes(0, LENGTH, 37)
    for column, (a, b) in enumerate(zip(*one.column_edges(0, LENGTH, 37), strict=True)):
        if np.isnan(volts[a:b]).all():
            assert np.isnan([low[column], high[column], mean[column]]).all()
            continue
        assert (low[column], high[column]) == (np.nanmin(volts[a:b]), np.nanmax(volts[a:b]))
        assert mean[column] == pytest.approx(np.nanmean(volts[a:b]), abs=1e-5)
    capture.close()


@pytest.mark.parametrize("value", [-12000, np.nan])
def test_a_capture_of_one_sample(value: float) -> None:
    samples = np.array([value], np.float32)
    capture = in_memory(samples)
    overview = answer_overview(capture)
    assert overview.complete
    np.testing.assert_array_equal(overview.channels["A"].extremes(0, 1, 5)[0], [value] * 5)
    trace = overview_trace(overview, capture, "A", capture.span, 800)
    assert trace.exact
    np.testing.assert_array_equal(trace.low, samples)


def test_no_channels_at_all() -> None:
    overview = answer_overview(Capture("nothing", {}))
    assert overview.complete
    assert not overview.channels


def test_rates_and_starts_of_their_own() -> None:
    channels = {
        "fast": Channel("fast", 20_000.0, ArraySource(counts(1_500_000)), start_s=3.0),
        "slow": Channel("slow", 100.0, ArraySource(counts(8_000)), start_s=-5.0),
        "short": Channel("short", 20_000.0, ArraySource(counts(700))),
    }
    capture = Capture("mixed", channels)
    parts: list[CaptureOverview] = []
    whole = answer_overview(capture, partial=parts.append)
    for name, channel in channels.items():
        volts = channel.volts(0, len(channel))
        low, high, _mean = whole.channels[name].extremes(0, len(channel), 1)
        assert (low[0], high[0]) == (volts.min(), volts.max())
    assert parts
    # How far it has come is where the channel that is furthest behind has come.
    for part in parts:
        for name, one in part.channels.items():
            reached = channels[name].start_s + one.samples / channels[name].sample_rate_hz
            assert one.samples == one.length or reached >= part.done_s
    assert whole.done_s == capture.span.end_s


class TestWhileItFills:
    capture = in_memory(counts(1 << 24))

    def test_parts_come_about_ten_times_and_can_be_drawn(self) -> None:
        parts: list[CaptureOverview] = []
        whole = answer_overview(self.capture, partial=parts.append)
        assert 5 <= len(parts) <= 40
        assert [part.done_s for part in parts] == sorted(part.done_s for part in parts)
        assert not any(part.complete for part in parts)
        all_of_it = overview_trace(whole, self.capture, "A", self.capture.span, 500)
        for part in parts:
            trace = overview_trace(part, self.capture, "A", self.capture.span, 500)
            # What is there is right already, and what is not there is absent.
            filled = np.flatnonzero(trace.x < part.done_s - 0.05 * self.capture.span.length_s)
            np.testing.assert_array_equal(trace.low[filled], all_of_it.low[filled])
            assert np.isnan(trace.high[trace.x > part.done_s]).all()

    def test_progress_rises_to_one(self) -> None:
        watcher = Watcher()
        answer_overview(self.capture, progress=watcher)
        assert watcher.told == sorted(watcher.told)
        assert (watcher.told[0], watcher.told[-1]) == (0.0, 1.0)
        assert len(watcher.told) > 10

    @pytest.mark.parametrize("stop_at", [0.0, 0.4, 1.0])
    def test_stopped_it_leaves_nothing_behind(self, tmp_path: Path, stop_at: float) -> None:
        capture = open_capture(written(tmp_path / "a.h5", {}, A=counts(1 << 21)))
        cache = OverviewCache(tmp_path / "cache")
        with pytest.raises(JobCancelled):
            answer_overview(capture, progress=Watcher(stop_at), cache=cache)
        assert not (tmp_path / "cache").exists()
        assert answer_overview(capture, cache=cache).complete
        capture.close()


class TestTrace:
    samples = counts(2_000_000)
    capture = in_memory(samples, volts_per_count=-1e-3, volts_offset=2.5, start_s=10.0)
    overview = answer_overview(capture)

    @given(
        start=st.floats(9.0, 90.0),
        length=st.floats(0.0, 90.0) | st.floats(0.0, 0.3),
        columns=st.integers(1, 2000),
    )
    def test_it_tells_the_truth_at_every_zoom(
        self, start: float, length: float, columns: int
    ) -> None:
        span = TimeSpan(start, start + length)
        times, volts = self.capture.channels["A"].volts_in(span)
        trace = overview_trace(self.overview, self.capture, "A", span, columns)
        assert len(trace.x) == len(trace.low) == len(trace.high)
        assert len(trace.x) <= (2 * columns if trace.low is trace.high else columns)
        if not len(times):
            assert not len(trace.x)
            return
        assert (np.diff(trace.x) > 0).all()
        width = length / columns
        assert trace.x[0] >= times[0] - start - width - 1 / RATE
        assert trace.x[-1] <= length + width + 1 / RATE
        # Extremes lie within those of the span, or of what lies within a column beside it.
        if trace.exact:
            assert (trace.low.min(), trace.high.max()) == (volts.min(), volts.max())
        else:
            _, around = self.capture.channels["A"].volts_in(span.widened(width / 4 + 1 / RATE))
            assert around.min() <= trace.low.min() <= volts.min()
            assert around.max() >= trace.high.max() >= volts.max()

    def test_single_samples_are_shown_as_they_are(self) -> None:
        trace = overview_trace(self.overview, self.capture, "A", TimeSpan(20.0, 20.02), 800)
        times, volts = self.capture.channels["A"].volts_in(TimeSpan(20.0, 20.02))
        np.testing.assert_array_equal(trace.low, volts)
        np.testing.assert_allclose(trace.x, times - 20.0, atol=1e-12)

    def test_a_spike_of_one_sample_is_never_lost(self) -> None:
        samples = np.full(2_000_000, -9000, np.int16)
        samples[1_234_567] = -20_000
        capture = in_memory(samples)
        overview = answer_overview(capture)
        moment = 1_234_567 / RATE
        for half in (0.001, 0.01, 0.1, 1.0, 10.0, 30.0):
            trace = overview_trace(
                overview, capture, "A", TimeSpan(moment - half, moment + half), 900
            )
            at = int(np.argmin(trace.low))
            assert trace.low[at] == -20_000
            assert trace.x[at] == pytest.approx(half, abs=2.0 * 2.0 * half / 900 + 1 / RATE)

    def test_nan_is_a_gap_and_no_more(self) -> None:
        samples = np.zeros(500_000, np.float32)
        samples[100_000:200_000] = np.nan
        capture = in_memory(samples)
        for span in (capture.span, TimeSpan(3.0, 9.0), TimeSpan(3.9, 3.91)):
            trace = overview_trace(answer_overview(capture), capture, "A", span, 100)
            at = (trace.x + span.start_s) * RATE
            gap = (at > 110_000) & (at < 190_000)
            assert np.isnan(trace.low[gap]).all()
            assert np.isfinite(trace.low[at < 90_000]).all()

    def test_an_unknown_channel_is_told(self) -> None:
        with pytest.raises(KeyError):
            overview_trace(self.overview, self.capture, "B", self.capture.span, 100)
