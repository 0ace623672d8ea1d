"""Orbits against an **independent implementation**: `utide` (MIT), a package for tidal ellipses.

`ut_cs2cep` takes cosine and sine coefficients of x and y and gives semi-major, signed semi-minor
(positive when turning from x to y, counter-clockwise), inclination and the lag of the major axis.
Probe vectors are random (a fixed seed of hypothesis in CI), pairs of any angle further than 15°
from parallel, both rotations.
"""

from __future__ import annotations

import cmath
import math
from dataclasses import dataclass

import numpy as np
import pytest
from hypothesis import assume, given
from hypothesis import strategies as st
from utide.ellipse_params import ut_cs2cep

from analysis.rotor.orbit import ellipse, ellipse_path
from tests.published.orbit_figures import in_machine_axes, phasor

amplitudes = st.floats(0.5, 400.0)
lags = st.floats(0.0, 359.99)
angles = st.floats(-180.0, 180.0)
rotations = st.sampled_from(["cw", "ccw"])


@dataclass(frozen=True)
class Tidal:
    major: float
    minor: float
    inclination: float
    lag: float


def tidal(x: complex, y: complex) -> Tidal:
    """`utide`'s answer for phasors `A exp(-jφ)`, amplitudes as given."""
    coefficients = [np.array([v]) for v in (x.real, -x.imag, y.real, -y.imag)]
    return Tidal(*(float(v[0]) for v in ut_cs2cep(*coefficients)))


def apart(angle1: float, angle2: float) -> float:
    turned = (angle2 - angle1) % 180.0
    return min(turned, 180.0 - turned)


@given(amplitudes, lags, amplitudes, lags, angles, angles, rotations)
def test_any_pair_any_rotation(
    a1: float, lag1: float, a2: float, lag2: float, angle1: float, angle2: float, rotation: str
) -> None:
    assume(apart(angle1, angle2) > 15.5)
    v1, v2 = phasor(a1, lag1), phasor(a2, lag2)
    ours = ellipse(1, v1, v2, angle1, angle2, rotation)
    wanted = tidal(*in_machine_axes(v1, v2, angle1, angle2))
    size = wanted.major
    assert ours.major_um == pytest.approx(wanted.major, abs=1e-9 * size)
    assert ours.minor_um == pytest.approx(abs(wanted.minor), abs=1e-9 * size)
    # An axis has no direction when the orbit is a circle: weigh it with how far it is from one.
    flatness = size - abs(wanted.minor)
    off = flatness * abs(
        cmath.exp(2j * math.radians(ours.inclination_deg))
        - cmath.exp(2j * math.radians(wanted.inclination))
    )
    assert off < 1e-8 * size
    assert 0.0 <= ours.inclination_deg <= 180.0
    if abs(wanted.minor) > 1e-6 * size:
        counter_clockwise = wanted.minor > 0
        runs_with = counter_clockwise == (rotation == "ccw")
        assert ours.precession == ("forward" if runs_with else "backward")


@given(amplitudes, lags, amplitudes, lags, rotations, st.sampled_from([1, 2, 3]))
def test_the_path_drawn_is_the_ellipse(
    a1: float, lag1: float, a2: float, lag2: float, rotation: str, order: int
) -> None:
    """At the lag of the major axis the drawn path lies at its end."""
    v1, v2 = phasor(a1, lag1), phasor(a2, lag2)
    ours = ellipse(order, v1, v2, 45.0, -45.0, rotation)
    wanted = tidal(*in_machine_axes(v1, v2, 45.0, -45.0))
    assume(wanted.major > 1.01 * abs(wanted.minor))
    points = 3600
    path = ellipse_path((ours,), rotation, points)
    at_lag = path[round(wanted.lag / order / 360.0 * points) % points]
    end = wanted.major / 2.0 * cmath.exp(1j * math.radians(wanted.inclination))
    # The path has points every tenth of a degree of shaft angle.
    assert abs(at_lag - end) < wanted.major / 2.0 * math.radians(0.05 * order) * 1.01
    assert np.abs(path).max() == pytest.approx(wanted.major / 2.0, rel=1e-4)
