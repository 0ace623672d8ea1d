"""What peak-to-peak would have been where a waveform left the range that it can be trusted in."""

from __future__ import annotations

from typing import Final

import numpy as np

from analysis.model.position_results import HiddenPeak
from analysis.model.results import Bools, Floats
from analysis.model.span import TimeSpan

from .clipping import noise_sd

MOST_ORDERS: Final = 10

LEAST_TRUSTED: Final = 0.3
"""Share of the samples that must be trusted; with less the rest would be guesswork."""

GUARD: Final = 0.02
"""No probe stops being straight all at once: samples within this share of the linear range of one
of its ends are not leaned on, either. A choice of this program."""

_SAMPLES_PER_CYCLE = 4.0
_LEAST_SHARE = 0.001


def trusted_gap(gap_um: Floats, linear_range_um: tuple[float, float] | None) -> Bools:
    """Samples well inside the linear range; all finite ones where no range is known."""
    good: Bools = np.isfinite(gap_um)
    if linear_range_um is not None:
        low, high = linear_range_um
        guard = GUARD * (high - low)
        good &= (gap_um >= low + guard) & (gap_um <= high - guard)
    return good


def order_shares(gap_um: Floats, turns: Floats) -> Floats | None:
    """Amplitudes of the orders 1 to 10 as shares of half the p-p, shape (10,).

    Args:
        gap_um: gap of each sample, µm, shape (n,), finite.
        turns: shaft angle of each sample in turns.

    Returns:
        `None` when there are too few samples for so many orders, or nothing moves.
    """
    half = float(np.ptp(gap_um)) / 2.0 if len(gap_um) else 0.0
    length = float(turns[-1] - turns[0]) if len(turns) else 0.0
    if half == 0.0 or length < 1.0 or len(gap_um) < _SAMPLES_PER_CYCLE * MOST_ORDERS * length:
        return None
    basis = _basis(turns, MOST_ORDERS)
    # About the middle, and by normal equations: over whole turns the columns are all but
    # orthogonal, and few unknowns need no threads that compete with the window's.
    swing = gap_um - float(gap_um.mean())
    weights = np.linalg.solve(basis.T @ basis, basis.T @ swing)[1:]
    shares: Floats = np.hypot(weights[:MOST_ORDERS], weights[MOST_ORDERS:]) / half
    return shares


def hidden_peak(
    gap_um: Floats,
    turns: Floats,
    trusted: Bools,
    span: TimeSpan,
    shares: Floats,
) -> HiddenPeak | None:
    """Estimate p-p from the samples that can be trusted.

    The orders 1 to 10 are fitted to the trusted samples, each with an expectation of its size (a
    Gaussian prior), without which a gap of a quarter turn would leave high orders open: the size
    that `shares` gives it for this waveform's p-p. So the fit has a deviation of its own, which
    grows with the part that is not trusted; what it leaves over of the trusted samples enters as
    noise. Source: Bayesian linear regression, e.g. Bishop, *Pattern Recognition and Machine
    Learning*, 2006, 3.3.

    Args:
        gap_um: gap of each sample, µm, shape (n,).
        turns: shaft angle of each sample in turns; whole numbers at the events.
        trusted: samples well inside the linear range and off every cut; NaN is not trusted.
        span: where they lie.
        shares: `order_shares` of turns of the same probe that stay inside the range.

    Returns:
        `None` when all samples are trusted or too few are, or there are too few a turn.
    """
    count, good = len(gap_um), int(np.count_nonzero(trusted))
    if count == 0 or good == count or good < LEAST_TRUSTED * count:
        return None
    length = float(turns[-1] - turns[0])
    known = np.isfinite(gap_um)
    half = float(np.ptp(gap_um[known])) / 2.0
    if length < 1.0 or half == 0.0:
        return None
    orders = min(MOST_ORDERS, int(count / length / _SAMPLES_PER_CYCLE))
    if orders < 2:
        return None
    sizes = half * np.maximum(shares[:orders], _LEAST_SHARE)
    middle = float(gap_um[trusted].mean())
    swing = gap_um - middle
    fit, deviation = _fit(_basis(turns, orders), swing, trusted, np.append(half, sizes))
    starts, whole = _whole_turns(turns, count / length)
    if not whole.any():
        return None
    # p-p of each turn, as p-p is defined; samples that are not known stand as fitted.
    read = _peak_to_peak(np.where(known, swing, fit), starts)[whole]
    guessed = _peak_to_peak(np.where(trusted, swing, fit), starts)[whole]
    peak = int(np.argmax(np.where(trusted, -np.inf, np.abs(fit))))
    return HiddenPeak(
        span=span,
        read_um=float(read.mean()),
        estimated_um=float(guessed.mean()),
        deviation_um=float(deviation[peak]),
        trusted_share=good / count,
    )


def _basis(turns: Floats, orders: int) -> Floats:
    angle = 2.0 * np.pi * np.outer(turns, np.arange(1, orders + 1))
    return np.hstack([np.ones((len(turns), 1)), np.cos(angle), np.sin(angle)])


def _fit(basis: Floats, values: Floats, trusted: Bools, sizes: Floats) -> tuple[Floats, Floats]:
    """Value and standard deviation of the fit at every sample."""
    seen, wanted = basis[trusted], values[trusted]
    prior = np.diag(1.0 / np.concatenate([sizes, sizes[1:]]) ** 2)
    gram, right = seen.T @ seen, seen.T @ wanted
    noise = max(noise_sd(wanted), 1e-4 * float(sizes[0]))
    # Twice: what the first fit leaves over tells of drift and of what is no order.
    for _ in range(2):
        inverse = np.linalg.inv(gram / noise**2 + prior)
        weights = inverse @ right / noise**2
        left = wanted - seen @ weights
        noise = max(float(np.sqrt(np.mean(left**2))), noise)
    variance = np.sum((basis @ inverse) * basis, axis=1)
    return basis @ weights, np.sqrt(variance)


def _whole_turns(turns: Floats, per_turn: float) -> tuple[np.ndarray, Bools]:
    """Where each turn starts, and which are there from end to end."""
    number = np.floor(turns + 1e-9).astype(np.int64)
    starts = np.flatnonzero(np.diff(number, prepend=number[0] - 1))
    return starts, np.diff(np.append(starts, len(turns))) > 0.9 * per_turn


def _peak_to_peak(values: Floats, starts: np.ndarray) -> Floats:
    spread: Floats = np.maximum.reduceat(values, starts) - np.minimum.reduceat(values, starts)
    return spread
