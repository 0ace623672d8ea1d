"""Check orbits of the rotary-component method.

Sources: Gonella 1972 (rotary components, **seen** in lecture notes on them); Lee, *Vibration
Analysis of Rotors*, 1993 (from memory). Three check orbits **computed** with two independent
packages for tidal ellipses that agree. X and Y are probes along the axes x and y, amplitudes are
zero-to-peak, so that readings in p-p are twice as large.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
import pytest

from analysis.rotor.orbit import ellipse, ellipse_path
from analysis.rotor.vectors import vector_from
from tests.published.orbit_figures import phasor

ALONG_X, ALONG_Y = 90.0, 0.0
"""Probe angles, clockwise from 12 o'clock."""


@dataclass(frozen=True)
class CheckOrbit:
    x: tuple[float, float]
    y: tuple[float, float]
    major: float
    minor: float
    inclination: float
    lag: float


ORBITS = [
    CheckOrbit((3, 40), (2, 150), 3.119996, 1.807103, 160.3096, 208.2899),
    CheckOrbit((40, 0), (25, 60), 42.553776, 20.351317, 22.8626, 11.4010),
    CheckOrbit((40, 0), (25, 200), 46.595290, -7.340230, 148.7098, 185.4690),
]
each_orbit = pytest.mark.parametrize("orbit", ORBITS)
each_rotation = pytest.mark.parametrize("rotation", ["ccw", "cw"])


@each_orbit
@each_rotation
def test_axes_and_inclination(orbit: CheckOrbit, rotation: str) -> None:
    v1, v2 = (vector_from(2.0 * a, lag) for a, lag in (orbit.x, orbit.y))
    ours = ellipse(1, v1, v2, ALONG_X, ALONG_Y, rotation)
    assert ours.major_um == pytest.approx(2.0 * orbit.major, abs=2e-6)
    assert ours.minor_um == pytest.approx(2.0 * abs(orbit.minor), abs=2e-6)
    assert ours.inclination_deg == pytest.approx(orbit.inclination, abs=6e-5)
    forward = (orbit.minor > 0) == (rotation == "ccw")
    assert ours.precession == ("forward" if forward else "backward")


@each_orbit
@each_rotation
def test_the_furthest_point_comes_at_the_lag(orbit: CheckOrbit, rotation: str) -> None:
    v1, v2 = (vector_from(2.0 * a, lag) for a, lag in (orbit.x, orbit.y))
    path = ellipse_path((ellipse(1, v1, v2, ALONG_X, ALONG_Y, rotation),), rotation, 36_000)
    furthest = int(np.argmax(np.abs(path[:18_000])))
    assert abs(path[furthest]) == pytest.approx(orbit.major, rel=1e-6)
    assert furthest / 100.0 == pytest.approx(orbit.lag % 180.0, abs=0.011)
    # Half a turn later it lies at the other end: which of the two tells the lag itself.
    end = path[round(orbit.lag * 100.0)]
    assert math.degrees(np.angle(end)) % 360.0 == pytest.approx(orbit.inclination, abs=0.05)


def test_forward_and_backward_parts() -> None:
    """F and B of orbits 1 and 2."""
    for orbit, forward, backward in (
        (ORBITS[0], 2.463550, 0.656447),
        (ORBITS[1], 31.452547, 11.101230),
    ):
        v1, v2 = (vector_from(2.0 * a, lag) for a, lag in (orbit.x, orbit.y))
        ours = ellipse(1, v1, v2, ALONG_X, ALONG_Y, "ccw")
        assert abs(ours.forward) == pytest.approx(forward, abs=1e-6)
        assert abs(ours.backward) == pytest.approx(backward, abs=1e-6)
        turned_round = ellipse(1, v1, v2, ALONG_X, ALONG_Y, "cw")
        assert abs(turned_round.forward) == pytest.approx(backward, abs=1e-6)


@each_orbit
def test_closed_form(orbit: CheckOrbit) -> None:
    """F = (X + jY)/2 and B = conj(X - jY)/2 of the phasors; axes |F| ± |B|."""
    x, y = phasor(*orbit.x), phasor(*orbit.y)
    f, b = (x + 1j * y) / 2.0, ((x - 1j * y) / 2.0).conjugate()
    ours = ellipse(1, 2.0 * x, 2.0 * y, ALONG_X, ALONG_Y, "ccw")
    assert ours.forward == pytest.approx(f, abs=1e-12)
    assert ours.backward == pytest.approx(b, abs=1e-12)
    assert abs(f) + abs(b) == pytest.approx(orbit.major, abs=1e-6)


@each_orbit
def test_the_usual_pair_sees_the_same_orbit_turned(orbit: CheckOrbit) -> None:
    """X at 45° right and Y at 45° left: Y lies 90° counter-clockwise of X, as y of x."""
    v1, v2 = (vector_from(2.0 * a, lag) for a, lag in (orbit.x, orbit.y))
    ours = ellipse(1, v1, v2, 45.0, -45.0, "ccw")
    assert ours.major_um == pytest.approx(2.0 * orbit.major, abs=2e-6)
    assert ours.minor_um == pytest.approx(2.0 * abs(orbit.minor), abs=2e-6)
    assert ours.inclination_deg == pytest.approx((orbit.inclination + 45.0) % 180.0, abs=6e-5)


def test_a_pair_105_degrees_apart() -> None:
    """Projections of orbit 2 on two directions that are not at right angles give it back."""
    orbit = ORBITS[1]
    x, y = phasor(*orbit.x), phasor(*orbit.y)
    seen = [
        2.0 * (x * math.sin(math.radians(a)) + y * math.cos(math.radians(a))) for a in (60, -45)
    ]
    ours = ellipse(1, *seen, 60.0, -45.0, "ccw")
    assert ours.major_um == pytest.approx(2.0 * orbit.major, abs=2e-6)
    assert ours.minor_um == pytest.approx(2.0 * orbit.minor, abs=2e-6)
    assert ours.inclination_deg == pytest.approx(orbit.inclination, abs=6e-5)


@pytest.mark.parametrize(("angle1", "angle2"), [(45, 45), (45, 59.9), (-170, 20), (0, 180)])
def test_nearly_parallel_pairs_are_refused(angle1: float, angle2: float) -> None:
    with pytest.raises(ValueError, match="closer than 15° to parallel"):
        ellipse(1, 1.0 + 0j, 1.0 + 0j, angle1, angle2, "ccw")
