"""A vibration and a position channel shown to act, from one captured gap signal.

**Common practice**, without a source that could be named: the way in which such a channel is shown
to work on a calibrator, one gap signal giving both vibration and position. 200 mV/mil, position
10 to 90 mil full scale, vibration 0 to 4 mil p-p, gap 50 mil, 50 Hz; position limits 8 and 20 mil
to either side of it, vibration limits 1.68 and 3.0 mil p-p; every delay 3 s; trips latch, alarms do
not. Contacts and loops follow: 12 mA at mid-scale, 8 mA at a quarter, 14 mA at 62.5 %.
"""

from __future__ import annotations

import numpy as np
import pytest

from analysis.model.capture import ArraySource, Capture, Channel
from analysis.model.replay_results import ReplayResult
from analysis.model.setup import Setup
from analysis.model.span import TimeSpan
from analysis.protection.monitor import monitor_series
from analysis.protection.replay import replay
from analysis.rotor.revolutions import revolution_table
from analysis.views.readings import read_span

MIL = 25.4
RATE, HZ, STEP_S = 5000.0, 50.0, 8.0
DELAY_S, WITHIN_S = 3.0, 0.35

# What is shown, step by step; the reset comes in the middle of the step before it.
VIBRATION = (1.0, 2.5, 3.5, 2.5, 1.0)
POSITION = (50.0, 60.0, 75.0, 60.0, 50.0)
RESET_S = 3.5 * STEP_S


def limit(measure: str, level: str, **bounds: float) -> dict[str, object]:
    return {
        "probes": ["P"],
        "measure": measure,
        "level": level,
        "delay_s": DELAY_S,
        "latching": level == "trip",
        **{side: mil * MIL for side, mil in bounds.items()},
    }


SETUP = Setup.model_validate(
    {
        "probe": [
            {
                "name": "P",
                "scale_factor_mv_per_mil": 200.0,
                "linear_range_um": [10.0 * MIL, 90.0 * MIL],
                "fault_v": [-22.0, -0.5],
            }
        ],
        "limit": [
            limit("position", "alarm", below=42.0, above=58.0),
            limit("position", "trip", below=30.0, above=70.0),
            limit("peak_to_peak", "alarm", above=1.68),
            limit("peak_to_peak", "trip", above=3.0),
        ],
        "output": [
            {"probe": "P", "measure": "position", "range_um": [10.0 * MIL, 90.0 * MIL]},
            {"probe": "P", "measure": "peak_to_peak", "range_um": [0.0, 4.0 * MIL]},
        ],
    }
)


def gap_signal(vibration_mil: tuple[float, ...], gap_mil: tuple[float, ...]) -> Capture:
    """One channel of volts: steps of gap and of vibration, eight seconds each."""
    steps = max(len(vibration_mil), len(gap_mil))
    times = np.arange(round(steps * STEP_S * RATE)) / RATE
    step = (times / STEP_S).astype(int)
    gap = np.resize(np.array(gap_mil), steps)[step]
    vibration = np.resize(np.array(vibration_mil), steps)[step]
    mil = gap + vibration / 2.0 * np.cos(2.0 * np.pi * HZ * times)
    return Capture("calibrator", {"P": Channel("P", RATE, ArraySource(-0.2 * mil))})


def shown(capture: Capture) -> ReplayResult:
    table = revolution_table(capture, SETUP, capture.span)
    return replay(monitor_series(capture, SETUP, table), SETUP, resets_s=[RESET_S])


EXPECTED = (
    ("set", "alarm", STEP_S + DELAY_S),
    ("set", "trip", 2 * STEP_S + DELAY_S),
    ("held", "trip", 3 * STEP_S),
    ("reset", "trip", RESET_S),
    ("cleared", "alarm", 4 * STEP_S + DELAY_S),
)


@pytest.mark.parametrize(
    ("measure", "vibration", "gap"),
    [("peak_to_peak", VIBRATION, (50.0,)), ("position", (1.0,), POSITION)],
)
def test_alarm_trip_latch_reset_and_clearing(
    measure: str, vibration: tuple[float, ...], gap: tuple[float, ...]
) -> None:
    result = shown(gap_signal(vibration, gap))
    assert [(e.measure, e.event, e.level) for e in result.events] == [
        (measure, event, level) for event, level, _ in EXPECTED
    ]
    assert [e.time_s for e in result.events] == pytest.approx(
        [time_s for *_, time_s in EXPECTED], abs=WITHIN_S
    )
    # Contacts change with each set and clear, and only then: not when the latch alone holds.
    for relay, edges in (
        ("ALARM", [EXPECTED[0][2], EXPECTED[4][2]]),
        ("TRIP", [EXPECTED[1][2], EXPECTED[3][2]]),
    ):
        runs = result.relays[relay]
        assert [run.closed for run in runs] == [False, True, False]
        assert [run.start_s for run in runs[1:]] == pytest.approx(edges, abs=WITHIN_S)


def test_the_other_side_of_mid_scale() -> None:
    """Toward the probe the same: 40 mil is beyond 42, 25 mil beyond 30."""
    result = shown(gap_signal((1.0,), (50.0, 40.0, 25.0, 40.0, 50.0)))
    assert [(e.event, e.level) for e in result.events] == [(e, level) for e, level, _ in EXPECTED]


@pytest.mark.parametrize(
    ("vibration", "gap", "output", "current_ma"),
    [
        (1.0, 50.0, "position", 12.0),
        (1.0, 50.0, "peak_to_peak", 8.0),
        (2.5, 50.0, "peak_to_peak", 14.0),
    ],
)
def test_current_loops(vibration: float, gap: float, output: str, current_ma: float) -> None:
    capture = gap_signal((vibration,), (gap,))
    readings = read_span(capture, SETUP, TimeSpan(1.0, 3.0))
    assert readings.probes["P"].outputs_ma[output] == pytest.approx(current_ma, abs=1e-3)
