"""nX vectors and mean of every revolution by weighted least squares on the shaft angle.

A Fourier component of a revolution is the mean of the signal times `exp(-jnθ)` over the angle.
Samples rarely fill a revolution a whole number of times, and in a ramp they are not evenly spaced
in angle: a plain sum then lets every order, and the mean, leak into every other. So each sample
counts with the angle it stands for, and mean and orders are solved for together. Where the samples
are evenly spaced and fill the turn this is the plain Fourier component; for white noise it stays
within a fraction of a per cent of the Cramér-Rao bound, since no sample is thrown away.

The work is done in pieces of a few revolutions that stay in the processor's cache. Within a piece
they lie in the rows of a matrix, as wide as the longest of them, and what is beyond the end of a
row has no weight. Samples and basis are float32: their rounding (1 in 10^7) is far below that of
any converter, and they move through memory twice as fast. Sums of a revolution are solved in
float64.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

from analysis.model.results import Complexes, Floats, Ints

from .scratch import Scratch

Singles = NDArray[np.float32]

_PIECE_SAMPLES = 64 * 1024
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
    longest = int(counts.max())
    windows = [_windows(signal, int(starts[-1]) + longest, longest) for signal in signals]
    bases = _Bases.of(angles, orders)
    sums = np.empty((len(counts), len(signals), size))
    gram = np.empty((len(counts), size, size))
    for rows in _pieces(counts):
        plain, weighted = bases.at(rows)
        values = _scratch.array("values", (len(signals), *plain.shape[1:]))
        for k, window in enumerate(windows):
            _subtract(window[:, : plain.shape[2]][starts[rows]], origins[k], values[k])
        gram[rows] = np.matmul(weighted.transpose(1, 0, 2), plain.transpose(1, 2, 0))
        sums[rows] = np.matmul(values.transpose(1, 0, 2), weighted.transpose(1, 2, 0))
    inverse = np.full_like(gram, np.nan)
    enough = counts >= 2 * size
    inverse[enough] = np.linalg.inv(gram[enough])
    # What remains: the mean weighted by angle, and no vectors.
    inverse[~enough, :, 0] = 0.0
    inverse[~enough, 0, 0] = 1.0 / gram[~enough, 0, 0]
    solution = np.matmul(sums, inverse).transpose(1, 2, 0)
    phasors: Complexes = solution[:, 1::2] - 1j * solution[:, 2::2]
    return solution[:, 0] + np.array(origins)[:, np.newaxis], phasors


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


def _subtract(rows: NDArray[Any], origin: float, out: Singles) -> None:
    """About a value close by: float32 would lose the digits of a large mean."""
    if rows.dtype == np.int16:
        # Exact in float32 as it is, with or without the origin.
        np.subtract(rows, np.float32(origin), out=out, dtype=np.float32, casting="unsafe")
    else:
        np.subtract(rows, origin, out=out, casting="unsafe")


@dataclass(frozen=True, eq=False)
class _Bases:
    """Basis functions of the revolutions, made piece by piece.

    `curve` holds the angle in turns as a cubic in the sample's number, `share` what each sample
    stands for of the turn, a parabola; coefficients of a row in `powers`, which has shape (4, w).
    `first` and `last` are the shares of the samples at the ends.
    """

    orders: tuple[int, ...]
    counts: Ints
    curve: Singles
    share: Singles
    first: Singles
    last: Singles
    powers: Singles

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
        end = angles.counts - 1
        first = (c0 + turn_at(np.minimum(1, end))) / 2.0
        last = 1.0 - (turn_at(end) + turn_at(np.maximum(end - 1, 0))) / 2.0
        # Powers of a number between 0 and 1: those of sample numbers leave float32's digits.
        width = int(angles.counts.max())
        degree = np.arange(4)
        scale = float(width) ** degree
        return cls(
            orders=orders,
            counts=angles.counts,
            curve=(np.stack([c0, c1, c2, c3], axis=1) * scale).astype(np.float32),
            share=(np.stack([c1 + c3, 2.0 * c2, 3.0 * c3], axis=1) * scale[:3]).astype(np.float32),
            first=first.astype(np.float32),
            last=np.where(end == 0, 1.0, last).astype(np.float32),
            powers=((np.arange(width) / width) ** degree[:, np.newaxis]).astype(np.float32),
        )

    def at(self, rows: slice) -> tuple[Singles, Singles]:
        """1, cos n₁θ, sin n₁θ, … of some rows, and the same weighted; shape (1 + 2m, r, w).

        Good until the next piece is made in the same thread.
        """
        counts = self.counts[rows]
        width = int(counts.max())
        shape = 1 + 2 * len(self.orders), len(counts), width
        # Basis function by basis function: each is one long run through memory.
        plain, weighted = _scratch.array("plain", shape), _scratch.array("weighted", shape)
        turn = _scratch.array("turn", shape[1:])
        np.matmul(self.curve[rows], self.powers[:, :width], out=turn)
        plain[0] = 1.0
        _basis(turn, self.orders, plain)
        share = weighted[0]
        np.matmul(self.share[rows], self.powers[:3, :width], out=share)
        share[:, 0] = self.first[rows]
        share[np.arange(len(counts)), counts - 1] = self.last[rows]
        shortest = int(counts.min())
        beyond = np.arange(shortest, width) >= counts[:, np.newaxis]
        np.copyto(share[:, shortest:], np.float32(0.0), where=beyond)
        np.multiply(plain[1:], share, out=weighted[1:])
        return plain, weighted


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
