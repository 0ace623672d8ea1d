"""Runout over the shaft angle: as a wave, as vectors of its orders, and at the times of samples."""

from __future__ import annotations

from collections.abc import Callable, Mapping

import numpy as np

from analysis.model.response_results import Runout
from analysis.model.results import Floats
from analysis.rotor.shaft_angle import ShaftAngle
from analysis.rotor.turns import Turns

POINTS = 512
"""Steps of a turn that a runout wave is known at."""

RunoutAt = Callable[[Floats], Floats]
"""Displacement that runout makes, µm towards the probe, at times in s of capture time."""

_BEYOND = 1.0
"""The shaft angle is carried on by so many turns where there is no event any more."""


def runout_at(runout: Runout, turns: Turns) -> RunoutAt:
    """What runout shows at any times of some revolutions with a known shaft angle.

    Times that lie more than a turn away from every event give NaN: the angle is not known there.
    """
    points = len(runout.wave_um)
    # Each step stands for its middle.
    places = (np.arange(points) + 0.5) / points

    def at(times_s: Floats) -> Floats:
        angle = angle_at(times_s, turns.angles)
        known = np.isfinite(angle)
        out: Floats = np.full(len(times_s), np.nan)
        turn = np.mod(angle[known], 1.0)
        out[known] = np.interp(turn, places, runout.wave_um, period=1.0)
        return out

    return at


def angle_at(times_s: Floats, angles: tuple[ShaftAngle, ...]) -> Floats:
    """Turns since an event at any times, shape (n,); NaN where no event is near."""
    out: Floats = np.full(len(times_s), np.nan)
    for angle in angles:
        first, last = angle.times_s[0], angle.times_s[-1]
        inside = (times_s >= first) & (times_s <= last)
        out[inside] = angle.turns_at(times_s[inside])
        before = (times_s - first) * angle.rates[0]
        after = (times_s - last) * angle.rates[-1]
        early = np.isnan(out) & (before < 0.0) & (before >= -_BEYOND)
        out[early] = before[early]
        late = np.isnan(out) & (after > 0.0) & (after <= _BEYOND)
        out[late] = len(angle.times_s) - 1 + after[late]
    return out


def order_vector(runout: Runout, order: int) -> complex:
    """The nX vector of a runout wave, `A exp(-jφ)`, µm p-p."""
    points = len(runout.wave_um)
    theta = 2.0 * np.pi * (np.arange(points) + 0.5) / points
    vector = 4.0 / points * np.sum(runout.wave_um * np.exp(-1j * order * theta))
    # A step is the mean over its width, which is a little less than the middle of a wave.
    return complex(vector / np.sinc(order / points))


def wave_of(vectors: Mapping[int, complex]) -> Floats:
    """The wave that vectors of orders make together, µm, shape (POINTS,)."""
    theta = 2.0 * np.pi * (np.arange(POINTS) + 0.5) / POINTS
    wave: Floats = np.zeros(POINTS)
    for order, vector in vectors.items():
        wave += np.real(vector / 2.0 * np.exp(1j * order * theta))
    return wave
