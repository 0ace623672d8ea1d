"""Summits of a sampled curve, and a parabola that glides along it: plain numpy.

`scipy.signal` has both; importing it takes half a second and more, which a command that answers in
two would spend on waiting. Tests hold these against it.
"""

from __future__ import annotations

import numpy as np

from analysis.model.results import Floats, Ints


def summits(curve: Floats, least_prominence: float) -> tuple[Ints, Floats]:
    """Places of the local maxima that stand out, and how far.

    The prominence of a summit is its height above the higher of the two lowest points between it
    and the next higher ground on either side, or the end of the curve. A level summit counts once,
    at its middle; the ends of the curve are none.

    Args:
        curve: finite heights, shape (n,).
        least_prominence: in the unit of the heights.

    Returns:
        Places in rising order, and prominences.
    """
    starts = np.flatnonzero(np.diff(curve, prepend=np.nan) != 0.0)
    ends = np.append(starts[1:], len(curve)) - 1
    steps = curve[starts]
    rank = np.flatnonzero((steps[1:-1] > steps[:-2]) & (steps[1:-1] > steps[2:])) + 1
    tops = (starts[rank] + ends[rank]) // 2
    prominence = np.array([_prominence(curve, int(top)) for top in tops])
    kept = prominence >= least_prominence if len(tops) else np.empty(0, dtype=bool)
    return tops[kept], prominence[kept]


def _prominence(curve: Floats, top: int) -> float:
    height = curve[top]
    sides = (curve[top::-1], curve[top:])
    valleys = []
    for side in sides:
        higher = np.flatnonzero(side > height)
        valleys.append(float(side[: higher[0]].min() if len(higher) else side.min()))
    return float(height - max(valleys))


def gliding_parabola(values: Floats, width: int) -> Floats:
    """The middle of the least-squares parabola through each `width` neighbouring values.

    At the ends the first and the last parabola go on. Source: Savitzky and Golay 1964.

    Args:
        values: evenly spaced, finite, shape (n,), n at least `width`.
        width: how many values a parabola goes through, odd.
    """
    half = width // 2
    u = np.arange(-half, half + 1.0)
    powers = np.vander(u, 3)
    fit = np.linalg.pinv(powers)
    out: Floats = np.empty(len(values))
    out[half : len(values) - half] = np.convolve(values, fit[2][::-1], mode="valid")
    out[:half] = powers[:half] @ (fit @ values[:width])
    out[len(values) - half :] = powers[half + 1 :] @ (fit @ values[-width:])
    return out
