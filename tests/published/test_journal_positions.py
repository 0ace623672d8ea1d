"""Where a journal sits, read back from what its probes would show.

Sources: attitude angle of a short bearing, tan φ = π sqrt(1 - ε²)/(4ε) from the load in the
direction of rotation: Ocvirk; Friswell, Penny, Garvey, Lees, *Dynamics of Rotating Machines*, 2010,
5.5 (formula **from memory**, table **computed**); eccentricity ratio of its Example 5.5.1, 0.2663,
**seen** in tests of an open-source rotor code, its angle computed. Resolving two probes at 45° to
the sides, shaft nearer the probe is less negative volts: **common practice**, check **computed**.
"""

from __future__ import annotations

import math

import numpy as np
import pytest

from analysis.model.capture import ArraySource, Capture, Channel
from analysis.model.setup import Setup
from analysis.rotor.revolutions import revolution_table
from analysis.views.position import PositionRequest, answer_position, capture_position

MIL = 25.4
SHORT_BEARING = [
    (0.1, 82.71),
    (0.2, 75.43),
    (0.2663, 70.62),
    (0.3, 68.18),
    (0.4, 60.94),
    (0.5, 53.68),
    (0.6, 46.32),
    (0.7, 38.70),
    (0.8, 30.50),
    (0.9, 20.83),
]
CLEARANCE_UM = 240.0
SCALE_V_PER_UM = 0.2 / MIL  # 200 mV/mil
RATE = 5000.0


def setup_of(rotation: str, angles: tuple[float, float], clearance: float | None) -> Setup:
    plane = {"name": "P", "probes": ["X", "Y"], "rest": "bottom"}
    return Setup.model_validate(
        {
            "machine": {"rotation": rotation},
            "probe": [
                {
                    "name": name,
                    "angle_deg": angle,
                    "scale_factor_mv_per_mil": 200.0,
                    "rest_gap_um": 50.0 * MIL,
                    "linear_range_um": [254.0, 2286.0],
                }
                for name, angle in zip("XY", angles, strict=True)
            ],
            "plane": [plane if clearance is None else {**plane, "clearance_um": clearance}],
        }
    )


def capture_of(volts_x: np.ndarray, volts_y: np.ndarray) -> Capture:
    """Half a second of each pair of voltages, one after the other."""
    count = round(0.5 * RATE)
    channels = {
        name: Channel(name, RATE, ArraySource(np.repeat(volts, count)))
        for name, volts in (("X", volts_x), ("Y", volts_y))
    }
    return Capture("journal", channels)


@pytest.mark.parametrize("angles", [(45.0, -45.0), (60.0, -30.0), (20.0, -55.0)])
@pytest.mark.parametrize("rotation", ["ccw", "cw"])
def test_short_bearing_positions_read_back(rotation: str, angles: tuple[float, float]) -> None:
    """Volts of a journal put on the table's places give the table's ratio and angle again."""
    side = 1.0 if rotation == "ccw" else -1.0
    ratios, attitudes = (np.array(column) for column in zip(*SHORT_BEARING, strict=True))
    # From rest at the bottom; counter-clockwise with the load down it sits lower right.
    x = side * ratios * CLEARANCE_UM / 2.0 * np.sin(np.radians(attitudes))
    y = (1.0 - ratios * np.cos(np.radians(attitudes))) * CLEARANCE_UM / 2.0
    volts = [
        -10.0 + SCALE_V_PER_UM * (x * math.sin(math.radians(a)) + y * math.cos(math.radians(a)))
        for a in angles
    ]
    capture = capture_of(*volts)
    setup = setup_of(rotation, angles, CLEARANCE_UM)
    whole = capture_position(capture, setup, revolution_table(capture, setup, capture.span))
    path = whole.planes["P"].path
    assert path is not None
    assert path.eccentricity_ratio[::5] == pytest.approx(ratios, abs=1e-9)
    assert path.attitude_deg[::5] == pytest.approx(attitudes, abs=1e-7)
    # The angle is the closed form's, too, and not only what was put in.
    exact = np.degrees(np.arctan(np.pi * np.sqrt(1.0 - ratios**2) / (4.0 * ratios)))
    assert path.attitude_deg[::5] == pytest.approx(exact, abs=0.006)
    for number, (ratio, attitude) in enumerate(SHORT_BEARING):
        request = PositionRequest(0.5 * number + 0.25, half_turns=1.0)
        at = answer_position(capture, setup, request, whole).planes["P"].moment
        assert at is not None
        assert at.eccentricity_ratio == pytest.approx(ratio, abs=1e-9)
        assert at.attitude_deg == pytest.approx(attitude, abs=1e-7)


def test_worked_resolution_of_two_probes() -> None:
    """X -10.0 to -9.2 V, Y -10.0 to -9.5 V at 200 mV/mil: 1.06066 mil right, 4.59619 mil up."""
    capture = capture_of(np.array([-10.0, -9.2]), np.array([-10.0, -9.5]))
    setup = setup_of("ccw", (45.0, -45.0), None)
    whole = capture_position(capture, setup, revolution_table(capture, setup, capture.span))
    path = whole.planes["P"].path
    assert path is not None
    assert (path.x_um[0], path.y_um[0]) == pytest.approx((0.0, 0.0), abs=1e-9)
    assert path.x_um[-1] / MIL == pytest.approx(1.06066, abs=5e-6)
    assert path.y_um[-1] / MIL == pytest.approx(4.59619, abs=5e-6)
    # What each probe itself saw: 4.0 and 2.5 mil towards it.
    for name, wanted in (("X", 4.0), ("Y", 2.5)):
        use = whole.probes[name].use
        assert use is not None
        assert (50.0 * MIL - use.min_um) / MIL == pytest.approx(wanted, abs=1e-9)
    # Without a clearance there is no centre to measure a ratio from.
    assert np.isnan(path.eccentricity_ratio).all()
    assert np.isnan(path.attitude_deg).all()
