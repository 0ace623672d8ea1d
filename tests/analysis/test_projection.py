"""Means and vectors of revolutions against numpy's own least squares in float64, turn by turn."""

from __future__ import annotations

import numpy as np
import pytest

from analysis.rotor.condensing import most_width, stretches
from analysis.rotor.projection import RowAngles, project


def rows(first: float, last: float, count: int, change: float) -> tuple[np.ndarray, RowAngles]:
    """Revolutions of `first` to `last` samples whose speed changes by ± `change` within each."""
    lengths = np.linspace(first, last, count)
    ends = np.concatenate([[0.0], np.cumsum(lengths)])
    edges = np.ceil(ends - 1e-9).astype(np.int64)
    angles = RowAngles(
        start=(edges[:-1] - ends[:-1]) / lengths,
        step=1.0 / lengths,
        slope_in=np.full(count, 1.0 - change),
        slope_out=np.full(count, 1.0 + change),
        counts=np.diff(edges),
    )
    return edges[:-1], angles


def turn_at(angles: RowAngles, row: int, sample: np.ndarray) -> np.ndarray:
    a, b = angles.slope_in[row], angles.slope_out[row]
    u = angles.start[row] + sample * angles.step[row]
    return a * u + (3.0 - 2.0 * a - b) * u**2 + (a + b - 2.0) * u**3


def least_squares(
    signal: np.ndarray, starts: np.ndarray, angles: RowAngles, orders: tuple[int, ...]
) -> tuple[np.ndarray, np.ndarray]:
    """The same by `numpy.linalg.lstsq`; samples count with the turn they stand for."""
    means, phasors = [], []
    for row, (start, count) in enumerate(zip(starts, angles.counts, strict=True)):
        turn = turn_at(angles, row, np.arange(count))
        edges = np.concatenate([[0.0], (turn[1:] + turn[:-1]) / 2.0, [1.0]])
        share = np.sqrt(np.diff(edges))
        columns = [np.ones(count)]
        for n in orders:
            columns += [np.cos(2.0 * np.pi * n * turn), np.sin(2.0 * np.pi * n * turn)]
        basis = np.stack(columns, axis=1) * share[:, np.newaxis]
        values = signal[start : start + count].astype(np.float64) * share
        found = np.linalg.lstsq(basis, values, rcond=None)[0]
        means.append(found[0])
        phasors.append(found[1::2] - 1j * found[2::2])
    return np.array(means), np.array(phasors).T


AMPLITUDE, AMPLITUDE_2X, MEAN = 300.0, 40.0, -8000.0


def signal_of(starts: np.ndarray, angles: RowAngles) -> np.ndarray:
    random = np.random.default_rng(3)
    total = int(starts[-1] + angles.counts[-1])
    turn = np.empty(total)
    for row, (start, count) in enumerate(zip(starts, angles.counts, strict=True)):
        turn[start : start + count] = turn_at(angles, row, np.arange(count))
    moved = AMPLITUDE * np.cos(2.0 * np.pi * turn - 0.7)
    moved += AMPLITUDE_2X * np.cos(4.0 * np.pi * turn + 1.0)
    return MEAN + moved + random.normal(0.0, 5.0, total)


@pytest.mark.parametrize("whole", [False, True], ids=["float64", "int16"])
@pytest.mark.parametrize(
    ("first", "last", "count", "change", "orders"),
    [
        pytest.param(480.0, 300.0, 200, 0.002, (1, 2), id="run-up"),
        pytest.param(300.0, 480.0, 200, 0.002, (1, 2), id="coast-down"),
        pytest.param(1700.3, 1700.3, 20, 0.0, (1,), id="steady"),
        pytest.param(3000.0, 2000.0, 50, 0.02, (1, 2, 3, 10), id="high orders"),
        pytest.param(100_000.0, 90_000.0, 3, 0.1, (1, 2), id="turning gear"),
        pytest.param(400.0, 300.0, 100, 0.5, (1, 2), id="hard braking"),
        pytest.param(1000.0, 900.0, 20, 1.0, (1, 2), id="from standstill"),
        pytest.param(30.0, 22.0, 50, 0.02, (1, 2), id="few samples"),
        pytest.param(12.3, 10.4, 100, 0.0, (1, 2), id="hardly enough samples"),
    ],
)
def test_projection_is_the_least_squares_solution(first, last, count, change, orders, whole):
    starts, angles = rows(first, last, count, change)
    signal = signal_of(starts, angles)
    if whole:
        signal = np.round(signal).astype(np.int16)
    means, phasors = least_squares(signal, starts, angles, orders)
    found_means, found = project([signal, signal], starts, angles, orders)
    for k in range(2):
        # float32 holds an angle and a sum to 1 in 10^7 of the largest amplitude.
        assert found_means[k] == pytest.approx(means, abs=4e-7 * AMPLITUDE)
        np.testing.assert_allclose(found[k], phasors, rtol=0.0, atol=4e-7 * AMPLITUDE)


def test_revolutions_need_not_lie_one_behind_the_other():
    starts, angles = rows(500.0, 400.0, 60, 0.01)
    signal = signal_of(starts, angles)
    keep = np.flatnonzero(np.arange(60) % 7 != 3)
    keep = keep[(keep < 20) | (keep > 40)]
    some = RowAngles(
        angles.start[keep],
        angles.step[keep],
        angles.slope_in[keep],
        angles.slope_out[keep],
        angles.counts[keep],
    )
    means, phasors = least_squares(signal, starts[keep], some, (1, 2))
    found_means, found = project([signal], starts[keep], some, (1, 2))
    assert found_means[0] == pytest.approx(means, abs=4e-7 * AMPLITUDE)
    np.testing.assert_allclose(found[0], phasors, rtol=0.0, atol=4e-7 * AMPLITUDE)


@pytest.mark.parametrize("longest", [1, 11, 12, 95, 96, 97, 570, 2560, 40_000])
@pytest.mark.parametrize("periods", [1.0, 2.0, 10.0])
def test_points_have_the_sums_of_the_samples(longest, periods):
    cut = stretches(longest, periods)
    assert longest <= cut.width <= most_width(longest)
    random = np.random.default_rng(longest)
    counts = np.unique(np.maximum([longest, longest - 1, longest // 2 + 1], 1))
    samples = random.normal(0.0, 1.0, (len(counts), cut.width)) + 0.5
    samples[np.arange(cut.width) >= counts[:, np.newaxis]] = 0.0
    room = np.zeros((cut.room(len(counts)), cut.width), np.float32)
    room[: len(counts)] = samples
    points = cut.sums(room)[: len(counts)].astype(np.float64)
    ones = cut.samples_at(counts).astype(np.float64)
    place = np.arange(cut.width)
    for share in (0.0, 0.3, 1.0):

        def smooth(x: np.ndarray, share: float = share) -> np.ndarray:
            return np.exp(2j * np.pi * periods * share * x / longest)

        wanted = (samples * smooth(place)).sum(axis=1)
        size = np.abs(samples).sum(axis=1).max()
        np.testing.assert_allclose(points @ smooth(cut.places), wanted, rtol=0.0, atol=3e-7 * size)
        inside = place < counts[:, np.newaxis]
        wanted = (inside * smooth(place)).sum(axis=1)
        np.testing.assert_allclose(ones @ smooth(cut.places), wanted, rtol=0.0, atol=3e-7 * longest)


def test_no_revolution_is_wider_than_said():
    for longest in range(1, 3000, 7):
        for periods in (1.0, 3.0, 7.3, 24.0, 60.0):
            assert stretches(longest, periods).width <= most_width(longest)
