"""nX vectors and mean of every revolution by weighted least squares on the shaft angle.

A Fourier component of a revolution is the mean of the signal times `exp(-jnθ)` over the angle.
Samples rarely fill a revolution a whole number of times, and in a ramp they are not evenly spaced
in angle: a plain sum then lets every order, and the mean, leak into every other. So each sample
counts with the angle it stands for, and mean and orders are solved for together. Where the samples
are evenly spaced and fill the turn this is the plain Fourier component; for white noise it stays
within a fraction of a per cent of the Cramér-Rao bound, since no sample is thrown away.

Revolutions of a block lie in the rows of a matrix, as wide as the longest of them, and what is
beyond the end of a row has no weight. Samples and basis are float32: their rounding (1 in 10^7) is
far below that of any converter, and they move through memory twice as fast. Sums of a revolution
are solved in float64.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from analysis.model.results import Complexes, Floats, Ints

from .scratch import Scratch

Singles = NDArray[np.float32]

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


@dataclass(frozen=True, eq=False)
class Projector:
    """The angle's part of the work, done once for all channels that share their sample times.

    For r revolutions of at most w samples and m orders: `weighted` holds the weighted basis
    functions 1, cos n₁θ, sin n₁θ, …, shape (1 + 2m, r, w); `inverse` solves the normal equations,
    shape (r, 1 + 2m, 1 + 2m). Good until the next one is made in the same thread: `weighted` lies
    in memory that is used again.
    """

    orders: tuple[int, ...]
    weighted: Singles
    inverse: Floats

    def solve(self, rows: Singles) -> tuple[Floats, Complexes]:
        """Mean of each revolution of c signals, shape (c, r), and phasors `p`, shape (c, m, r).

        `values ≈ mean + Re[p · exp(jnθ)]`. `rows` has shape (c, r, w) and must be finite beyond
        the end of a revolution too.
        """
        sums = np.matmul(rows.transpose(1, 0, 2), self.weighted.transpose(1, 2, 0))
        solution = np.matmul(sums.astype(np.float64), self.inverse).transpose(1, 2, 0)
        phasors: Complexes = solution[:, 1::2] - 1j * solution[:, 2::2]
        return solution[:, 0], phasors


def make_projector(angles: RowAngles, orders: tuple[int, ...]) -> Projector:
    """Prepare the projection on the whole orders n > 0.

    A revolution with too few samples to tell its orders apart (fewer than two for each unknown)
    gives the plain mean and NaN vectors.
    """
    turn = _turn_fraction(angles)
    rows, width = turn.shape
    size = 1 + 2 * len(orders)
    # Basis function by basis function: each is one long run through memory.
    plain = _scratch.array("plain", (size, rows, width))
    weighted = _scratch.array("weighted", (size, rows, width))
    _weights(turn, angles.counts, weighted[0])
    plain[0] = 1.0
    _basis(turn, orders, plain)
    for k in range(1, size):
        np.multiply(plain[k], weighted[0], out=weighted[k])
    gram = np.matmul(weighted.transpose(1, 0, 2), plain.transpose(1, 2, 0)).astype(np.float64)
    inverse = np.full_like(gram, np.nan)
    enough = angles.counts >= 2 * size
    inverse[enough] = np.linalg.inv(gram[enough])
    # What remains: the weighted mean, and no vectors.
    inverse[~enough, 0, :] = 0.0
    inverse[~enough, 0, 0] = 1.0 / gram[~enough, 0, 0]
    return Projector(orders, weighted, inverse)


def _turn_fraction(angles: RowAngles) -> Singles:
    """Share of its turn that each sample lies at, shape (r, w)."""

    def column(values: Floats) -> Singles:
        return values.astype(np.float32)[:, np.newaxis]

    shape = len(angles.counts), int(angles.counts.max())
    share = _scratch.array("share", shape)
    turn = _scratch.array("turn", shape)
    a, b = angles.slope_in, angles.slope_out
    np.multiply(np.arange(shape[1], dtype=np.float32), column(angles.step), out=share)
    share += column(angles.start)
    np.multiply(share, column(a + b - 2.0), out=turn)
    turn += column(3.0 - 2.0 * a - b)
    turn *= share
    turn += column(a)
    turn *= share
    return turn


def _weights(turn: Singles, counts: Ints, out: Singles) -> None:
    """Share of the turn that each sample stands for: up to half-way to its neighbours."""
    rows = np.arange(len(counts))
    last = counts - 1
    if turn.shape[1] > 2:
        np.subtract(turn[:, 2:], turn[:, :-2], out=out[:, 1:-1])
        out[:, 1:-1] *= np.float32(0.5)
    second = np.minimum(1, last)
    out[:, 0] = (turn[:, 0] + turn[rows, second]) / 2.0
    before = np.maximum(last - 1, 0)
    out[rows, last] = 1.0 - (turn[rows, last] + turn[rows, before]) / 2.0
    out[last == 0, 0] = 1.0
    shortest = int(counts.min())
    beyond = np.arange(shortest, turn.shape[1]) >= counts[:, np.newaxis]
    np.copyto(out[:, shortest:], np.float32(0.0), where=beyond)


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
