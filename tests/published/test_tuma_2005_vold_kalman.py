"""Weights of the second-generation Vold-Kalman order filter for a -3 dB bandwidth.

Sources: Vold and Leuridan, SAE 931288, 1993 (method); J. Tůma, 2005, weights for one and two poles
**seen** in slides and code; small-bandwidth constants of one and two poles **from memory**, the
rest and the table **computed** from the formula. One published code multiplies by two twice in one
of its solvers: amplitudes are held against the signal here.
"""

from __future__ import annotations

import math

import numpy as np
import pytest

from analysis.rotor.response.vold_kalman import order_envelopes, weight


@pytest.mark.parametrize(
    ("poles", "share", "r"),
    [
        (1, 0.001, 204.862),
        (1, 0.01, 20.4871),
        (1, 0.05, 4.10146),
        (2, 0.001, 65209.8),
        (2, 0.01, 652.151),
        (2, 0.05, 26.1376),
        (3, 0.001, 2.07569e7),
        (3, 0.01, 20759.5),
        (3, 0.05, 166.568),
    ],
)
def test_weights(poles: int, share: float, r: float) -> None:
    assert weight(share * 5120.0, 5120.0, poles) == pytest.approx(r, rel=3e-6)
    if share < 0.01:
        return  # the printed forms lose their digits there
    phi = math.pi * share
    denominator = {
        1: 2.0 - 2.0 * math.cos(phi),
        2: 6.0 - 8.0 * math.cos(phi) + 2.0 * math.cos(2.0 * phi),
        3: 20.0 - 30.0 * math.cos(phi) + 12.0 * math.cos(2.0 * phi) - 2.0 * math.cos(3.0 * phi),
    }[poles]
    printed = math.sqrt((math.sqrt(2.0) - 1.0) / denominator)
    assert weight(share, 1.0, poles) == pytest.approx(printed, rel=1e-3)


@pytest.mark.parametrize(
    ("poles", "constant"), [(1, 0.204862), (2, 0.255362), (3, 0.274824), (4, 0.285104)]
)
def test_small_bandwidths(poles: int, constant: float) -> None:
    r = weight(1e-4, 1.0, poles)
    assert pytest.approx(constant / r ** (1.0 / poles), rel=1e-5) == 1e-4


@pytest.mark.parametrize("poles", [1, 2, 3])
@pytest.mark.parametrize(("offset", "gain"), [(0.0, 1.0), (1.0, 1.0 / math.sqrt(2.0))])
def test_gain_at_the_order_and_at_the_edge_of_the_band(
    poles: int, offset: float, gain: float
) -> None:
    """An envelope that turns at half the bandwidth comes out 3 dB lower, a constant one whole."""
    rate, bandwidth, carrier = 2000.0, 8.0, 120.0
    times = np.arange(8000) / rate
    frequency = carrier + offset * bandwidth / 2.0
    values = 7.0 * np.cos(2.0 * np.pi * frequency * times - 0.7)
    phases = 2.0 * np.pi * carrier * times[np.newaxis]
    found = order_envelopes(values, phases, rate, bandwidth, poles=poles)
    middle = found.vectors[0, 3900:4100]
    assert np.abs(middle) == pytest.approx(14.0 * gain, rel=2e-3)
    if offset == 0.0:
        assert -np.angle(middle) == pytest.approx(0.7, abs=2e-3)
