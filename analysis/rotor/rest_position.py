"""Gaps with the shaft at rest: from the setup, or taken from the slowest turns of a capture."""

from __future__ import annotations

from typing import Final

import numpy as np

from analysis.model.position_results import RestPosition
from analysis.model.results import RevolutionTable
from analysis.model.setup import Probe

SLOW_SHARE: Final = 0.2
"""Turns may stand for rest up to this share of the highest speed: below, a journal has hardly left
the bottom of its bearing (common practice takes the slow-roll gap for a reference)."""

LEAST_TURNS: Final = 3
_NEAR_SLOWEST = 1.1


def rest_position(table: RevolutionTable, probes: tuple[Probe, Probe]) -> RestPosition | None:
    """Rest gaps of a pair, with where they come from.

    The setup's where it has both. Else the median gaps of the turns within 10 % of the slowest,
    or of the three slowest, if these are below a fifth of the highest speed: an assumption, and
    marked so.

    Returns:
        `None` when neither is to be had.
    """
    given = probes[0].rest_gap_um, probes[1].rest_gap_um
    if given[0] is not None and given[1] is not None:
        return RestPosition((given[0], given[1]), "setup")
    gaps = table.probes[probes[0].name].gap_um, table.probes[probes[1].name].gap_um
    valid = np.isfinite(table.speed_rpm) & np.isfinite(gaps[0]) & np.isfinite(gaps[1])
    if not valid.any():
        return None
    speeds = table.speed_rpm[valid]
    slowest, highest = float(speeds.min()), float(speeds.max())
    if len(speeds) < LEAST_TURNS:
        return None
    # In a fast run-up no other turn is as slow as the slowest.
    third = float(np.partition(speeds, LEAST_TURNS - 1)[LEAST_TURNS - 1])
    reach = max(_NEAR_SLOWEST * slowest, third)
    if reach > SLOW_SHARE * highest:
        return None
    slow = valid & (table.speed_rpm <= reach)
    found = float(np.median(gaps[0][slow])), float(np.median(gaps[1][slow]))
    return RestPosition(found, "slowest turns", float(np.median(table.speed_rpm[slow])))
