"""The overview of a channel against plain min, max and mean of its samples."""

from __future__ import annotations

from itertools import pairwise

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from hypothesis.extra import numpy as of_numpy

from analysis.model.capture import ArraySource, Channel
from analysis.signal.overview import (
    FACTOR,
    SMALLEST_BLOCK,
    Overview,
    OverviewBuilder,
    finest_block,
)

TYPES = (np.int16, np.int32, np.float32, np.float64)
BLOCK = 4
"""Short blocks, so that a few hundred samples have several levels."""


def built(
    samples: np.ndarray, cuts: list[int] | None = None, *, block: int = BLOCK, **scale: float
) -> Overview:
    builder = OverviewBuilder(len(samples), samples.dtype, block=block, **scale)
    for start, stop in pairwise(sorted({0, *(cuts or []), len(samples)})):
        builder.add(samples[start:stop])
    return builder.overview()


@st.composite
def signals(draw: st.DrawFn) -> np.ndarray:
    """Samples of every type a channel can have, those of floats with NaN among them."""
    dtype = np.dtype(draw(st.sampled_from(TYPES)))
    length = draw(st.integers(1, 700))
    if dtype.kind == "i":
        return draw(of_numpy.arrays(dtype, length))
    numbers = st.floats(-1e6, 1e6, width=32) | st.just(float("nan"))
    return draw(of_numpy.arrays(dtype, length, elements=numbers))


def plain(volts: np.ndarray) -> tuple[float, float, float]:
    good = volts[~np.isnan(volts)]
    if not len(good):
        return np.nan, np.nan, np.nan
    return good.min(), good.max(), good.mean()


def check_against_plain(
    overview: Overview, volts: np.ndarray, start: int, stop: int, columns: int
) -> None:
    low, high, mean = overview.extremes(start, stop, columns)
    first, end = overview.column_edges(start, stop, columns)
    assert low.shape == high.shape == mean.shape == (columns,)
    wanted = np.array([plain(volts[a:b]) for a, b in zip(first, end, strict=True)])
    np.testing.assert_array_equal(low, wanted[:, 0])
    np.testing.assert_array_equal(high, wanted[:, 1])
    largest = np.nanmax(np.abs(volts), initial=1.0)
    np.testing.assert_allclose(mean, wanted[:, 2], rtol=0, atol=1e-6 * largest)


@given(samples=signals(), data=st.data())
def test_extremes_are_those_of_the_samples_to_the_bit(
    samples: np.ndarray, data: st.DataObject
) -> None:
    scale = data.draw(st.sampled_from([1.0, 20.0 / 32768.0, -3.0e-4]), "volts per count")
    offset = data.draw(st.sampled_from([0.0, -9.84]), "offset")
    channel = Channel("A", 1.0, ArraySource(samples), 0.0, scale, offset)
    overview = built(samples, volts_per_count=scale, volts_offset=offset)
    start = data.draw(st.integers(0, len(samples) - 1), "start")
    stop = data.draw(st.integers(start + 1, len(samples)), "stop")
    columns = data.draw(st.integers(1, 60), "columns")
    volts = channel.volts(0, len(samples))
    check_against_plain(overview, volts, start, stop, columns)
    check_against_plain(overview, volts, 0, len(samples), 1)


@given(samples=signals(), data=st.data())
def test_built_in_pieces_is_built_at_once(samples: np.ndarray, data: st.DataObject) -> None:
    cuts = data.draw(st.lists(st.integers(0, len(samples)), max_size=12), "cuts")
    once, pieces = built(samples), built(samples, cuts)
    assert [level.block for level in once.levels] == [level.block for level in pieces.levels]
    for one, other in zip(once.levels, pieces.levels, strict=True):
        for part in ("low", "high", "mean", "count"):
            np.testing.assert_array_equal(getattr(one, part), getattr(other, part))


@given(samples=signals(), data=st.data())
def test_edges_lie_within_a_block_of_what_was_asked(
    samples: np.ndarray, data: st.DataObject
) -> None:
    overview = built(samples)
    start = data.draw(st.integers(0, len(samples) - 1), "start")
    stop = data.draw(st.integers(start + 1, len(samples)), "stop")
    columns = data.draw(st.integers(1, 60), "columns")
    first, end = overview.column_edges(start, stop, columns)
    assert first[0] <= start
    assert end[-1] >= stop
    assert (first < end).all()
    if overview.can_draw(start, stop, columns):
        width = (stop - start) / columns
        assert (first[1:] == end[:-1]).all()
        wanted = start + np.arange(columns) * width
        assert np.abs(first - wanted).max() <= width / 4


@given(samples=signals(), data=st.data())
def test_what_has_filled_stays_true_while_the_rest_fills(
    samples: np.ndarray, data: st.DataObject
) -> None:
    cut = data.draw(st.integers(0, len(samples)), "cut")
    builder = OverviewBuilder(len(samples), samples.dtype, block=BLOCK)
    builder.add(samples[:cut])
    early = builder.overview()
    kept = early.extremes(0, len(samples), 40)
    builder.add(samples[cut:])
    for before, now in zip(kept, early.extremes(0, len(samples), 40), strict=True):
        np.testing.assert_array_equal(before, now)
    assert early.samples == cut
    first, end = early.column_edges(0, len(samples), 40)
    whole = builder.overview().extremes(0, len(samples), 40)
    # A block of the level that is drawn may be missing at the end, not more.
    there = end <= cut - early.levels[-1].block
    np.testing.assert_array_equal(kept[0][there], whole[0][there])
    assert np.isnan(kept[0][first >= cut]).all()


def test_sums_of_full_scale_counts_do_not_wrap() -> None:
    for value in (-32768, 32767):
        overview = built(np.full(3 * 65536, value, np.int16), block=65536)
        assert overview.extremes(0, 3 * 65536, 1)[2] == pytest.approx(value)
    overview = built(np.full(5000, -(2**31), np.int32), block=256)
    assert overview.extremes(0, 5000, 1)[2] == -(2.0**31)


def test_other_byte_order_and_strides_are_read() -> None:
    samples = np.arange(-500, 500, dtype=np.int16)
    for other in (samples.astype(">i2"), np.repeat(samples, 2)[::2]):
        low, high, _mean = built(other).extremes(0, 1000, 3)
        assert (low[0], high[-1]) == (-500.0, 499.0)


def test_infinities_are_values() -> None:
    samples = np.zeros(64)
    samples[10], samples[40] = np.inf, -np.inf
    low, high, _mean = built(samples).extremes(0, 64, 2)
    assert (high[0], low[1]) == (np.inf, -np.inf)


def test_more_samples_than_announced_are_refused() -> None:
    builder = OverviewBuilder(10, np.int16)
    with pytest.raises(ValueError, match="10 samples"):
        builder.add(np.zeros(11, np.int16))


@pytest.mark.parametrize(
    ("start", "stop", "columns"), [(0, 0, 4), (-1, 5, 4), (0, 11, 4), (0, 5, 0)]
)
def test_columns_of_nothing_are_refused(start: int, stop: int, columns: int) -> None:
    with pytest.raises(ValueError, match="no columns"):
        built(np.zeros(10)).extremes(start, stop, columns)


class TestMemory:
    @pytest.mark.parametrize("dtype", TYPES)
    def test_it_takes_a_twentieth_of_the_samples_at_most(self, dtype: type) -> None:
        samples = np.zeros(1_000_000, dtype)
        overview = built(samples, block=SMALLEST_BLOCK)
        assert overview.nbytes <= samples.nbytes / 20

    def test_blocks_grow_with_the_capture(self) -> None:
        assert finest_block(0) == finest_block(1_500_000_000) == SMALLEST_BLOCK
        for samples in (3e9, 1e11, 1e13):
            block = finest_block(int(samples))
            # 8 bytes a block of int16, and a seventh more for the upper levels.
            assert samples / block * 8 * FACTOR / (FACTOR - 1) <= 64 * 2**20

    def test_few_columns_do_not_look_at_many_blocks(self) -> None:
        overview = built(np.zeros(4_000_000, np.int16), block=SMALLEST_BLOCK)
        assert len(overview.levels[-1]) <= 64
