"""The two principal directions of a plane, and the critical speed of each.

A support that is stiffer in one direction than across it splits a critical speed in two. At the
probes, which look at some angle between, both overlap; along the principal axes each stands alone.
The axes are where they are if, turned into them, either direction moves like one mode:
`u (a - N² + jbN) = cN² + dN⁴ + jeN³` near the peak (the last two terms stand for modes further
away). The direction is sought at which what is left of that over both directions is least.

Source: linear frequency-domain fit of one mode (Levy 1959, from memory); principal axes of an
anisotropic support: Friswell et al., *Dynamics of Rotating Machines*, 2010, ch. 6 (from memory).
"""

from __future__ import annotations

import math

import numpy as np

from analysis.model.response_results import (
    CriticalSpeed,
    Doubt,
    PlaneResponse,
    ResponsePoints,
)
from analysis.model.results import Complexes, Floats

from .orbit_axes import turned
from .responses import SMOOTHING_TURNS, response_of
from .smoothing import smooth_curve

_STEP_DEG = 1.0
_POINTS = 160
_BELOW, _ABOVE = 0.7, 1.4
"""Part of the curve that is fitted, as shares of the speed of the largest orbit."""

_TELLING = 0.5
"""The best direction must leave less than this share of what the worst one leaves."""

_LEAST_LEFT = 1e-9

_LEAST_SPLIT = 0.01
"""Criticals closer than this share of speed are not called split (common practice)."""


def principal_directions(
    speed_rpm: Floats, x: Complexes, y: Complexes
) -> tuple[float, float] | None:
    """Direction of one principal axis and how clearly it stands out.

    Args:
        speed_rpm: rising, shape (n,).
        x: vectors along x (right), slow roll taken off, shape (n,).
        y: vectors along y (up).

    Returns:
        Degrees counter-clockwise from +x, 0 to 90 (the other axis is at right angles), and the
        residual there over that of the worst direction, 0 to 1 (1: no direction stands out);
        `None` with too few points near the peak.
    """
    size = np.hypot(np.abs(x), np.abs(y))
    top = speed_rpm[int(np.argmax(size))]
    near = (speed_rpm >= _BELOW * top) & (speed_rpm <= _ABOVE * top)
    if np.count_nonzero(near) < 3 * 8:
        return None
    ratio, x, y = speed_rpm[near] / top, x[near], y[near]
    angles = np.arange(0.0, 90.0, _STEP_DEG)
    left = np.array([_left(ratio, x, y, angle) for angle in angles])
    best = int(np.argmin(left))
    # A parabola through the least value and its neighbours (the circle closes at 90°).
    a, b, c = left[best - 1], left[best], left[(best + 1) % len(left)]
    bend = a - 2.0 * b + c
    shift = 0.5 * (a - c) / bend if bend > 0.0 else 0.0
    direction = (angles[best] + _STEP_DEG * float(np.clip(shift, -0.5, 0.5))) % 90.0
    worst = float(left.max())
    clear = float(left[best]) / worst if worst > _LEAST_LEFT else 1.0
    return direction, clear


def plane_response(
    name: str,
    x: ResponsePoints,
    y: ResponsePoints,
    operating_rpm: tuple[float, float] | None = None,
    *,
    smoothing_turns: int = SMOOTHING_TURNS,
) -> PlaneResponse:
    """The critical speeds of a plane along its principal axes.

    Args:
        name: of the plane.
        x: vectors along x, slow roll taken off, revolution by revolution.
        y: the same along y.
        operating_rpm: for margins.
        smoothing_turns: as in `response_of`.
    """
    both = np.isfinite(x.vectors) & np.isfinite(y.vectors) & np.isfinite(x.speed_rpm)
    curve_x = smooth_curve(x.speed_rpm[both], x.vectors[both]) if both.any() else None
    curve_y = smooth_curve(y.speed_rpm[both], y.vectors[both]) if both.any() else None
    if curve_x is None or curve_y is None:
        return _unknown(name, "too-few-points", "too few points for the principal directions")
    speed = curve_x.speed_rpm
    every = max(1, int(np.count_nonzero(speed > 0) // (4 * _POINTS)))
    found = principal_directions(speed[::every], curve_x.vectors[::every], curve_y.vectors[::every])
    if found is None:
        return _unknown(name, "too-few-points", "too few points near the largest orbit")
    direction, clear = found
    if clear > _TELLING:
        return _unknown(
            name,
            "no-axes",
            "no direction stands out: the support looks the same all round, or more than one "
            "mode is at work",
        )
    first, second = turned(x, y, direction)
    responses = [
        response_of(
            f"{name} along {(direction + extra) % 180.0:.0f}°",
            each,
            None,
            operating_rpm,
            smoothing_turns=smoothing_turns,
        )
        for each, extra in ((first, 0.0), (second, 90.0))
    ]
    one, two = (_largest(each.criticals) for each in responses)
    split = False
    notices: tuple[Doubt, ...] = ()
    if one is not None and two is not None:
        apart = abs(one.speed_rpm - two.speed_rpm) / min(one.speed_rpm, two.speed_rpm)
        split = apart >= _LEAST_SPLIT
        if not split:
            notices = (
                Doubt(
                    "not-split",
                    f"both principal directions have their critical speed within "
                    f"{100.0 * apart:.1f} %: not called split",
                ),
            )
    return PlaneResponse(name, direction, responses[0], responses[1], split, notices)


def _largest(criticals: tuple[CriticalSpeed, ...]) -> CriticalSpeed | None:
    return max(criticals, key=lambda critical: critical.amplitude_um_pp, default=None)


def _unknown(name: str, flag: str, sentence: str) -> PlaneResponse:
    return PlaneResponse(name, None, None, None, False, (Doubt(flag, sentence),))


def _left(ratio: Floats, x: Complexes, y: Complexes, angle_deg: float) -> float:
    """What one mode a direction leaves of the motion, as a share of it."""
    cosine, sine = math.cos(math.radians(angle_deg)), math.sin(math.radians(angle_deg))
    whole = float(np.sum(np.abs(x) ** 2 + np.abs(y) ** 2))
    left = sum(
        _left_of_one(ratio, value) for value in (cosine * x + sine * y, cosine * y - sine * x)
    )
    return left / whole if whole > 0.0 else 0.0


def _left_of_one(ratio: Floats, u: Complexes) -> float:
    """Sum of squares that the model of one mode leaves of one direction's vectors."""
    square = ratio**2
    pole = np.ones(len(ratio), dtype=np.complex128)
    model = np.zeros(len(ratio), dtype=np.complex128)
    for _ in range(3):
        # Unknowns: a, b real; c, d, e complex. Real and imaginary parts side by side.
        columns: list[Complexes] = [u, np.asarray(1j * ratio * u, dtype=np.complex128)]
        for power in (square, square**2, 1j * ratio * square):
            columns += [
                np.asarray(-power, dtype=np.complex128),
                np.asarray(-1j * power, dtype=np.complex128),
            ]
        matrix = np.stack(columns, axis=1) / pole[:, np.newaxis]
        right = square * u / pole
        solution, *_ = np.linalg.lstsq(
            np.concatenate([matrix.real, matrix.imag]),
            np.concatenate([right.real, right.imag]),
            rcond=None,
        )
        denominator = solution[0] - square + 1j * solution[1] * ratio
        weight = solution[2::2] + 1j * solution[3::2]
        top = weight[0] * square + weight[1] * square**2 + weight[2] * 1j * ratio * square
        small = np.abs(denominator) < 1e-6
        pole = np.abs(np.where(small, 1e-6, denominator)) + 0j
        model = top / np.where(small, 1e-6, denominator)
    return float(np.sum(np.abs(u - model) ** 2))
