"""The Lab's rotor on supports that hardly give is Jeffcott's, in closed form.

Sources: Jeffcott 1919; Friswell, Penny, Garvey, Lees, *Dynamics of Rotating Machines*, 2010,
chapter 6 (formulas **from memory**, values **computed**): A/e = r²/sqrt((1-r²)² + (2ζr)²), lag =
atan2(2ζr, 1-r²); of a bow b alone A/b = 1/(1-r²+2jζr). S. S. Rao, *Mechanical Vibrations*, whirling
example: problem **seen**, answer **computed**.
"""

from __future__ import annotations

import math

import numpy as np
import pytest

from analysis.rotor.vectors import amplitude_and_lag
from analysis.simulate.rotor_model import Rotor, modes, steady_response

MASS, STIFFNESS = 60.0, 3.75e6
NATURAL_RPM = math.sqrt(STIFFNESS / MASS) * 30.0 / math.pi


def rigid(damping: float, **other: object) -> Rotor:
    return Rotor(
        mass_kg=MASS,
        shaft_n_per_m=STIFFNESS,
        disc_ns_per_m=2.0 * damping * math.sqrt(STIFFNESS * MASS),
        support_n_per_m=(1e15, 1e15),
        support_ns_per_m=(1.0, 1.0),
        **{"eccentricity_um": 100.0, "load_n": 0.0, **other},
    )


@pytest.mark.parametrize("rotation", ["ccw", "cw"])
@pytest.mark.parametrize(
    ("damping", "ratio", "amplitude", "lag"),
    [
        (0.05, 0.5, 0.33260, 3.814),
        (0.05, 0.9, 3.85278, 25.346),
        (0.05, 1.1, 5.10408, 152.354),
        (0.05, 2.0, 1.33038, 176.186),
        (0.10, 0.9, 3.09485, 43.452),
        (0.10, 1.1, 3.97846, 133.668),
        (0.05, 1.0, 10.000, 90.0),
        (0.20, 1.0, 2.500, 90.0),
    ],
)
def test_spot_values(damping, ratio, amplitude, lag, rotation):
    rotor = rigid(damping, rotation=rotation)
    found = steady_response(rotor, np.array([ratio * NATURAL_RPM]))
    # Heavy spot to the right at the event, so a probe on the right (3 o'clock) shows the lag bare.
    seen, seen_lag = amplitude_and_lag(complex(found.probe_vector(90.0)[0]))
    assert seen / 2.0 / 100.0 == pytest.approx(amplitude, abs=6e-6)
    assert seen_lag == pytest.approx(lag, abs=6e-4)
    assert abs(found.forward[0]) == pytest.approx(100.0 * amplitude, abs=6e-4)
    assert abs(found.backward[0]) < 1e-4


@pytest.mark.parametrize(
    ("damping", "ratio", "amplitude"),
    [(0.02, 1.00040, 25.0050), (0.05, 1.00251, 10.0125), (0.10, 1.01015, 5.02519)],
)
def test_peaks(damping, ratio, amplitude):
    ratios = np.linspace(0.9, 1.1, 40_001)
    found = steady_response(rigid(damping), ratios * NATURAL_RPM)
    top = int(np.argmax(np.abs(found.forward)))
    assert ratios[top] == pytest.approx(ratio, abs=1.2e-5)
    assert abs(found.forward[top]) / 100.0 == pytest.approx(amplitude, abs=6e-5)


def test_whirling_shaft_of_the_textbook():
    # k 3.75 MN/m, m 60 kg, e 2000 µm, ζ 0.05, 3600 r/min: 3.54516 mm.
    found = steady_response(rigid(0.05, eccentricity_um=2000.0), np.array([3600.0]))
    assert abs(found.x[0]) / 1000.0 == pytest.approx(3.54516, abs=6e-6)


@pytest.mark.parametrize("ratio", [0.3, 0.9, 1.0, 1.7])
def test_bow_alone_and_with_unbalance(ratio):
    speed = np.array([ratio * NATURAL_RPM])
    bare = 1.0 / (1.0 - ratio**2 + 2j * 0.05 * ratio)
    bow = steady_response(rigid(0.05, eccentricity_um=0.0, bow_um=50.0, bow_at_deg=30.0), speed)
    assert bow.forward[0] == pytest.approx(50.0 * np.exp(1j * np.pi / 6) * bare, rel=1e-6)
    both = steady_response(rigid(0.05, bow_um=50.0, bow_at_deg=180.0), speed)
    assert both.forward[0] == pytest.approx((100.0 * ratio**2 - 50.0) * bare, rel=1e-6)


def test_free_vibration():
    for mode in modes(rigid(0.05), 3000.0):
        # ω sqrt(1 - ζ²)
        assert mode.frequency_rpm == pytest.approx(NATURAL_RPM * math.sqrt(1.0 - 0.05**2))
        # Supports a thousand million times stiffer than the shaft cost digits.
        assert mode.damping_ratio == pytest.approx(0.05, rel=2e-5)
        assert mode.growth_per_s == pytest.approx(-0.05 * NATURAL_RPM * math.pi / 30.0, rel=2e-5)
