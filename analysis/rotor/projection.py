"""nX vectors and mean of every revolution by weighted least squares on the shaft angle.

A Fourier component of a revolution is the mean of the signal times `exp(-jnθ)` over the angle.
Samples rarely fill a revolution a whole number of times, and in a ramp they are not evenly spaced
in angle: a plain sum then lets every order, and the mean, leak into every other. So each sample
counts with the angle it stands for, and mean and orders are solved for together. Where the samples
are evenly spaced and fill the turn this is the plain Fourier component; for white noise it stays
within a fraction of a per cent of the Cramér-Rao bound, since no sample is thrown away.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from analysis.model.results import Complexes, Floats, Ints


@dataclass(frozen=True, eq=False)
class Projector:
    """The angle's part of the work, done once for all channels that share their sample times.

    Shapes: n samples in r revolutions, m orders. `weighted` are the weighted basis functions
    1, cos n₁θ, sin n₁θ, …, shape (1 + 2m, n); `inverse` solves the normal equations, shape
    (r, 1 + 2m, 1 + 2m).
    """

    orders: tuple[int, ...]
    starts: Ints
    weighted: Floats
    inverse: Floats

    def solve(self, values: Floats) -> tuple[Floats, Complexes]:
        """Mean of each revolution, shape (r,), and phasors `c`, shape (m, r).

        `values ≈ mean + Re[c · exp(jnθ)]`. NaN in a revolution makes its results NaN; `values` has
        shape (n,).
        """
        sums = np.add.reduceat(self.weighted * values, self.starts, axis=1)
        solution = np.matmul(self.inverse, sums.T[:, :, np.newaxis])[:, :, 0].T
        phasors: Complexes = solution[1::2] - 1j * solution[2::2]
        return solution[0], phasors


def make_projector(turn_fraction: Floats, starts: Ints, orders: tuple[int, ...]) -> Projector:
    """Prepare the projection.

    Args:
        turn_fraction: shaft angle of each sample within its revolution, in turns, `0 <= f < 1`,
            rising within a revolution, shape (n,).
        starts: first sample of each revolution, rising, each with at least one sample; the last
            runs to the end. Shape (r,).
        orders: the whole orders n > 0.

    A revolution with too few samples to tell its orders apart (fewer than two for each unknown)
    gives the plain mean and NaN vectors.
    """
    ends = np.append(starts[1:], len(turn_fraction))
    weights = _angles_stood_for(turn_fraction, starts, ends)
    basis = _basis(turn_fraction, orders)
    weighted = basis * weights
    size = len(basis)
    gram = np.empty((len(starts), size, size))
    for i in range(size):
        for j in range(i, size):
            gram[:, i, j] = gram[:, j, i] = np.add.reduceat(weighted[i] * basis[j], starts)
    inverse = np.full_like(gram, np.nan)
    enough = ends - starts >= 2 * size
    inverse[enough] = np.linalg.inv(gram[enough])
    # What remains: the weighted mean, and no vectors.
    inverse[~enough, 0, :] = 0.0
    inverse[~enough, 0, 0] = 1.0 / gram[~enough, 0, 0]
    return Projector(orders, starts, weighted, inverse)


def _angles_stood_for(fraction: Floats, starts: Ints, ends: Ints) -> Floats:
    """Share of the turn that each sample stands for: up to half-way to its neighbours."""
    halfway = np.empty(len(fraction) + 1)
    halfway[1:-1] = (fraction[1:] + fraction[:-1]) / 2.0
    halfway[0], halfway[-1] = 0.0, 1.0
    left, right = halfway[:-1].copy(), halfway[1:].copy()
    left[starts] = 0.0
    right[ends - 1] = 1.0
    return right - left


def _basis(fraction: Floats, orders: tuple[int, ...]) -> Floats:
    basis = np.empty((1 + 2 * len(orders), len(fraction)))
    basis[0] = 1.0
    for k, order in enumerate(orders):
        angle = (2.0 * np.pi * order) * fraction
        np.cos(angle, out=basis[1 + 2 * k])
        np.sin(angle, out=basis[2 + 2 * k])
    return basis
