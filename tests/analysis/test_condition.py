"""How far beyond a limit: regions of 1X against their border, votes against plain counting."""

from __future__ import annotations

import cmath
import itertools
import math

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from analysis.model.setup import Limit, Region
from analysis.protection.condition import nth_largest, outside_region
from analysis.rotor.vectors import vector_from


def inside(amplitude: float, lag: float, region: Region) -> bool:
    low, high = region.amplitude_um
    start, end = region.lag_deg
    turned = (lag - start) % 360.0 <= ((end - start) % 360.0 or 360.0)
    return low <= amplitude <= high and turned


def border(region: Region) -> np.ndarray:
    """Points close together all along the border."""
    low, high = region.amplitude_um
    start, end = region.lag_deg
    width = (end - start) % 360.0 or 360.0
    lags = np.radians(start + np.linspace(0.0, width, 4001))
    radii = np.linspace(low, high, 4001)
    parts = [high * np.exp(-1j * lags)]
    if low > 0.0:
        parts.append(low * np.exp(-1j * lags))
    if width < 360.0:
        parts += [radii * cmath.exp(-1j * lags[0]), radii * cmath.exp(-1j * lags[-1])]
    return np.concatenate(parts)


@settings(max_examples=150, deadline=None)
@given(
    low=st.sampled_from([0.0, 10.0, 25.0]),
    more=st.sampled_from([5.0, 30.0]),
    start=st.integers(0, 359),
    width=st.integers(1, 359),
    points=st.lists(st.tuples(st.floats(0.0, 90.0), st.floats(0.0, 360.0)), min_size=1, max_size=8),
)
def test_distance_from_a_region_is_that_from_its_border(low, more, start, width, points):
    region = Region(amplitude_um=(low, low + more), lag_deg=(start, (start + width) % 360 or 360))
    vectors = np.array([vector_from(amplitude, lag) for amplitude, lag in points])
    found = outside_region(vectors, region)
    edge = border(region)
    for (amplitude, lag), vector, distance in zip(points, vectors, found, strict=True):
        nearest = float(np.min(np.abs(edge - vector)))
        assert abs(distance) == pytest.approx(nearest, abs=0.12)
        if nearest > 0.2:
            assert (distance < 0.0) == inside(amplitude, lag, region)


def test_any_lag_has_no_edges():
    region = Region(amplitude_um=(10.0, 40.0), lag_deg=(0.0, 360.0))
    vectors = np.array(
        [vector_from(a, lag) for a in (5.0, 25.0, 50.0) for lag in (0.0, 90.0, 359.0)]
    )
    assert outside_region(vectors, region) == pytest.approx([5.0] * 3 + [-15.0] * 3 + [10.0] * 3)
    # Without a least amplitude there is no inner border either.
    disc = Region(amplitude_um=(0.0, 40.0), lag_deg=(0.0, 360.0))
    assert outside_region(np.array([1.0 + 0j, 50.0j]), disc) == pytest.approx([-39.0, 10.0])


def test_lags_go_through_360():
    region = Region(amplitude_um=(10.0, 40.0), lag_deg=(350.0, 20.0))
    lags = (340.0, 355.0, 5.0, 30.0)
    found = outside_region(np.array([vector_from(25.0, lag) for lag in lags]), region)
    assert (found < 0.0).tolist() == [False, True, True, False]
    # 10° past the edge, at right angles to it.
    assert found[0] == pytest.approx(25.0 * math.sin(math.radians(10.0)))


@pytest.mark.parametrize("measure", ["peak_to_peak", "position"])
@pytest.mark.parametrize("votes", [1, 2, 3])
def test_votes_are_counted(measure, votes):
    """Every state of three probes, against counting them."""
    limit = Limit(probes=("A", "B", "C"), measure=measure, level="trip", above=100.0, votes=votes)
    # Healthy and inside, healthy and beyond, void without a fault, at fault.
    states = {"in": -4.0, "out": 6.0, "void": math.nan, "fault": math.nan}
    rows = list(itertools.product(states, repeat=3))
    values = [np.array([states[row[i]] for row in rows]) for i in range(3)]
    faults = [np.array([row[i] == "fault" for row in rows]) for i in range(3)]
    decided = nth_largest(limit, values, faults, len(rows))
    for row, decision in zip(rows, decided, strict=True):
        out, at_fault = row.count("out"), row.count("fault") if votes > 1 else 0
        carried = out + at_fault >= votes
        if measure == "peak_to_peak":
            carried = carried and out > 0
        assert bool(decision >= 0.0) is carried, row
        judged = "in" in row or "out" in row or (at_fault and measure != "peak_to_peak")
        assert math.isnan(decision) is not bool(judged), row


def test_a_probe_that_is_not_there_never_votes():
    limit = Limit(probes=("A", "B"), measure="position", level="trip", above=100.0, votes=2)
    decided = nth_largest(limit, [np.array([6.0, 6.0])], [np.array([False, True])], 2)
    assert not (decided >= 0.0).any()
    assert np.isnan(nth_largest(limit, [], [], 2)).all()
