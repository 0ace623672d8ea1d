"""What a person enters for a calibration check: rows, tolerances, applied steps. µm, V, mA, Hz.

By itself, since windows hold it before anything is judged.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

from .units import UM_PER_MIL

Row = tuple[float, float]
"""(gap_um, volts)."""

NOMINAL_MV_PER_UM: Final = 200.0 / UM_PER_MIL
"""200 mV/mil on AISI 4140, 7.874 mV/µm: common practice."""


@dataclass(frozen=True)
class CalibrationTolerances:
    """What a calibration is judged against; every figure can be changed.

    `increment_percent` is about the nominal factor, `deviation_um` from the straight line whose
    slope is held at it; both are judged over `testing_range_um`. `least_range_um` is the length
    that the usable range must have. Defaults: API 670, 5th edition (2014), Table 1, from memory;
    the maker's certificate and the owner's procedure come first.
    """

    nominal_mv_per_um: float = NOMINAL_MV_PER_UM
    increment_percent: float = 5.0
    deviation_um: float = 1.0 * UM_PER_MIL
    testing_range_um: tuple[float, float] = (10.0 * UM_PER_MIL, 90.0 * UM_PER_MIL)
    least_range_um: float = 2000.0
    edition: str = "API 670, 5th edition (2014), Table 1, testing range (from memory)"

    def __post_init__(self) -> None:
        low, high = self.testing_range_um
        if not low < high:
            raise ValueError("the testing range must rise")
        if self.nominal_mv_per_um <= 0.0 or self.increment_percent < 0.0 or self.deviation_um < 0.0:
            raise ValueError("the factor must be above zero, and no tolerance below it")


OPERATING_RANGE: Final = CalibrationTolerances(
    increment_percent=10.0,
    deviation_um=3.0 * UM_PER_MIL,
    edition="API 670, 5th edition (2014), Table 1, operating range (from memory)",
)
"""For a chain outside the temperatures of the testing range; figures from memory."""


@dataclass(frozen=True)
class AppliedStep:
    """What a person applied, as far as it was written down; `measured_*_ma` were read on the loop.

    `peak_to_peak_um` of 0 is a step without vibration, `None` one whose vibration is not held
    against anything.
    """

    gap_um: float | None = None
    peak_to_peak_um: float | None = None
    frequency_hz: float | None = None
    measured_position_ma: float | None = None
    measured_vibration_ma: float | None = None
