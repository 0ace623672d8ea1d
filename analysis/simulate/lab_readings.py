"""Readings by the contract's definitions, of waveforms that are known at equal shaft angles."""

from __future__ import annotations

import cmath
import math
from collections.abc import Mapping
from dataclasses import dataclass
from functools import lru_cache

import numpy as np

from analysis.model.results import Complexes, Ellipse, Floats

ORDERS_READ = (1, 2)


@dataclass(frozen=True)
class LabReading:
    """One probe over whole turns (contract, section 5), free of noise and sampling.

    `vectors` are complex, `A exp(-jφ)`, µm p-p, by order. `margin_um` is against the linear range,
    of the gap as the program reads it.
    """

    gap_um: float
    peak_to_peak_um: float
    peak_to_peak_max_um: float
    vectors: Mapping[int, complex]
    min_um: float
    max_um: float
    margin_um: float


def reading_of(gap_um: Floats, turns: int, linear_range_um: tuple[float, float]) -> LabReading:
    """The reading of a gap waveform at equal steps of shaft angle.

    Args:
        gap_um: the gap, shape (turns * points + 1,), from an event to the event that ends the last
            turn.
        turns: how many turns it holds.
        linear_range_um: the probe's linear range.
    """
    points = (len(gap_um) - 1) // turns
    whole = gap_um[:-1].reshape(turns, points)
    largest, smallest = _largest(gap_um, turns), -_largest(-gap_um, turns)
    span = largest - smallest
    low, high = float(smallest.min()), float(largest.max())
    # Trapezoids: what is not periodic in a turn leaves its ends different.
    step_back = (gap_um[0] - gap_um[-1]) / 2.0
    mean = (float(whole.sum()) - step_back) / (turns * points)
    column = whole.sum(axis=0)
    column[0] -= step_back
    spectrum = _projection(points) @ column
    vectors = {
        order: -complex(value) * 4.0 / (turns * points)
        for order, value in zip(ORDERS_READ, spectrum, strict=True)
    }
    return LabReading(
        gap_um=mean,
        peak_to_peak_um=float(span.mean()),
        peak_to_peak_max_um=float(span.max()),
        vectors=vectors,
        min_um=low,
        max_um=high,
        margin_um=min(low - linear_range_um[0], linear_range_um[1] - high),
    )


def circles_of(motion: Complexes, turns: int, sign: float) -> tuple[complex, complex]:
    """Forward and backward circle of 1X, complex µm zero to peak, of a motion `x + jy`.

    `motion` as in `reading_of`; `sign` is +1 for counter-clockwise rotation.
    """
    points = (len(motion) - 1) // turns
    column = motion[:-1].reshape(turns, points).sum(axis=0)
    column[0] -= (motion[0] - motion[-1]) / 2.0
    once = _projection(points)[0]
    along, against = (complex(p @ column) / (turns * points) for p in (once, once.conj()))
    return (along, against) if sign > 0 else (against, along)


def ellipse_from(forward: complex, backward: complex) -> Ellipse:
    """The 1X ellipse of two circles (µm zero to peak, where they point to at the event)."""
    large, small = abs(forward), abs(backward)
    inclination = math.degrees(cmath.phase(forward) + cmath.phase(backward)) / 2.0
    return Ellipse(
        order=1,
        forward=forward,
        backward=backward,
        major_um=2.0 * (large + small),
        minor_um=2.0 * abs(large - small),
        inclination_deg=inclination % 180.0,
        precession="forward" if large > small else "backward",
    )


@lru_cache(maxsize=4)
def _projection(points: int) -> Complexes:
    """Rows `exp(-jnθ)` of the orders read, shape (orders, points)."""
    theta = np.arange(points) * (2.0 * np.pi / points)
    rows: Complexes = np.exp(-1j * np.outer(ORDERS_READ, theta))
    rows.setflags(write=False)
    return rows


def _largest(values: Floats, turns: int) -> Floats:
    """Largest value of each turn, between the points by the parabola through the highest three."""
    points = (len(values) - 1) // turns
    whole = values[:-1].reshape(turns, points)
    at = whole.argmax(axis=1) + np.arange(turns) * points
    top = values[at]
    before, after = values[at - 1], values[at + 1]
    bend = before - 2.0 * top + after
    # At the turn's first and last point the waveform may rise on beyond it.
    inside = (at % points > 0) & (after <= top) & (bend < 0.0)
    rise = np.where(inside, (after - before) ** 2 / np.where(inside, -8.0 * bend, 1.0), 0.0)
    # The end of a turn belongs to it as well.
    out: Floats = np.maximum(top + rise, values[points::points])
    return out
