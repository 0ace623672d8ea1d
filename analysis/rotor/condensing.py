"""The samples of a revolution condensed to few points that give the same sums.

What is wanted of thousands of samples of a turn is their sum times a few smooth functions of the
angle. Within a stretch of the turn that a function hardly bends in, it is the polynomial through
its values at a few points, to eight digits; and the sum of samples times a polynomial needs of the
samples only their sums times the polynomials that are one at one of the points and zero at the
others. So a stretch of any length becomes `POINTS` numbers, by one matrix product with constants,
and cosines are worked out at its points only. No sample is left out, and none is filtered: it is
interpolation the other way round (its transpose).

Points are those of Gauss-Legendre quadrature (Abramowitz & Stegun 1964, 25.4.29), for which the
sums of products of two of the functions come out as well as those of one.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from functools import lru_cache

import numpy as np
from numpy.polynomial import legendre
from numpy.typing import NDArray

from analysis.model.results import Floats, Ints

from .scratch import Scratch

Singles = NDArray[np.float32]

POINTS = 8
"""Points of a stretch."""

_STRETCHES = 5
"""Stretches for each period of the fastest function. A polynomial of degree 7 meets a fifth of a
period to 2 (π/10)^8 / 8! = 5 in 10^9 (the remainder for Chebyshev points), below float32."""

_LONGEST = 2048
"""Samples that are summed up in float32 at once."""

_WORTH = 12
"""A shorter stretch is not worth it: its samples are taken as they are."""

_BLAS_ALONE = 1 << 18
"""Products of a matrix product that OpenBLAS (0.3) starts no threads of its own for. They would
take the cores from ours, and everybody would wait for everybody."""

_scratch = Scratch()


@dataclass(frozen=True, eq=False)
class Stretches:
    """How revolutions of nearly one length are cut: `count` stretches of `length` samples.

    `places` are the points of a revolution, in samples from its first one, shape (p,).
    """

    count: int
    length: int
    places: Floats
    _summing: Singles
    _begun: Singles

    @property
    def width(self) -> int:
        """Samples that all stretches of a revolution hold, no less than the longest has."""
        return self.count * self.length

    def room(self, rows: int) -> int:
        """Rows that an array for `sums` needs."""
        return -(-rows // self._at_once) * self._at_once

    @property
    def _at_once(self) -> int:
        return max(_BLAS_ALONE // (self.width * POINTS), 1)

    def sums(self, values: Singles) -> Singles:
        """The points of revolutions, shape (r, p), out of samples (r, width).

        What lies beyond the end of a revolution has to be zero; r is one that `room` gives. Good
        until the next call in the same thread.
        """
        if self.length == 1:
            return values
        parts = len(values) // self._at_once
        out = _scratch.array("sums", (parts, self._at_once * self.count, POINTS))
        np.matmul(values.reshape(*out.shape[:2], self.length), self._summing, out=out)
        return out.reshape(len(values), -1)

    def samples_at(self, counts: Ints) -> Singles:
        """The same for samples that are all 1, of revolutions of `counts` samples; (r, p)."""
        inside = counts[:, np.newaxis] - self.length * np.arange(self.count)
        # `take` copies rows several times as fast as indexing does.
        ones: Singles = np.take(self._begun, inside, axis=0, mode="clip")
        return ones.reshape(len(counts), -1)


def stretches(longest: int, periods: float) -> Stretches:
    """Stretches for revolutions of up to `longest` samples.

    Args:
        longest: samples of the longest revolution.
        periods: periods a turn of the fastest function, where it is fastest.
    """
    count = max(round(_STRETCHES * periods), math.ceil(longest / _LONGEST))
    length = math.ceil(longest / count)
    if length < _WORTH:
        count, length = longest, 1
    inner, summing, begun = _stretch(length)
    places = (length * np.arange(count)[:, np.newaxis] + inner).ravel()
    return Stretches(count, length, places, summing, begun)


def most_width(longest: int) -> int:
    """No revolution of up to `longest` samples is given a larger `width`."""
    return longest + longest // (_WORTH - 1) + 1


@lru_cache(maxsize=256)
def _stretch(length: int) -> tuple[Floats, Singles, Singles]:
    """Points of a stretch, in samples, and what makes them.

    What each sample adds to each point, shape (length, points), and the sums of that over the first
    0, 1, 2 … samples, shape (length + 1, points).
    """
    if length == 1:
        return np.zeros(1), np.ones((1, 1), np.float32), np.array([[0.0], [1.0]], np.float32)
    points, _ = legendre.leggauss(POINTS)
    samples = (2.0 * np.arange(length) + 1.0) / length - 1.0
    # Polynomials that are one at one point and zero at the others.
    at_points = legendre.legvander(points, POINTS - 1)
    summing = np.linalg.solve(at_points.T, legendre.legvander(samples, POINTS - 1).T).T
    begun = np.concatenate([np.zeros((1, POINTS)), np.cumsum(summing, axis=0)])
    inner = (points + 1.0) * length / 2.0 - 0.5
    return inner, summing.astype(np.float32), begun.astype(np.float32)
