"""What keeps a shaft from moving freely, as a picture of its shape: a preload, a stop."""

from __future__ import annotations

import cmath
import math

import numpy as np
from numpy.typing import NDArray

from .recipe_parts import Preload, Stop

Complexes = NDArray[np.complex128]


def constrained(
    motion: Complexes, preload: Preload | None, stop: Stop | None, sign: float
) -> Complexes:
    """Motion about the free mean position (`x + jy`, µm) under a preload and then a stop.

    A rule without memory from free motion to constrained motion: it makes the shapes and the
    harmonics that belong to them, and no claim about forces. Shapes: common practice.

    Args:
        motion: the free motion; any shape.
        preload: flattens along the load and bends towards the bearing's centre.
        stop: wall on one side.
        sign: +1 when the shaft turns counter-clockwise, else -1.
    """
    if preload is not None:
        motion = _preloaded(motion, preload)
    if stop is not None:
        motion = _stopped(motion, stop, sign)
    return motion


def _preloaded(motion: Complexes, preload: Preload) -> Complexes:
    load = cmath.exp(1j * math.radians(preload.at_deg))
    turned = motion * load.conjugate()
    along, across = turned.real, turned.imag
    # Sideways the journal follows the wall that it is pressed against, so it must rise from it.
    bent = (1.0 - preload.flatten) * along - (preload.bend_per_mm / 1000.0) * across**2
    out: Complexes = load * (bent + 1j * across)
    return out


def _stopped(motion: Complexes, stop: Stop, sign: float) -> Complexes:
    wall = cmath.exp(1j * math.radians(stop.at_deg))
    beyond = np.maximum((motion * wall.conjugate()).real - stop.distance_um, 0.0)
    # The surface at the contact moves towards +j·wall when the shaft turns counter-clockwise;
    # friction on the shaft acts the other way.
    moved_back = (1.0 + stop.rebound) + 1j * sign * stop.drag
    out: Complexes = motion - wall * moved_back * beyond
    return out
