"""Lengths. Everything inside is µm and V; mil is a display unit only (contract, section 1)."""

from __future__ import annotations

from enum import Enum
from typing import Final

UM_PER_MIL: Final = 25.4
"""µm in one mil, exactly (0.001 inch of 25.4 mm; international inch, 1959)."""


class LengthUnit(Enum):
    """A unit that lengths are shown in. `value` is the text written after a number."""

    UM = "µm"
    MIL = "mil"

    @property
    def per_um(self) -> float:
        """Factor that turns a length in µm into this unit."""
        return 1.0 if self is LengthUnit.UM else 1.0 / UM_PER_MIL

    @property
    def decimals(self) -> int:
        """Decimals that a shaft displacement is shown with: 0.1 µm, 0.01 mil."""
        return 1 if self is LengthUnit.UM else 2


def mv_per_mil_to_mv_per_um(scale_factor: float) -> float:
    """Scale factor in mV/µm from mV/mil: 200 mV/mil is 7.8740 mV/µm."""
    return scale_factor / UM_PER_MIL
