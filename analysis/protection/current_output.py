"""The 4-20 mA current loop of a reading (contract, section 5).

Bands: NAMUR NE 43 keeps 3.8 to 20.5 mA for readings and 3.6 mA or less for a fault.
"""

from __future__ import annotations

from typing import Final

LOW_MA: Final = 4.0
HIGH_MA: Final = 20.0
LEAST_MA: Final = 3.8
MOST_MA: Final = 20.5
FAULT_MA: Final = 3.6


def current_ma(value: float, low: float, high: float, *, fault: bool = False) -> float:
    """Current in mA that carries a value, `low` at 4 mA and `high` at 20 mA.

    Held within 3.8 to 20.5 mA; 3.6 mA on a circuit fault.
    """
    if fault:
        return FAULT_MA
    current = LOW_MA + (HIGH_MA - LOW_MA) * (value - low) / (high - low)
    return min(max(current, LEAST_MA), MOST_MA)


def voltage_across(current: float, resistance_ohm: float = 250.0) -> float:
    """Voltage in V that a current in mA makes across a resistor: 1 to 5 V across 250 Ω."""
    return current * resistance_ohm / 1000.0
