"""S max, vector changes and zone boundaries, as ISO 20816-1 (and ISO 7919-1) define them.

The paid texts could not be opened. S max: ISO 7919-1:1996 annex B, **from memory**; its check
orbits are **computed**. The change of a vibration vector: ISO 20816-1:2016 annex D, its example
**seen** in the documentation of a library that follows it.
"""

from __future__ import annotations

import math

import numpy as np
import pytest

from analysis.rotor.orbit import ellipse, s_max, shaft_displacement
from analysis.rotor.vectors import amplitude_and_lag, vector_from
from analysis.views.readings import read_span
from tests.analysis.synthetic import Signal, capture_of, setup_of, steady

# Zero-to-peak amplitude and lag of A and of B; S max; largest p-p in any direction.
ORBITS = [
    ((40.0, 0.0), (25.0, 60.0), 42.554, 85.108),
    ((50.0, 0.0), (50.0, 90.0), 50.0, 100.0),
    ((50.0, 0.0), (50.0, 0.0), 70.711, 141.42),
]
each_orbit = pytest.mark.parametrize(("a", "b", "largest", "any_direction"), ORBITS)
Part = tuple[float, float]


def wave(part: Part, theta: np.ndarray) -> np.ndarray:
    return part[0] * np.cos(theta - math.radians(part[1]))


@each_orbit
def test_s_max(a: Part, b: Part, largest: float, any_direction: float) -> None:
    theta = 2.0 * np.pi * np.arange(3600) / 3600
    # A mean position away from zero: S max is counted from it.
    x, y = shaft_displacement(wave(a, theta) + 7.0, wave(b, theta) - 3.0, 45.0, -45.0)
    assert s_max(x, y, np.array([0]))[0] == pytest.approx(largest, abs=1e-3)


@each_orbit
def test_s_max_of_each_turn(a: Part, b: Part, largest: float, any_direction: float) -> None:
    """Two turns, the second twice as large and somewhere else: each has its own mean and S max."""
    theta = 2.0 * np.pi * np.arange(720) / 720
    x, y = shaft_displacement(wave(a, theta), wave(b, theta), 45.0, -45.0)
    both = s_max(np.append(x, 2.0 * x + 90.0), np.append(y, 2.0 * y), np.array([0, 720]))
    assert both == pytest.approx([largest, 2.0 * largest], rel=1e-4)


@each_orbit
def test_twice_s_max_is_the_major_axis(
    a: Part, b: Part, largest: float, any_direction: float
) -> None:
    """Method C is exact for an orbit of one frequency."""
    vectors = (vector_from(2.0 * part[0], part[1]) for part in (a, b))
    assert ellipse(1, *vectors, 45.0, -45.0, "ccw").major_um == pytest.approx(
        any_direction, abs=6e-3
    )


@each_orbit
def test_through_the_whole_reading(a: Part, b: Part, largest: float, any_direction: float) -> None:
    """From volts to `s_max_um`: sampling at 170 points a turn costs less than 0.1 %."""
    signals = {
        "X": Signal(1250.0, {1: (2.0 * a[0], a[1])}),
        "Y": Signal(1200.0, {1: (2.0 * b[0], b[1])}),
    }
    capture = capture_of(steady(3000.7), 1.0, 8500.0, signals=signals)
    plane = read_span(capture, setup_of(), capture.span).planes["P"]
    assert plane.s_max_um == pytest.approx(largest, rel=1e-3)
    assert plane.orbits[1].major_um == pytest.approx(any_direction, rel=1e-3)


def test_a_change_is_a_vector() -> None:
    """3 mm/s at 40° to 2.5 mm/s at 180°: printed 5.2; exactly 5.1711 at 201.90° (computed)."""
    size, direction = amplitude_and_lag(vector_from(2.5, 180.0) - vector_from(3.0, 40.0))
    assert size == pytest.approx(5.2, abs=0.05)
    assert size == pytest.approx(5.1711, abs=5e-5)
    assert direction == pytest.approx(201.90, abs=0.005)
