"""Two probes, one shaft section: displacement, ellipses of the orders, S max, limit boxes."""

from __future__ import annotations

import cmath
import math
from typing import Literal, TypeVar

import numpy as np
from numpy.typing import NDArray

from analysis.model.results import Complexes, Ellipse, Floats
from analysis.model.setup import Rotation

NEAREST_PARALLEL_DEG = 15.0
"""A pair closer than this to parallel cannot be resolved (contract, section 1)."""

Value = TypeVar("Value", Floats, Complexes)


def degrees_from_parallel(angle1_deg: float, angle2_deg: float) -> float:
    """How far two probe directions are from lying on one line, 0 to 90 degrees."""
    apart = (angle2_deg - angle1_deg) % 180.0
    return min(apart, 180.0 - apart)


def shaft_displacement(
    s1: Value, s2: Value, angle1_deg: float, angle2_deg: float
) -> tuple[Value, Value]:
    """Shaft displacement (x right, y up) from the displacements towards two probes.

    Solves `u1·d = s1, u2·d = s2` with `u = (sin a, cos a)`. Works on µm and on complex phasors;
    the pair need not be at right angles.

    Raises:
        ValueError: when the pair is closer than 15° to parallel.
    """
    if degrees_from_parallel(angle1_deg, angle2_deg) < NEAREST_PARALLEL_DEG:
        raise ValueError(
            f"probes at {angle1_deg:g}° and {angle2_deg:g}° are closer than "
            f"{NEAREST_PARALLEL_DEG:g}° to parallel"
        )
    a1, a2 = math.radians(angle1_deg), math.radians(angle2_deg)
    determinant = math.sin(a1 - a2)  # sin a1 cos a2 - cos a1 sin a2
    x = (s1 * math.cos(a2) - s2 * math.cos(a1)) / determinant
    y = (s2 * math.sin(a1) - s1 * math.sin(a2)) / determinant
    return x, y


def ellipse(
    order: int,
    vector1: complex,
    vector2: complex,
    angle1_deg: float,
    angle2_deg: float,
    rotation: Rotation,
) -> Ellipse:
    """The orbit of one order from the nX vectors (µm p-p, `A exp(-jφ)`) of two probes.

    Source: rotary components, Gonella 1972; Lee, *Vibration Analysis of Rotors*, 1993.

    Raises:
        ValueError: when the pair is closer than 15° to parallel.
    """
    # Zero to peak from here on.
    x, y = shaft_displacement(
        np.array(vector1 / 2.0), np.array(vector2 / 2.0), angle1_deg, angle2_deg
    )
    counter_clockwise = complex((x + 1j * y) / 2.0)
    clockwise = complex((x - 1j * y) / 2.0).conjugate()
    turn_with = counter_clockwise if rotation == "ccw" else clockwise
    turn_against = clockwise if rotation == "ccw" else counter_clockwise
    forward, backward = abs(turn_with), abs(turn_against)
    inclination = math.degrees(cmath.phase(counter_clockwise) + cmath.phase(clockwise)) / 2.0
    precession: Literal["forward", "backward"] = "forward" if forward > backward else "backward"
    return Ellipse(
        order=order,
        forward=turn_with,
        backward=turn_against,
        major_um=2.0 * (forward + backward),
        minor_um=2.0 * abs(forward - backward),
        inclination_deg=inclination % 180.0,
        precession=precession,
    )


def ellipse_path(orbits: tuple[Ellipse, ...], rotation: Rotation, points: int) -> Complexes:
    """Path `x + jy` (µm) of the sum of orders over one turn, `points + 1` values, closed.

    Orders that are not integers do not close in one turn; whole orders are meant here.
    """
    theta = np.linspace(0.0, 2.0 * np.pi, points + 1)
    path: Complexes = np.zeros(points + 1, dtype=np.complex128)
    for orbit in orbits:
        turning = np.exp(1j * orbit.order * theta)
        with_theta, against_theta = orbit.forward, orbit.backward
        if rotation == "cw":
            with_theta, against_theta = against_theta, with_theta
        path += with_theta * turning + against_theta * turning.conj()
    return path


def limit_box(
    angle1_deg: float, angle2_deg: float, half1_um: float, half2_um: float
) -> NDArray[np.float64]:
    """Corners of `|u1·d| <= half1, |u2·d| <= half2`, in drawing order; shape (4, 2), x and y, µm.

    Raises:
        ValueError: when the pair is closer than 15° to parallel.
    """
    s1 = np.array([half1_um, -half1_um, -half1_um, half1_um])
    s2 = np.array([half2_um, half2_um, -half2_um, -half2_um])
    x, y = shaft_displacement(s1, s2, angle1_deg, angle2_deg)
    return np.column_stack([x, y])


def s_max(
    x_um: Floats,
    y_um: Floats,
    starts: NDArray[np.int64],
    centre: tuple[Floats, Floats] | None = None,
) -> Floats:
    """S max of each revolution: largest distance of the orbit from its mean position, µm.

    Source: ISO 7919-1:1996 annex B, ISO 20816-1 (from memory).

    Args:
        x_um: displacement to the right, µm, shape (n,).
        y_um: displacement upwards, µm, shape (n,).
        starts: first sample of each revolution, rising, each with at least one sample; the last
            runs to the end of the arrays. Shape (r,).
        centre: mean position of each revolution, shapes (r,); the mean of its samples when not
            given, which is a little off where they do not fill the turn.

    Returns:
        One value a revolution, shape (r,); NaN where a sample is NaN.
    """
    counts = np.diff(np.append(starts, len(x_um)))
    if centre is None:
        centre = np.add.reduceat(x_um, starts) / counts, np.add.reduceat(y_um, starts) / counts
    mean_x, mean_y = centre
    squared = (x_um - np.repeat(mean_x, counts)) ** 2 + (y_um - np.repeat(mean_y, counts)) ** 2
    out: Floats = np.sqrt(np.maximum.reduceat(squared, starts))
    return out
