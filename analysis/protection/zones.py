"""Evaluation zones A to D of shaft vibration, as the setup gives them."""

from __future__ import annotations

import math

from analysis.model.setup import SeverityZones


def zone_boundaries(speed_rpm: float, zones: SeverityZones) -> tuple[float, float, float]:
    """Boundaries A/B, B/C and C/D at a speed, µm p-p: `coefficient / sqrt(r/min)`."""
    root = math.sqrt(speed_rpm)
    return zones.a_b / root, zones.b_c / root, zones.c_d / root


def zone_of(peak_to_peak_um: float, speed_rpm: float, zones: SeverityZones) -> str:
    """Zone "A" to "D" of a p-p value; a value on a boundary belongs to the better zone."""
    bounds = zone_boundaries(speed_rpm, zones)
    return "ABCD"[sum(peak_to_peak_um > bound for bound in bounds)]
