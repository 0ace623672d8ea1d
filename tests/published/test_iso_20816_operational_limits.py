"""ALARM and TRIP by the zones of ISO 20816-1 and -3 (ISO 7919-3, ISO 10816-3 before them).

ALARM = baseline + 25 % of the B/C boundary, normally not above 1.25 × B/C; TRIP inside zone C or D,
recommended not above 1.25 × C/D. **Seen** in an article on DIN ISO 10816-3 for casing vibration,
with the worked example below; **from memory** for shafts. Boundaries of shafts: 9000/√n and
13200/√n µm p-p, formula **from memory**, figures at 3600 r/min **computed**. The program fills in
nothing of it.
"""

from __future__ import annotations

import numpy as np
import pytest

from analysis.model.replay_results import MonitoredProbe, MonitorSeries
from analysis.model.setup import Setup
from analysis.protection.guidance import advice, alarm_setting, trip_bounds


def test_worked_example() -> None:
    """Baseline 0.8 mm/s, zone boundary 4.5 mm/s: 0.8 + 0.25 x 4.5 = 1.925 mm/s (seen)."""
    assert alarm_setting(0.8, 4.5) == pytest.approx(1.925, abs=1e-12)


def test_not_above_a_quarter_more_than_the_boundary() -> None:
    assert alarm_setting(4.5, 4.5) == pytest.approx(1.25 * 4.5)
    assert alarm_setting(9.0, 4.5) == pytest.approx(1.25 * 4.5)


def test_trip_of_a_shaft_at_3600() -> None:
    """B/C 150, C/D 220 µm p-p at 3600 r/min (computed, exact)."""
    assert trip_bounds(150.0, 220.0) == (150.0, 275.0)


@pytest.mark.parametrize(
    ("baseline", "wanted"), [(40.0, 77.5), (100.0, 137.5), (150.0, 187.5), (180.0, 187.5)]
)
def test_through_the_guidance(baseline: float, wanted: float) -> None:
    """The same from a monitored capture at 3600 r/min: baseline + 37.5, at most 187.5 µm p-p."""
    rows = 200
    steady = np.full(rows, baseline)
    probe = MonitoredProbe(
        steady, np.full(rows, 1250.0), steady.astype(complex), np.zeros(rows, dtype=bool)
    )
    series = MonitorSeries(
        np.arange(rows) / 10.0, np.full(rows, 3600.0), {"X": probe}, phase_known=True
    )
    setup = Setup.model_validate(
        {
            "machine": {"operating_rpm": [3500.0, 3700.0]},
            "probe": [{"name": "X", "angle_deg": 45.0, "scale_factor_mv_per_mil": 200.0}],
            "limit": [
                {"probes": ["X"], "measure": "peak_to_peak", "level": level, "above": above}
                for level, above in (("alarm", 90.0), ("trip", 160.0))
            ],
        }
    )
    alarm = next(each for each in advice(setup, series, 0) if each.topic == "level")
    assert alarm.suggested == pytest.approx((wanted,))
    assert alarm.finding == "suggestion"
    assert "from memory" in alarm.source.how_sure
    trip = next(each for each in advice(setup, series, 1) if each.topic == "level")
    assert trip.suggested == pytest.approx((150.0, 275.0))
    assert trip.finding == "in_order"
