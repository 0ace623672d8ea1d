"""Which applied step was found in which steady stretch, both in the order of time."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Final

from analysis.model.calibration_entries import AppliedStep
from analysis.model.calibration_results import SteadyStretch

FAR: Final = 0.25
"""An applied step further away than this share of full scale was not found."""
_SKIPPED: Final = 1e-3
"""A stretch that is left out costs this much: of two that fit alike, none is left out needlessly.
"""


def matched(
    applied: Sequence[AppliedStep],
    stretches: Sequence[SteadyStretch],
    position_scale_um: float,
    vibration_scale_um: float,
) -> tuple[int | None, ...]:
    """For each applied step the number of its stretch, `None` where there is none.

    Order is kept, and a stretch is given once. Among all such assignments the one with the least
    sum of distances (shares of full scale) is taken; a stretch may stay without a step, and a step
    further than `FAR` from everything stays without a stretch.

    Args:
        applied: what was applied, in the order of time.
        stretches: what was found, in the order of time.
        position_scale_um: full scale of position, µm, above 0.
        vibration_scale_um: full scale of vibration, µm p-p, above 0.
    """
    rows, columns = len(applied), len(stretches)
    best = [[0.0] * (columns + 1) for _ in range(rows + 1)]
    choice = [[""] * (columns + 1) for _ in range(rows + 1)]
    for i in range(rows + 1):
        for j in range(columns + 1):
            ways: list[tuple[float, str]] = [] if i or j else [(0.0, "")]
            if i and j:
                scales = (position_scale_um, vibration_scale_um)
                cost = distance(applied[i - 1], stretches[j - 1], *scales)
                if cost <= FAR:
                    ways.append((best[i - 1][j - 1] + cost, "both"))
            if j:
                ways.append((best[i][j - 1] + _SKIPPED, "stretch"))
            if i:
                ways.append((best[i - 1][j] + FAR, "step"))
            best[i][j], choice[i][j] = min(ways, key=lambda way: way[0])
    out: list[int | None] = [None] * rows
    i, j = rows, columns
    while i or j:
        way = choice[i][j]
        if way == "both":
            i, j = i - 1, j - 1
            out[i] = j
        elif way == "stretch":
            j -= 1
        else:
            i -= 1
    return tuple(out)


def distance(
    applied: AppliedStep,
    stretch: SteadyStretch,
    position_scale_um: float,
    vibration_scale_um: float,
) -> float:
    """How far a stretch is from what was applied: the sum of both shares of full scale."""
    total = 0.0
    if applied.gap_um is not None:
        total += abs(stretch.gap_um - applied.gap_um) / position_scale_um
    if applied.peak_to_peak_um is not None:
        total += abs(stretch.peak_to_peak_um - applied.peak_to_peak_um) / vibration_scale_um
    return total
