"""Dodging labels, round steps, growing scales, zoom, columns, wording."""

from __future__ import annotations

import math
from itertools import pairwise

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from analysis.model.units import LengthUnit
from app.plots.axes import nice_floor, nice_step, plain_number
from app.plots.columns import columns_of
from app.plots.dodge import spread
from app.plots.scales import GrowingScale, nice_length
from app.plots.wording import angle_text, length_text, setting_text
from app.plots.zoom import ZoomX

from . import fake_results as fake

middles = st.lists(st.floats(-50, 250), min_size=1, max_size=8)


@given(middles)
def test_spread_things_neither_touch_nor_leave(wanted):
    sizes = [14.0 + index for index in range(len(wanted))]
    placed = spread(wanted, sizes, 0.0, 200.0)
    order = sorted(range(len(wanted)), key=lambda i: wanted[i])
    for one, other in pairwise(order):
        assert placed[other] - placed[one] >= (sizes[one] + sizes[other]) / 2 - 1e-6
    for middle, size in zip(placed, sizes, strict=True):
        assert middle - size / 2 >= -1e-6
        assert middle + size / 2 <= 200.0 + 1e-6


@given(st.lists(st.integers(1, 9), min_size=1, max_size=5, unique=True))
def test_what_has_room_stays_where_it_is(places):
    wanted = [20.0 * place for place in places]
    assert spread(wanted, [18.0] * len(wanted), 0.0, 200.0) == pytest.approx(wanted)


def test_two_that_touch_share_the_move():
    assert spread([50.0, 50.0], [10.0, 10.0], 0.0, 100.0) == pytest.approx([45.0, 55.0])


def test_too_many_are_squeezed_into_the_room():
    placed = spread([5.0] * 4, [10.0] * 4, 0.0, 20.0)
    assert placed == pytest.approx([2.5, 7.5, 12.5, 17.5])


@given(st.floats(1e-6, 1e6))
def test_steps_are_round_and_near(least):
    step = nice_step(least)
    assert least * (1 - 1e-8) <= step <= 2.5 * least * (1 + 1e-8)
    mantissa = step / 10 ** math.floor(math.log10(step) + 1e-9)
    assert min(abs(mantissa - m) for m in (1, 2, 5)) < 1e-6
    below = nice_floor(least)
    assert least / 2.5 * (1 - 1e-8) <= below <= least * (1 + 1e-8)


def test_numbers_are_written_plainly():
    assert plain_number(-12.34, 1) == "−12.3"
    assert plain_number(-0.04, 1) == "0.0"


# Subnormal numbers vanish when they are divided by a step; no gap is 1e-308 µm.
_LOWS = st.floats(-1e4, 1e4, allow_subnormal=False)
_LENGTHS = st.floats(0, 1e3, allow_subnormal=False)


@given(st.lists(st.tuples(_LOWS, _LENGTHS), min_size=1, max_size=20))
def test_a_scale_holds_everything_and_never_shrinks(pieces):
    scale = GrowingScale(least_span=1.0)
    ends = None
    for low, length in pieces:
        new = scale.include(low, low + length)
        assert new[0] <= low
        assert low + length <= new[1]
        if ends is not None:
            assert new[0] <= ends[0]
            assert ends[1] <= new[1]
        ends = new


def test_a_scale_that_holds_a_value_stays():
    scale = GrowingScale(least_span=1.0)
    ends = scale.include(0.0, 97.0)
    assert scale.include(3.0, 90.0) == ends
    assert scale.include(float("nan"), 5.0) == ends


@pytest.mark.parametrize(
    ("length", "expected"), [(0.09998, 0.1), (0.1, 0.1), (0.12, 0.2), (0.0, 1.0)]
)
def test_lengths_snap_to_round_ones(length, expected):
    assert nice_length(length) == pytest.approx(expected)


def test_zoom_keeps_its_centre_and_its_bounds():
    zoom = ZoomX()
    zoom.by(0.5, 30.0, 0.0, 100.0)
    low, high = zoom.range_within(0.0, 100.0)
    assert (low, high) == pytest.approx((15.0, 65.0))
    zoom.by(100.0, 30.0, 0.0, 100.0)
    assert zoom.range_within(0.0, 100.0) == (0.0, 100.0)
    assert not zoom.active
    zoom.by(0.5, 0.0, 0.0, 100.0)
    assert zoom.range_within(0.0, 100.0) == pytest.approx((0.0, 50.0))


@given(st.lists(st.floats(0, 10), min_size=1, max_size=200), st.integers(1, 30))
def test_columns_hold_the_extremes_of_their_rows(times, count):
    times = np.sort(np.array(times))
    values = np.sin(np.arange(len(times)) * 1.7)
    ranks = (np.arange(len(times)) % 4).astype(np.int8)
    columns = columns_of(times, 0.0, 10.0, count)
    place = np.minimum((times / 10.0 * count).astype(int), count - 1)
    for at, low, high, most in zip(
        columns.places,
        columns.lowest(values),
        columns.highest(values),
        columns.most(ranks),
        strict=True,
    ):
        inside = place == at
        assert low == values[inside].min()
        assert high == values[inside].max()
        assert most == ranks[inside].max()
    assert set(columns.places) == set(place)


def test_columns_need_room():
    with pytest.raises(ValueError, match="range"):
        columns_of(np.array([0.0]), 1.0, 1.0, 10)


def test_lengths_in_words():
    assert length_text(1250.0, LengthUnit.UM) == "1250 µm"
    assert length_text(12.34, LengthUnit.UM) == "12.3 µm"
    # 1250 / 25.4 = 49.2126
    assert length_text(1250.0, LengthUnit.MIL) == "49.21 mil"
    assert setting_text(125.0, LengthUnit.UM) == "125 µm"
    assert setting_text(62.5, LengthUnit.UM) == "62.5 µm"


@pytest.mark.parametrize(
    ("angle", "words"),
    [
        (45.0, "45° right"),
        (-45.0, "45° left"),
        (315.0, "45° left"),
        (0.0, "top"),
        (180.0, "bottom"),
    ],
)
def test_angles_in_words(angle, words):
    probe = fake.fake_setup().probe[0].model_copy(update={"angle_deg": angle})
    assert angle_text(probe) == words
