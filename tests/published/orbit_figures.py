"""Small geometry that tests of orbits share, written without the program's own."""

from __future__ import annotations

import numpy as np


def unit_vector(angle_deg: float) -> np.ndarray:
    """From the shaft to a probe, x right and y up; degrees clockwise from 12 o'clock."""
    return np.array([np.sin(np.radians(angle_deg)), np.cos(np.radians(angle_deg))])


def in_machine_axes(v1: complex, v2: complex, angle1: float, angle2: float) -> np.ndarray:
    """Phasors of x and y from those of two probes, by a linear solve."""
    return np.linalg.solve(np.vstack([unit_vector(angle1), unit_vector(angle2)]), [v1, v2])


def phasor(amplitude: float, lag_deg: float) -> complex:
    return complex(amplitude * np.exp(-1j * np.radians(lag_deg)))
