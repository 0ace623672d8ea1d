"""Rotor theory in closed form: unbalance response and the place of a journal in its bearing.

Sources: Jeffcott 1919; Friswell, Penny, Garvey, Lees, *Dynamics of Rotating Machines*, 2010,
chapter 6 and 5.5 (formulas **from memory**, tables **computed**); Example 5.5.1, its eccentricity
ratio of 0.2663 **seen** in tests of an open-source rotor code; S. S. Rao, *Mechanical Vibrations*,
whirling example, problem **seen**, answers computed (0.00354519 m is the book's, from memory).
Half-power amplification factors are not 1/(2ζ) and are not held against it.
"""

from __future__ import annotations

import math

import numpy as np
import pytest

from analysis.model.setup import Plane, Probe
from analysis.rotor.centreline import centreline
from analysis.simulate.recipe_parts import PlaneMotion
from analysis.simulate.shaft import ShaftInPlane, jeffcott
from analysis.simulate.speed import ShaftSpeed, Speed

NATURAL = 3000.0

# ζ, r at the peak, A/e there, A/e at r = 1, half-power r1 and r2, AF, lag at the peak.
PEAKS = [
    (0.02, 1.00040, 25.0050, 25.000, 0.98096, 1.02104, 24.960, 91.15),
    (0.05, 1.00251, 10.0125, 10.000, 0.95569, 1.05696, 9.8996, 92.87),
    (0.10, 1.01015, 5.02519, 5.000, 0.92097, 1.13155, 4.7969, 95.77),
    (0.15, 1.02329, 3.37148, 3.333, 0.89385, 1.23242, 3.0225, 98.73),
    (0.20, 1.04257, 2.55155, 2.500, 0.87307, 1.37610, 2.0726, 101.78),
]


def response(ratio: np.ndarray | float, damping: float) -> np.ndarray:
    return jeffcott(np.atleast_1d(np.asarray(ratio, dtype=float)) * NATURAL, NATURAL, damping)


def lag_deg(value: complex) -> float:
    return float(-np.angle(value, deg=True) % 360.0)


@pytest.mark.parametrize("row", PEAKS)
def test_peaks(row: tuple[float, ...]) -> None:
    damping, ratio, amplitude, at_one, low, high, factor, lag = row
    r = np.linspace(0.5, 2.0, 1_500_001)
    h = response(r, damping)
    top = int(np.argmax(np.abs(h)))
    assert r[top] == pytest.approx(ratio, abs=6e-6)
    assert abs(h[top]) == pytest.approx(amplitude, abs=6e-5)
    assert lag_deg(h[top]) == pytest.approx(lag, abs=0.006)
    above = np.flatnonzero(np.abs(h) >= abs(h[top]) / math.sqrt(2.0))
    n1, n2 = r[above[0]], r[above[-1]]
    assert (n1, n2) == pytest.approx((low, high), abs=7e-6)
    assert r[top] / (n2 - n1) == pytest.approx(factor, abs=0.012 * factor / 10.0 + 1e-4)
    assert abs(response(1.0, damping)[0]) == pytest.approx(at_one, abs=6e-4)
    # Exactly 90° at the undamped natural speed, whatever the damping.
    assert lag_deg(response(1.0, damping)[0]) == pytest.approx(90.0, abs=1e-12)


@pytest.mark.parametrize(
    ("damping", "ratio", "amplitude", "lag"),
    [
        (0.05, 0.5, 0.33260, 3.814),
        (0.05, 0.9, 3.85278, 25.346),
        (0.05, 1.1, 5.10408, 152.354),
        (0.05, 2.0, 1.33038, 176.186),
        (0.10, 0.9, 3.09485, 43.452),
        (0.10, 1.1, 3.97846, 133.668),
    ],
)
def test_spot_values(damping: float, ratio: float, amplitude: float, lag: float) -> None:
    (h,) = response(ratio, damping)
    assert abs(h) == pytest.approx(amplitude, abs=6e-6)
    assert lag_deg(h) == pytest.approx(lag, abs=6e-4)


def test_whirling_shaft() -> None:
    """k 3.75 MN/m, m 60 kg, e 2000 µm, ζ 0.05, 3600 r/min: 3.54516 mm; 20.025 mm at most."""
    natural_rpm = math.sqrt(3.75e6 / 60.0) * 60.0 / (2.0 * math.pi)
    (h,) = jeffcott(np.array([3600.0]), natural_rpm, 0.05)
    assert 2.0 * abs(h) == pytest.approx(3.54516, abs=6e-6)
    assert 2.0 * abs(h) == pytest.approx(3.54519, abs=6e-5)  # as printed, from memory
    rpm = np.linspace(2000.0, 3000.0, 1_000_001)
    assert 2.0 * np.abs(jeffcott(rpm, natural_rpm, 0.05)).max() == pytest.approx(20.025, abs=6e-4)


# Short bearing, tan φ = π sqrt(1 - ε²)/(4ε).
ATTITUDES = list(
    zip(
        [0.1, 0.2, 0.3, 0.4, 0.5, 0.6, 0.7, 0.8, 0.9],
        [82.71, 75.43, 68.18, 60.94, 53.68, 46.32, 38.70, 30.50, 20.83],
        strict=True,
    )
)
CLEARANCE = 240.0
PLANE = Plane(name="P", probes=("X", "Y"), clearance_um=CLEARANCE, rest="bottom")
PROBES = tuple(
    Probe(name=n, angle_deg=a, scale_factor_mv_per_mil=200.0, rest_gap_um=1310.0)
    for n, a in (("X", 45.0), ("Y", -45.0))
)


@pytest.mark.parametrize("rotation", ["ccw", "cw"])
@pytest.mark.parametrize(("eccentricity", "attitude"), ATTITUDES)
def test_attitude_is_read_in_the_direction_of_rotation(
    eccentricity: float, attitude: float, rotation: str
) -> None:
    """Counter-clockwise with the load down the journal sits lower right, clockwise lower left."""
    side = 1.0 if rotation == "ccw" else -1.0
    angle = math.radians(attitude)
    x = side * eccentricity * CLEARANCE / 2.0 * math.sin(angle)
    y = -eccentricity * CLEARANCE / 2.0 * math.cos(angle)
    moved = np.array([x, y + CLEARANCE / 2.0])  # from rest at the bottom
    gaps = [1310.0 - float(moved @ np.array(probe.direction)) for probe in PROBES]
    found = centreline(*gaps, PROBES, PLANE, rotation)
    assert found is not None
    assert (found.x_um, found.y_um) == pytest.approx((x, y))
    assert found.eccentricity_ratio == pytest.approx(eccentricity, abs=1e-9)
    assert found.attitude_deg == pytest.approx(attitude, abs=1e-9)


@pytest.mark.parametrize("rotation", ["ccw", "cw"])
@pytest.mark.parametrize(("eccentricity", "attitude"), [*ATTITUDES, (0.2663, 70.62)])
def test_simulated_journals_sit_on_the_short_bearing_locus(
    eccentricity: float, attitude: float, rotation: str
) -> None:
    motion = PlaneMotion(name="P", eccentricity_ratio=((0.0, eccentricity),))
    speed = ShaftSpeed(Speed(points=((0.0, 1500.0),)))
    shaft = ShaftInPlane(motion, PLANE, rotation, speed)
    (moved,) = shaft.mean_from_rest(np.array([1.0]))
    place = complex(moved) - 1j * CLEARANCE / 2.0
    assert abs(place) == pytest.approx(eccentricity * CLEARANCE / 2.0)
    from_load = math.degrees(math.atan2(place.real, -place.imag))
    assert from_load == pytest.approx(attitude if rotation == "ccw" else -attitude, abs=0.006)
