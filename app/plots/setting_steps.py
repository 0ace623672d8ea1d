"""Round settings: what a hand on a line or a mark can ask for."""

from __future__ import annotations

from typing import TYPE_CHECKING

from analysis.model.units import LengthUnit

from .axes import nice_step

if TYPE_CHECKING:
    from analysis.model.setup import Limit

    from .limit_words import Side

DELAY_STEP_S = 0.1
"""Limits are judged every 0.1 s (contract, section 5): a finer delay would change nothing."""


def step_um(um_per_pixel: float, unit: LengthUnit) -> float:
    """A round step in the unit shown, about a pixel, as a length in µm."""
    least = 0.1 if unit is LengthUnit.UM else 0.005
    return nice_step(max(um_per_pixel * unit.per_um, least)) / unit.per_um


def rounded(value: float, step: float) -> float:
    """The nearest multiple of a step."""
    # Ten decimals: a product of steps should read as the number that it is meant to be.
    return round(round(value / step) * step, 10)


def within(limit: Limit, side: Side, value_um: float, step: float) -> float:
    """A value that the limit could have: above and below stay on their sides of each other."""
    if limit.measure != "position":
        value_um = max(value_um, step)
    if side == "above" and limit.below is not None:
        return max(value_um, limit.below + step)
    if side == "below" and limit.above is not None:
        return min(value_um, limit.above - step)
    return value_um
