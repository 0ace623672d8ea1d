"""Lines that a response is held against: limits, zones, test limit. Data with edition and source.

They are references that a reader lays over a picture and may edit; the owner's and maker's figures
come first.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

import numpy as np

from analysis.model.results import Floats
from analysis.model.setup import Setup, SeverityZones
from analysis.protection.zones import zone_boundaries
from analysis.rotor.response.margins import running_test_limit_um

_POINTS = 200


@dataclass(frozen=True, eq=False)
class ReferenceLine:
    """A line over speed, µm p-p. `source` names edition and where the figure comes from."""

    name: str
    kind: Literal["alarm", "trip", "zone", "test limit"]
    speed_rpm: Floats
    level_um: Floats
    source: str


def limit_lines(setup: Setup, probe: str, low_rpm: float, high_rpm: float) -> list[ReferenceLine]:
    """The setup's limits of 1X and of p-p of a probe, with their multipliers.

    A limit of p-p is of the unfiltered vibration; 1X is a part of it. The name says which.
    """
    lines = []
    for limit in setup.limits_of(probe):
        if limit.measure not in ("1x", "peak_to_peak") or limit.above is None:
            continue
        speed = np.array([low_rpm, high_rpm])
        level = np.full(2, limit.above)
        if limit.multiplier is not None:
            first, last = limit.multiplier.rpm
            # Steps: each end of the raised stretch twice.
            speed = np.array([low_rpm, first, first, last, last, high_rpm])
            raised = limit.above * limit.multiplier.factor
            level = np.array([limit.above, limit.above, raised, raised, limit.above, limit.above])
            speed = np.clip(speed, low_rpm, high_rpm)
        what = "1X" if limit.measure == "1x" else "p-p"
        name = f"{limit.level} {limit.above:g} µm ({what})"
        lines.append(ReferenceLine(name, limit.level, speed, level, "the setup's [[limit]]"))
    return lines


def zone_lines(zones: SeverityZones | None, low_rpm: float, high_rpm: float) -> list[ReferenceLine]:
    """The boundaries A/B, B/C and C/D over speed; the default zones when the setup has none."""
    zones = zones or SeverityZones()
    speed = np.geomspace(max(low_rpm, 1.0), high_rpm, _POINTS)
    levels = np.array([zone_boundaries(float(n), zones) for n in speed]).T
    return [
        ReferenceLine(f"zone {name}", "zone", speed, level, zones.edition)
        for name, level in zip(("A/B", "B/C", "C/D"), levels, strict=True)
    ]


def running_test_line(
    continuous_rpm: float, low_rpm: float, high_rpm: float, level_um: float | None = None
) -> ReferenceLine:
    """The limit of the mechanical running test at the highest continuous speed, or one given."""
    level = running_test_limit_um(continuous_rpm) if level_um is None else level_um
    source = (
        "API 617, 9th ed., 6.8.2.10 and RP 684 (formula seen in open-source code, not in the "
        "standard)"
    )
    return ReferenceLine(
        f"test limit {level:.1f} µm",
        "test limit",
        np.array([low_rpm, high_rpm]),
        np.array([level, level]),
        source if level_um is None else "the setup's [machine] running_test_limit_um",
    )
