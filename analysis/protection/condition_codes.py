"""Conditions of a limit as small integers, for arrays."""

from __future__ import annotations

from typing import TYPE_CHECKING, Final

if TYPE_CHECKING:
    from analysis.model.results import LimitCondition

CONDITION_CODES: Final[dict[LimitCondition, int]] = {
    "normal": 0,
    "alarm": 1,
    "trip": 2,
    "fault": -1,
    "unknown": -2,
}
"""Codes of the conditions in arrays."""
