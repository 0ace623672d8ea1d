"""Critical speeds that the program reads off the textbook rotor, against its closed form.

Sources: Jeffcott 1919; Friswell, Penny, Garvey, Lees, *Dynamics of Rotating Machines*, 2010,
chapter 6; Childs 1993 (formulas **from memory**, table **computed** from them at high resolution).
S. S. Rao, *Mechanical Vibrations*, whirling example: problem **seen**, answers computed (20 mm at
the natural speed is the book's, from memory). Half-power factors are those of the curve; they
differ from 1/(2ζ) by 4 % at ζ = 0.1 and 17 % at 0.2 and are not held against it.
"""

from __future__ import annotations

import math

import numpy as np
import pytest

from analysis.model.response_results import CriticalSpeed, ResponsePoints
from analysis.rotor.response.responses import response_of
from tests.published.test_friswell_2010_rotors import PEAKS

NATURAL = 3000.0


def critical_of(natural: float, damping: float, scale: float = 1.0) -> CriticalSpeed:
    rpm = np.arange(0.3 * natural, 2.6 * natural, natural / 150.0)
    r = rpm / natural
    vectors = scale * r**2 / (1.0 - r**2 + 2j * damping * r)
    times = np.arange(len(rpm)) * 1000.0  # without haste
    (critical,) = response_of("X", ResponsePoints(1, times, rpm, vectors), None).criticals
    return critical


@pytest.mark.parametrize("row", PEAKS)
def test_peak_half_power_points_and_factor(row: tuple[float, ...]) -> None:
    """ζ, r at the peak, A/e there, A/e at r = 1, half-power r1 and r2, AF, lag at the peak."""
    damping, ratio, amplitude, _, low, high, factor, lag = row
    critical = critical_of(NATURAL, damping)
    assert critical.speed_rpm / NATURAL == pytest.approx(ratio, abs=2e-4)
    assert critical.amplitude_um_pp == pytest.approx(amplitude, rel=2e-3)
    first, last = critical.half_power_rpm
    assert first is not None
    assert last is not None
    assert (first / NATURAL, last / NATURAL) == pytest.approx((low, high), abs=4e-4)
    assert critical.amplification_factor == pytest.approx(factor, rel=4e-3)
    assert critical.phase_lag_deg == pytest.approx(lag, abs=0.6)
    # 90° exactly at the undamped natural speed, where (N/2) dφ/dN is 1/(2ζ).
    assert critical.phase_slope_factor == pytest.approx(0.5 / damping, rel=0.05)


def test_a_factor_below_two_and_a_half_needs_no_margin() -> None:
    """ζ = 0.20: AF 2.07, critically damped by RP 684."""
    rpm = np.arange(900.0, 9000.0, 20.0)
    r = rpm / NATURAL
    vectors = r**2 / (1.0 - r**2 + 0.4j * r)
    run = ResponsePoints(1, np.arange(len(rpm)) * 1000.0, rpm, vectors)
    (critical,) = response_of("X", run, None, (4700.0, 5300.0)).criticals
    assert critical.required_margin_percent == 0.0


def test_whirling_shaft() -> None:
    """k 3.75 MN/m, m 60 kg, e 2000 µm, ζ 0.05: 250 rad/s, 20.025 mm at most (zero to peak)."""
    natural = math.sqrt(3.75e6 / 60.0) * 30.0 / math.pi
    assert natural * math.pi / 30.0 == pytest.approx(250.0)
    critical = critical_of(natural, 0.05, scale=2.0 * 2000.0)
    assert critical.amplitude_um_pp / 2000.0 == pytest.approx(20.025, rel=1e-3)
    assert critical.speed_rpm == pytest.approx(natural * 1.00251, rel=2e-4)
