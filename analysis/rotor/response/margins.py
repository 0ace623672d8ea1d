"""Separation margins: what there is, and what is asked for."""

from __future__ import annotations

import math

LEAST_FACTOR = 2.5
"""Below it a critical speed is critically damped and needs no margin (API RP 684, SP6.8.2.1)."""

EDITION = "API RP 684, SP6.8.2.10"
"""Where the required margin comes from; read in open-source code that implements it, not in the
standard itself. The owner's and maker's figures come first."""

MOST_BELOW_PERCENT = 16.0
MOST_ABOVE_PERCENT = 26.0


def separation_margin(speed_rpm: float, operating_rpm: tuple[float, float]) -> float:
    """Distance of a critical speed from the nearer end of the operating range, % of that end.

    Negative inside the range: there is no separation then (contract, section 5).
    """
    low, high = operating_rpm
    if speed_rpm <= low:
        return 100.0 * (low - speed_rpm) / low
    if speed_rpm >= high:
        return 100.0 * (speed_rpm - high) / high
    return -min(100.0 * (speed_rpm - low) / low, 100.0 * (high - speed_rpm) / high)


def required_margin(amplification_factor: float, *, above: bool) -> float:
    """The margin that RP 684 asks of a critical speed below or above the operating range, %.

    Source: `EDITION`: below the lowest speed `min(16, 17 (1 - 1/(AF - 1.5)))`, above the highest
    `min(26, 10 + 17 (1 - 1/(AF - 1.5)))`, nothing for AF below 2.5.
    """
    if amplification_factor < LEAST_FACTOR:
        return 0.0
    grown = 17.0 * (1.0 - 1.0 / (amplification_factor - 1.5))
    if above:
        return min(MOST_ABOVE_PERCENT, 10.0 + grown)
    return min(MOST_BELOW_PERCENT, grown)


def lies_above(speed_rpm: float, operating_rpm: tuple[float, float]) -> bool:
    """Whether the nearer end of the operating range is its upper one."""
    low, high = operating_rpm
    return abs(speed_rpm - high) / high < abs(speed_rpm - low) / low


def running_test_limit_um(continuous_rpm: float) -> float:
    """Vibration limit of the mechanical running test, µm p-p, at the highest continuous speed.

    Source: API 617, 9th ed., 6.8.2.10 and RP 684, SP6.8.2.11 (read in open-source code):
    `min(25.4, 25.4 sqrt(12000/N))`. An editable reference, no acceptance by itself.
    """
    return min(25.4, 25.4 * math.sqrt(12000.0 / continuous_rpm))
