"""nX vectors and mean of every revolution by weighted least squares on the shaft angle.

A Fourier component of a revolution is the mean of the signal times `exp(-jnθ)` over the angle.
Samples rarely fill a revolution a whole number of times, and in a ramp they are not evenly spaced
in angle: a plain sum then lets every order, and the mean, leak into every other. So each sample
counts with the angle it stands for, and mean and orders are solved for together. Where the samples
are evenly spaced and fill the turn this is the plain Fourier component; for white noise it stays
within a fraction of a per cent of the Cramér-Rao bound, since no sample is thrown away.

The work is done in pieces of some revolutions that stay in the processor's cache. Within a piece
they lie in the rows of a matrix, as wide as the longest of them, zero beyond the end of a row, and
are condensed to a few points each (see `condensing`) that the cosines are worked out at. Samples
and basis are float32: their rounding (1 in 10^7) is far below that of any converter, and they move
through memory twice as fast. Sums of a revolution are solved in float64.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

from analysis.model.results import Complexes, Floats, Ints

from .condensing import Stretches, most_width, stretches
from .scratch import Scratch

Singles = NDArray[np.float32]

_PIECE_SAMPLES = 384 * 1024
"""Samples of a piece: few enough for its arrays to stay in the cache, enough for what each call
costs, and for threads that wait for the interpreter at each, to be spread thin."""

_SPREAD = 1.25
"""Revolutions of a piece differ in length by no more than this: shorter rows are padded."""

_scratch = Scratch()


@dataclass(frozen=True, eq=False)
class RowAngles:
    """Shaft angle of the samples of each revolution, arrays of shape (r,).

    Sample `j` of a revolution lies at `u = start + j * step` of its time, 0 to 1, and at
    `u (a + u ((3 - 2a - b) + u (a + b - 2)))` of its turn, with `a = slope_in`, `b = slope_out`
    the speed at its ends over its mean speed (see `shaft_angle`).
    """

    start: Floats
    step: Floats
    slope_in: Floats
    slope_out: Floats
    counts: Ints


def project(
    signals: Sequence[NDArray[Any]], starts: Ints, angles: RowAngles, orders: tuple[int, ...]
) -> tuple[Floats, Complexes]:
    """Mean of each revolution of c signals, shape (c, r), and phasors `p`, shape (c, m, r).

    `values ≈ mean + Re[p · exp(jnθ)]`.

    Args:
        signals: samples, finite, all of the same sample times.
        starts: first sample of each of r revolutions, rising, shape (r,).
        angles: the shaft angle of their samples.
        orders: m whole orders n > 0.

    A revolution with too few samples to tell its orders apart (fewer than two for each unknown)
    gives the plain mean and NaN vectors.
    """
    size = 1 + 2 * len(orders)
    counts = angles.counts
    origins = [float(signal[0]) for signal in signals]
    reach = most_width(int(counts.max()))
    windows = [_windows(signal, int(starts[-1]) + reach, reach) for signal in signals]
    bases = _Bases.of(angles, orders)
    # Of the basis functions themselves, then of the signals.
    sums = np.empty((len(counts), size + len(signals), size))
    for rows in _pieces(counts):
        cut = stretches(int(counts[rows].max()), float(bases.periods[rows].max()))
        shape = size + len(signals), rows.stop - rows.start, len(cut.places) + 2
        table = _scratch.array("table", shape)
        weighted = bases.at(rows, cut, table[:size])
        taken = _Taken(starts[rows], counts[rows], cut)
        for window, origin, out in zip(windows, origins, table[size:], strict=True):
            taken.points(window, origin, out)
        sums[rows] = np.matmul(table.transpose(1, 0, 2), weighted.transpose(1, 2, 0))
    few = counts < 2 * size
    # What remains of these: the mean weighted by angle, and no vectors.
    sums[few, :1, 1:] = 0.0
    solution = _solved(sums[:, :size], sums[:, size:])
    solution[1:, :, few] = np.nan
    phasors: Complexes = solution[1::2] - 1j * solution[2::2]
    return solution[0] + np.array(origins)[:, np.newaxis], phasors.transpose(1, 0, 2)


def _solved(gram: Floats, sums: Floats) -> Floats:
    """Solution of the normal equations of each row, shape (s, c, r), of (r, s, s) and (r, c, s).

    Elimination without pivots (the matrices are symmetric and positive definite) of all rows at
    once: a call of LAPACK for each row costs several times what the arithmetic of so few unknowns
    does.
    """
    left, right = gram.transpose(1, 2, 0).copy(), sums.transpose(2, 1, 0).copy()
    size = len(left)
    for i in range(size - 1):
        factor = (left[i + 1 :, i] / left[i, i])[:, np.newaxis]
        left[i + 1 :, i + 1 :] -= factor * left[i, i + 1 :]
        right[i + 1 :] -= factor * right[i]
    for i in range(size - 1, -1, -1):
        for k in range(i + 1, size):
            right[i] -= left[i, k] * right[k]
        right[i] /= left[i, i]
    return right


def _pieces(counts: Ints) -> Iterator[slice]:
    """Runs of revolutions of about equal length that hold about `_PIECE_SAMPLES` samples."""
    row = 0
    while row < len(counts):
        first = int(counts[row])
        near = counts[row : row + max(_PIECE_SAMPLES // first, 1)]
        unlike = (near > _SPREAD * first) | (near * _SPREAD < first)
        few = int(unlike.argmax()) if unlike.any() else len(near)
        yield slice(row, row + few)
        row += few


def _windows(signal: NDArray[Any], length: int, width: int) -> NDArray[Any]:
    """Every stretch of `width` samples of a signal that its last value makes `length` long."""
    if len(signal) < length:
        signal = np.append(signal, np.repeat(signal[-1:], length - len(signal)))
    return np.lib.stride_tricks.sliding_window_view(signal, width)


class _Taken:
    """The samples of a piece's revolutions, condensed."""

    def __init__(self, starts: Ints, counts: Ints, cut: Stretches) -> None:
        self._starts, self._last, self._cut = starts, counts - 1, cut
        self._shortest = int(counts.min())
        inside = np.arange(self._shortest, cut.width) < counts[:, np.newaxis]
        self._inside = inside.astype(np.float32)

    def points(self, window: NDArray[Any], origin: float, out: Singles) -> None:
        """Points of a signal's revolutions, then their first and last samples, (r, p + 2)."""
        rows = len(self._starts)
        room = _scratch.array("values", (self._cut.room(rows), self._cut.width))
        values = room[:rows]
        room[rows:] = 0.0
        _subtract(window[:, : self._cut.width][self._starts], origin, values)
        values[:, self._shortest :] *= self._inside
        out[:, :-2] = self._cut.sums(room)[:rows]
        out[:, -2] = values[:, 0]
        out[:, -1] = values[np.arange(rows), self._last]


def _subtract(rows: NDArray[Any], origin: float, out: Singles) -> None:
    """About a value close by: float32 would lose the digits of a large mean."""
    if rows.dtype == np.int16:
        # Exact in float32 as it is; a plain conversion is much quicker than one while subtracting.
        np.copyto(out, rows)
        np.subtract(out, np.float32(origin), out=out)
    else:
        np.subtract(rows, origin, out=out, casting="unsafe")


@dataclass(frozen=True, eq=False)
class _Bases:
    """Basis functions of the revolutions, made piece by piece.

    `curve` holds the angle in turns as a cubic in the sample's number over `unit`, `share` what
    each sample stands for of the turn, a parabola; shapes (r, 4) and (r, 3). Samples at the ends
    stand for more or less: `ends` has what their shares lack, `ends_turn` their angle, (r, 2).
    `periods` is how many periods a turn the fastest basis function has where it is fastest.
    """

    orders: tuple[int, ...]
    counts: Ints
    unit: float
    curve: Floats
    share: Singles
    ends: Singles
    ends_turn: Floats
    periods: Floats

    @classmethod
    def of(cls, angles: RowAngles, orders: tuple[int, ...]) -> _Bases:
        a, b, start, step = angles.slope_in, angles.slope_out, angles.start, angles.step
        square, cube = 3.0 - 2.0 * a - b, a + b - 2.0
        c0 = start * (a + start * (square + start * cube))
        c1 = step * (a + start * (2.0 * square + 3.0 * start * cube))
        c2 = step**2 * (square + 3.0 * start * cube)
        c3 = step**3 * cube

        def turn_at(sample: Ints) -> Floats:
            turn: Floats = c0 + sample * (c1 + sample * (c2 + sample * c3))
            return turn

        # A sample stands for the turn from half-way to half-way to its neighbours.
        s0, s1, s2 = c1 + c3, 2.0 * c2, 3.0 * c3
        last = angles.counts - 1
        ends_turn = np.stack([c0, turn_at(last)], axis=1)
        begun = (c0 + turn_at(np.minimum(1, last))) / 2.0
        left = 1.0 - (ends_turn[:, 1] + turn_at(np.maximum(last - 1, 0))) / 2.0
        begun[last == 0], left[last == 0] = s0[last == 0], 1.0
        ends = np.stack([begun - s0, left - (s0 + last * (s1 + last * s2))], axis=1)
        # Powers of a number between 0 and 1: those of sample numbers leave float32's digits.
        unit = float(angles.counts.max())
        scale = unit ** np.arange(4)
        # A cubic is steepest at an end or in its middle.
        steepest = np.maximum(np.maximum(a, b), 1.5 - (a + b) / 4.0)
        return cls(
            orders=orders,
            counts=angles.counts,
            unit=unit,
            curve=np.stack([c0, c1, c2, c3], axis=1) * scale,
            share=(np.stack([s0, s1, s2], axis=1) * scale[:3]).astype(np.float32),
            ends=ends.astype(np.float32),
            ends_turn=ends_turn,
            periods=max(orders, default=1) * steepest,
        )

    def at(self, rows: slice, cut: Stretches, plain: Singles) -> Singles:
        """1, cos n₁θ, sin n₁θ, … at the points of some rows and at their first and last samples.

        Put into `plain`, times the samples that a point stands for; returned times the turn that a
        sample stands for there. Both of shape (1 + 2m, r, p + 2). Good until the next piece is made
        in the same thread.
        """
        # Basis function by basis function: each is one long run through memory.
        weighted = _scratch.array("weighted", plain.shape)
        turn = _scratch.array("turn", plain.shape[1:])
        powers = (cut.places / self.unit) ** np.arange(4)[:, np.newaxis]
        turn[:, :-2] = _within_half(np.matmul(self.curve[rows], powers))
        turn[:, -2:] = _within_half(self.ends_turn[rows])
        _basis(turn, self.orders, plain)
        share = weighted[0]
        share[:, :-2] = np.matmul(self.share[rows], powers[:3].astype(np.float32))
        share[:, -2:] = self.ends[rows]
        np.multiply(plain[1:], share, out=weighted[1:])
        samples = plain[0]
        samples[:, :-2] = cut.samples_at(self.counts[rows])
        samples[:, -2:] = 1.0
        plain[1:] *= samples
        return weighted


def _within_half(turn: Floats) -> Floats:
    """The same angle between minus and plus half a turn: float32 keeps one digit more of it."""
    near: Floats = turn - np.rint(turn)
    return near


def _basis(turn: Singles, orders: tuple[int, ...], out: Singles) -> None:
    """Cosine and sine of each order into rows 1, 2, 3, 4 … of `out`, shape (1 + 2m, r, w)."""
    angle = _scratch.array("angle", turn.shape)
    for k, order in enumerate(orders):
        cosine, sine = out[1 + 2 * k], out[2 + 2 * k]
        if order % 2 == 0 and order // 2 in orders[:k]:
            # Double angle: cos 2x = 2 cos² x - 1, sin 2x = 2 sin x cos x.
            half = orders.index(order // 2)
            np.multiply(out[1 + 2 * half], np.float32(2.0), out=angle)
            np.multiply(angle, out[2 + 2 * half], out=sine)
            np.multiply(angle, out[1 + 2 * half], out=cosine)
            cosine -= np.float32(1.0)
            continue
        np.multiply(turn, np.float32(2.0 * np.pi * order), out=angle)
        np.cos(angle, out=cosine)
        np.sin(angle, out=sine)
