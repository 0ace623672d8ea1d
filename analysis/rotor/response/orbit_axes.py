"""1X vectors of a pair of probes in other axes: x and y, or turned by an angle."""

from __future__ import annotations

import math
from dataclasses import replace

from analysis.model.response_results import ResponsePoints
from analysis.rotor.orbit import shaft_displacement


def machine_axes(
    first: ResponsePoints, second: ResponsePoints, angle1_deg: float, angle2_deg: float
) -> tuple[ResponsePoints, ResponsePoints]:
    """Vectors along x (right) and y (up) from those of two probes of the same revolutions.

    Raises:
        ValueError: when the pair is closer than 15° to parallel.
    """
    x, y = shaft_displacement(first.vectors, second.vectors, angle1_deg, angle2_deg)
    return replace(first, vectors=x), replace(first, vectors=y)


def turned(
    x: ResponsePoints, y: ResponsePoints, angle_deg: float
) -> tuple[ResponsePoints, ResponsePoints]:
    """Vectors along a direction counter-clockwise from +x, and along the one 90° further on."""
    cosine, sine = math.cos(math.radians(angle_deg)), math.sin(math.radians(angle_deg))
    along = cosine * x.vectors + sine * y.vectors
    across = cosine * y.vectors - sine * x.vectors
    return replace(x, vectors=along), replace(x, vectors=across)
