"""Positions: 60,000 revolutions of six probes, all of them at the end of their linear range."""

from __future__ import annotations

import numpy as np

from analysis.model.capture import ArraySource, Capture, Channel
from analysis.model.setup import Setup
from analysis.model.span import TimeSpan
from analysis.rotor.revolutions import revolution_table
from analysis.views.position import PositionRequest, answer_position, capture_position

from .rows import Row, best_of

TURNS, SAMPLES_A_TURN, RPM = 60_000, 64, 4800.0
RADIAL = ("A", "B", "C", "D")
AXIAL = ("E", "F")
WHOLE_S, MOMENT_S = 0.050, 0.010


def capture() -> Capture:
    """Gaps that wander over the far end and back, in 16 bit."""
    random = np.random.default_rng(9)
    rate = SAMPLES_A_TURN * RPM / 60.0
    count = TURNS * SAMPLES_A_TURN + 200
    times = np.arange(count) / rate
    theta = 2.0 * np.pi * RPM / 60.0 * times
    mark = np.where(np.mod(theta / (2.0 * np.pi), 1.0) < 0.1, -12.0, -4.0)
    signals = {"REF": mark}
    for name in (*RADIAL, *AXIAL):
        swing = 30.0 + 8.0 * np.sin(times / random.uniform(5.0, 50.0))
        gap = 2247.0 + 10.0 * np.sin(times / random.uniform(20.0, 90.0))
        gap += swing * np.cos(theta) + 5.0 * np.cos(2.0 * theta + 1.0)
        signals[name] = -0.007874 * (gap + 0.2 * random.standard_normal(count))
    channels = {
        name: Channel(
            name, rate, ArraySource(np.rint(volts / 0.001).astype(np.int16)), volts_per_count=0.001
        )
        for name, volts in signals.items()
    }
    return Capture("positions", channels)


def setup() -> Setup:
    """Two planes and an axial pair."""
    usual = {
        "scale_factor_mv_per_um": 7.874,
        "linear_range_um": [250.0, 2280.0],
        "rest_gap_um": 2300.0,
        "fault_v": [-22.0, -0.5],
    }
    probes = [
        {"name": name, "angle_deg": angle, **usual}
        for name, angle in zip(RADIAL, (45.0, -45.0, 45.0, -45.0), strict=True)
    ]
    probes += [{"name": name, "kind": "axial", **usual} for name in AXIAL]
    planes = [
        {"name": f"plane {a}{b}", "probes": [a, b], "clearance_um": 240.0}
        for a, b in (RADIAL[:2], RADIAL[2:])
    ]
    return Setup.model_validate(
        {"phase_reference": {"channel": "REF"}, "probe": probes, "plane": planes}
    )


def position_row() -> Row:
    """The whole-capture answer from a table that is there, and the one around a moment."""
    made, known = capture(), setup()
    table = revolution_table(made, known, TimeSpan(0.0, made.span.end_s))
    whole = capture_position(made, known, table)
    whole_s = best_of(9, lambda: capture_position(made, known, table))
    request = PositionRequest(made.span.end_s / 3.0)
    moment_s = best_of(9, lambda: answer_position(made, known, request, whole))
    return Row(
        f"positions, {len(table)} revolutions, 6 probes, all partly outside",
        f"{1000.0 * whole_s:.0f} ms, a moment {1000.0 * moment_s:.1f} ms",
        "–",
        f"{1000.0 * WHOLE_S:.0f} ms, {1000.0 * MOMENT_S:.0f} ms",
        whole_s < WHOLE_S and moment_s < MOMENT_S,
    )
