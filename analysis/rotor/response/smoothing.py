"""A curve through measured 1X vectors: local rational regression over speed.

Sampled speeds miss a peak, and noise lifts the largest sample above it: the amplification factor of
the samples themselves is biased both ways. So the vectors are smoothed as complex numbers. Around
each speed a rational function with one complex pole, `(a0 + a1 u + a2 u²) / (1 + b u)`, is fitted
to the points nearest to it; a resonance is such a function, so windows can be wide without cutting
its top. How wide is chosen at each speed: as many points as the function follows to within the
noise.

Source: local rational method, McKelvey and Guérin, 16th IFAC Symposium on System Identification,
2012 (from memory); choice of window after Lepski's principle (common practice in statistics).
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from analysis.model.results import Bools, Complexes, Floats

SMALLEST = 9
"""Points in the narrowest window: four unknowns, and as many again to tell the noise by."""

_GROWTH = 1.5
_LARGEST = 450

_CHANCE = 1.6
_POINTS = 800
_FINEST, _COARSEST = 0.0005, 0.002
"""Steps of speed, as a share of it, within which points become one. The coarsest lowers a peak of
amplification factor 50 by 0.3 %."""

_UNKNOWNS = 4
_STEP = 0.0015
"""Step of the curve, as a share of the speed."""

_BETWEEN = 4
"""Steps of the curve from one fit to the next where a cubic goes on from fit to fit …"""

_ASTRAY = 0.3
"""… to within this share of the curve's own standard deviation; elsewhere every step is fitted."""

_MOST_CENTRES = 3000
_AT_ONCE = 12_000
"""Points of windows worked on at once: few enough for the arrays to stay in the cache."""


@dataclass(frozen=True, eq=False)
class SmoothCurve:
    """A curve on a fine grid of rising speeds; all arrays have the same shape.

    `sd_um` is the standard deviation that the noise of the points leaves in `vectors`, µm p-p;
    `noise_um` that of a single point.
    """

    speed_rpm: Floats
    vectors: Complexes
    sd_um: Floats
    noise_um: float

    @property
    def amplitude_um(self) -> Floats:
        """µm p-p."""
        return np.abs(self.vectors)

    @property
    def lag_deg(self) -> Floats:
        """Phase lag, unwrapped over speed, degrees."""
        lag: Floats = -np.degrees(np.unwrap(np.angle(self.vectors)))
        return lag


def merged_points(speed_rpm: Floats, vectors: Complexes) -> tuple[Floats, Complexes, Floats]:
    """Points in order of speed; those of nearly the same speed become their mean.

    Returns:
        Speeds, strictly rising, vectors, and how many points each stands for; NaN points are out.
    """
    valid = np.isfinite(speed_rpm) & np.isfinite(vectors) & (speed_rpm > 0.0)
    speed, points = speed_rpm[valid], vectors[valid]
    if len(speed) == 0:
        return speed, points, np.empty(0)
    order = np.argsort(speed, kind="stable")
    speed, points = speed[order], points[order]
    step = float(np.clip(np.log(speed[-1] / speed[0]) / _POINTS, _FINEST, _COARSEST))
    cell = np.floor(np.log(speed) / step).astype(np.int64)
    starts = np.flatnonzero(np.diff(cell, prepend=cell[0] - 1))
    counts = np.diff(np.append(starts, len(speed))).astype(np.float64)
    mean_speed: Floats = np.add.reduceat(speed, starts) / counts
    mean = np.asarray(np.add.reduceat(points, starts) / counts, dtype=np.complex128)
    return mean_speed, mean, counts


def smooth_curve(speed_rpm: Floats, vectors: Complexes) -> SmoothCurve | None:
    """The curve through measured vectors, in any order of speed; `None` with too few points.

    Args:
        speed_rpm: speeds, r/min, shape (n,), uneven and repeated ones too.
        vectors: vectors, µm p-p, shape (n,).
    """
    speed, points, counts = merged_points(speed_rpm, vectors)
    if len(speed) < SMALLEST:
        return None
    steps = min(int(np.ceil(np.log(speed[-1] / speed[0]) / _STEP)) + 1, _MOST_CENTRES)
    if steps < 5:
        return None
    centres = np.geomspace(speed[0], speed[-1], steps)
    merged = _Points(speed, points, counts)
    values, leverage = np.empty(steps, dtype=np.complex128), np.empty(steps)
    coarse = np.arange(0, steps, _BETWEEN)
    narrow = _fitted(merged, centres[coarse], SMALLEST)
    # Smallest windows tell the noise: what they cannot follow is none of the curve.
    noise = float(np.median(narrow.residual))
    fits = _widened(merged, centres[coarse], narrow, noise)
    values[coarse], leverage[coarse] = fits.values, fits.leverage
    easy = _easy(fits.values, noise * np.sqrt(fits.leverage))
    _fill(values, easy)
    leverage = np.interp(np.arange(steps), coarse, fits.leverage)
    missing = np.ones(steps, dtype=bool)
    missing[coarse] = False
    missing[: len(easy) * _BETWEEN] &= np.repeat(~easy, _BETWEEN)
    if missing.any():
        at = centres[missing]
        fits = _widened(merged, at, _fitted(merged, at, SMALLEST), noise)
        values[missing], leverage[missing] = fits.values, fits.leverage
    return SmoothCurve(centres, values, noise * np.sqrt(leverage), noise)


def _widened(points: _Points, centres: Floats, narrow: _Fits, noise: float) -> _Fits:
    """At each centre the fit of the widest window that the function follows to within the noise."""
    best = narrow
    rounding = 1e-6 * float(np.abs(points.vectors).max())
    growing = np.arange(len(centres))
    for size in _sizes(len(points.speed_rpm))[1:]:
        wider = _fitted(points, centres[growing], size)
        # Two standard deviations of what a residual of so few points scatters by.
        limit = noise * (1.0 + 2.0 / np.sqrt(2.0 * max(0.7 * size - _UNKNOWNS, 1.0)))
        good = wider.residual <= limit + rounding
        best.values[growing[good]] = wider.values[good]
        best.leverage[growing[good]] = wider.leverage[good]
        # A miss by little can be chance: a wider window, which tells more surely, is tried.
        growing = growing[wider.residual <= _CHANCE * limit + rounding]
        if len(growing) == 0:
            break
    return best


def _easy(values: Complexes, sd: Floats) -> Bools:
    """Between which neighbouring fits the cubic through four of them will do, shape (c - 1,).

    Each fit is held against the cubic through its four neighbours. Over the halved distance a cubic
    is out by 9/64 of that: the fourth derivative times 3/128 in place of 1/6 of the step's fourth
    power.
    """
    easy = np.zeros(max(len(values) - 1, 0), dtype=bool)
    if len(values) < 5:
        return easy
    a, b, c, d = values[:-4], values[1:-3], values[3:-1], values[4:]
    astray = np.abs(values[2:-2] - (4.0 * (b + c) - a - d) / 6.0) * 9.0 / 64.0
    least = 1e-5 * float(np.abs(values).max())
    good = astray <= np.maximum(_ASTRAY * sd[2:-2], least)
    easy[2:-2] = good[:-1] & good[1:]
    return easy


def _fill(values: Complexes, easy: Bools) -> None:
    """Cubics between the fits that stand at every `_BETWEEN`th place, where they will do."""
    first = np.flatnonzero(easy) * _BETWEEN
    known = [values[first + k * _BETWEEN] for k in (-1, 0, 1, 2)]
    for step in range(1, _BETWEEN):
        t = step / _BETWEEN
        weights = (
            -t * (t - 1.0) * (t - 2.0) / 6.0,
            (t + 1.0) * (t - 1.0) * (t - 2.0) / 2.0,
            -(t + 1.0) * t * (t - 2.0) / 2.0,
            (t + 1.0) * t * (t - 1.0) / 6.0,
        )
        values[first + step] = sum(w * v for w, v in zip(weights, known, strict=True))


def moving_average(vectors: Complexes, turns: int) -> Complexes:
    """Mean of the complex vectors over a number of neighbouring turns, NaN left out.

    At the ends over those that there are. Averaging lowers and widens a peak that is passed within
    a few such stretches.

    Args:
        vectors: in the order they were measured in, shape (n,).
        turns: how many; 1 changes nothing.
    """
    if turns <= 1:
        return vectors
    valid = np.isfinite(vectors)
    ones = np.ones(turns)
    total = np.convolve(np.where(valid, vectors, 0.0), ones, mode="full")
    count = np.convolve(valid.astype(np.float64), ones, mode="full")
    start = (turns - 1) // 2
    window = slice(start, start + len(vectors))
    out: Complexes = np.full(len(vectors), complex(np.nan, np.nan))
    some = count[window] > 0.5
    out[some] = total[window][some] / count[window][some]
    out[~valid] = complex(np.nan, np.nan)
    return out


def _sizes(count: int) -> list[int]:
    sizes, size = [SMALLEST], SMALLEST * _GROWTH
    while size <= min(count, _LARGEST):
        sizes.append(int(size) | 1 if (int(size) | 1) <= count else int(size))
        size *= _GROWTH
    return sizes


@dataclass(frozen=True, eq=False)
class _Points:
    """Measured vectors in order of speed, and how many each stands for."""

    speed_rpm: Floats
    vectors: Complexes
    counts: Floats


@dataclass(frozen=True, eq=False)
class _Fits:
    values: Complexes
    residual: Floats
    leverage: Floats


def _fitted(points: _Points, centres: Floats, size: int) -> _Fits:
    speed = points.speed_rpm
    values = np.empty(len(centres), dtype=np.complex128)
    residual, leverage = np.empty(len(centres)), np.empty(len(centres))
    middle = np.searchsorted(speed, centres)
    first = np.clip(middle - size // 2, 0, len(speed) - size)
    few = max(_AT_ONCE // size, 1)
    for start in range(0, len(centres), few):
        part = slice(start, min(start + few, len(centres)))
        rows = first[part, np.newaxis] + np.arange(size)
        away = speed[rows] - centres[part, np.newaxis]
        u = away / np.maximum(np.abs(away[:, :1]), np.abs(away[:, -1:]))
        fall = 1.0 - np.abs(0.9 * u) * (0.9 * u) ** 2
        kernel = fall * fall * fall
        fit = _fit(u, points.vectors[rows], kernel, points.counts[rows])
        values[part], residual[part], leverage[part] = fit
    return _Fits(values, residual, leverage)


def _fit(
    u: Floats, v: Complexes, kernel: Floats, counts: Floats
) -> tuple[Complexes, Floats, Floats]:
    """Weighted fits of c windows of m points, shapes (c, m).

    Returns:
        Value at u = 0; standard deviation of a single measured point (a merged one scatters less);
        variance of the value over that of a single point.
    """
    weight = kernel * counts
    square = u * u
    powers = np.stack([np.ones_like(u), u, square, u * square, square * square], axis=1)
    size = _squared(v)
    pole = divided = np.ones(u.shape, dtype=np.complex128)
    solution: Complexes = np.empty((0, _UNKNOWNS), dtype=np.complex128)
    gram: Complexes = solution
    w = weight
    for _ in range(2):
        # Dividing by the last denominator turns the equation error into an output error.
        w = weight / _squared(pole)
        gram, right = _normal_equations(powers, w, v, size)
        solution = np.asarray(np.linalg.solve(gram, right[:, :, np.newaxis]))[:, :, 0]
        divided = pole
        pole = 1.0 + solution[:, 3:4] * u
        # A pole at a point of the window itself belongs to no resonance.
        small = _squared(pole) < 0.05**2
        pole[small] = 0.05
    model = (solution[:, :1] + u * (solution[:, 1:2] + u * solution[:, 2:3])) / pole
    total = kernel.sum(axis=1)
    effective = total**2 / (kernel**2).sum(axis=1)
    spread = (weight * _squared(v - model)).sum(axis=1) / total
    free = np.maximum(1.0 - _UNKNOWNS / np.maximum(effective, _UNKNOWNS + 1.0), 0.2)
    # Share of each point's noise in the value: the equation's error is the noise times the pole.
    first = np.linalg.inv(gram)[:, 0, :, np.newaxis]
    share = first[:, 0] + u * (first[:, 1] + u * first[:, 2] - first[:, 3] * v.conj())
    share *= w * divided
    return solution[:, 0], np.sqrt(spread / free), (_squared(share) / counts).sum(axis=1)


def _squared(values: Complexes) -> Floats:
    """Square of the absolute value, without the root."""
    squared: Floats = values.real * values.real + values.imag * values.imag
    return squared


def _normal_equations(
    powers: Floats, w: Floats, v: Complexes, size: Floats
) -> tuple[Complexes, Complexes]:
    """Of `a0 + a1 u + a2 u² - b u v = v` with weights: matrices (c, 4, 4), right sides (c, 4).

    Out of sums of real numbers, since three of the four columns are real: `powers` holds u⁰ to u⁴,
    shape (c, 5, m), `size` is |v|².
    """
    plain = np.matmul(powers, w[:, :, np.newaxis])[:, :, 0]
    weighted = (w * v)[:, :, np.newaxis].view(np.float64)
    crossed = np.matmul(powers[:, :4], weighted).view(np.complex128)[:, :, 0]
    squared = np.matmul(powers[:, 1:3], (w * size)[:, :, np.newaxis])[:, :, 0]
    gram = np.empty((len(w), _UNKNOWNS, _UNKNOWNS), dtype=np.complex128)
    place = np.arange(3)
    gram[:, :3, :3] = plain[:, place[:, np.newaxis] + place]
    gram[:, :3, 3] = -crossed[:, 1:4]
    gram[:, 3, :3] = -crossed[:, 1:4].conj()
    gram[:, 3, 3] = squared[:, 1]
    trace = np.trace(gram, axis1=1, axis2=2).real[:, np.newaxis, np.newaxis]
    right = np.concatenate([crossed[:, :3], -squared[:, :1]], axis=1)
    return gram + 1e-12 * trace * np.eye(_UNKNOWNS), right
