"""A scratch under a probe: its course over a turn, and its part in the vectors, in closed form."""

from __future__ import annotations

import cmath
import math

import numpy as np
from numpy.typing import NDArray

from .recipe_parts import Scratch

Floats = NDArray[np.float64]


def scratch_um(scratch: Scratch, turns: Floats) -> Floats:
    """How much larger the gap is, µm, at shaft angles in turns; any shape."""
    away = turns - scratch.lag_deg / 360.0
    away = (away - np.rint(away)) * (360.0 / scratch.width_deg)
    covered = (1.0 + np.cos(2.0 * np.pi * away)) / 2.0
    out: Floats = np.where(np.abs(away) < 0.5, scratch.depth_um * covered, 0.0)
    return out


def scratch_vector(scratch: Scratch, order: float) -> complex:
    """The scratch's part in the vector of a whole order, µm p-p; zero for other orders.

    Fourier integral of the raised cosine of half width h: `sin(nh) k² / (n (k² - n²))`, `k = π/h`,
    times the depth; away from the probe, so it counts negative.
    """
    if order != round(order):
        return 0j
    half = math.radians(scratch.width_deg) / 2.0
    k = math.pi / half
    if math.isclose(order, k, rel_tol=1e-9):
        area = half / 2.0
    else:
        area = math.sin(order * half) * k * k / (order * (k * k - order * order))
    lag = math.radians(scratch.lag_deg) * order
    return -scratch.depth_um * (2.0 / math.pi) * area * cmath.exp(-1j * lag)
