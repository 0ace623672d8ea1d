"""One probe read as position and vibration, each on its own 4-20 mA loop.

Sources: 4 + 16 (x - low)/(high - low) mA and volts across 250 Ω **common practice**, table
**computed**; bands of NAMUR NE 43 (3.8 to 20.5 mA for readings, 3.6 mA or less for a fault)
**seen** in articles on it.
"""

from __future__ import annotations

import pytest

from analysis.model.setup import Setup
from analysis.protection.two_readings import two_readings

SETUP = Setup.model_validate(
    {
        "probe": [
            {
                "name": "X",
                "angle_deg": 45.0,
                "scale_factor_mv_per_um": 7.874,
                "linear_range_um": [250.0, 2280.0],
            }
        ],
        "output": [
            {"probe": "X", "measure": "position", "range_um": [250.0, 2250.0]},
            {"probe": "X", "measure": "peak_to_peak", "range_um": [0.0, 200.0]},
        ],
    }
)

# per cent of span, mA, V across 250 Ω, end that holds it
TABLE = [
    (-12.5, 3.8, 0.95, "low"),
    (-2.5, 3.8, 0.95, "low"),
    (-1.25, 3.8, 0.95, None),
    (0.0, 4.0, 1.00, None),
    (50.0, 12.0, 3.00, None),
    (100.0, 20.0, 5.00, None),
    (103.125, 20.5, 5.125, None),
    (106.25, 20.5, 5.125, "high"),
    (112.5, 20.5, 5.125, "high"),
]


@pytest.mark.parametrize(("percent", "current", "volts", "held"), TABLE)
def test_both_channels_follow_the_table(
    percent: float, current: float, volts: float, held: str | None
) -> None:
    """At 21 and 22 mA's place, and at 3.6 mA's, a reading is held: those are for faults."""
    gap, swing = 250.0 + 20.0 * percent, 2.0 * percent
    for loop in two_readings(SETUP.probe[0], SETUP, gap, swing, fault=False):
        assert loop.percent == pytest.approx(percent)
        assert loop.current_ma == pytest.approx(current)
        assert loop.volts == pytest.approx(volts)
        assert loop.saturated == held
        assert not loop.fault


def test_a_fault_is_on_both_loops() -> None:
    """3.6 mA, 0.90 V: below anything that a reading can make."""
    for loop in two_readings(SETUP.probe[0], SETUP, 1250.0, 50.0, fault=True):
        assert (loop.current_ma, loop.fault, loop.value_um) == (3.6, True, None)
        assert loop.volts == pytest.approx(0.90)
        assert loop.saturated is None


def test_another_resistor() -> None:
    """12 mA across 100 Ω."""
    position, _ = two_readings(SETUP.probe[0], SETUP, 1250.0, 50.0, fault=False, resistance_ohm=100)
    assert position.volts == pytest.approx(1.2)
