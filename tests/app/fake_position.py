"""Believable positions without a file: one probe near the far end of its range; all invented."""

from __future__ import annotations

import numpy as np

from analysis.model.position_results import (
    CentrelinePath,
    Clip,
    Finding,
    Forecast,
    LoopLimit,
    LoopReading,
    OutsideStretch,
    PlanePosition,
    PositionMark,
    ProbePosition,
    RangeUse,
    RestPosition,
    Station,
    ThrustPair,
    WorkingPoint,
)
from analysis.model.results import Centreline, ProbeRevolutions, RevolutionTable
from analysis.model.setup import Setup
from analysis.model.span import TimeSpan

RANGE = (250.0, 2280.0)
WHOLE = TimeSpan(0.0, 30.0)
TURNS = 600
FAR = "NDE-X"


def axial_setup() -> Setup:
    """Two planes and a pair of axial probes."""
    radial = [
        {
            "name": name,
            "angle_deg": 45.0 if name.endswith("X") else -45.0,
            "scale_factor_mv_per_um": 7.874,
            "linear_range_um": list(RANGE),
            "rest_gap_um": 1300.0,
        }
        for name in ("DE-X", "DE-Y", "NDE-X", "NDE-Y")
    ]
    axial = [
        {
            "name": name,
            "kind": "axial",
            "scale_factor_mv_per_um": 7.874,
            "linear_range_um": list(RANGE),
            "rest_gap_um": 1260.0,
        }
        for name in ("THR-A", "THR-B")
    ]
    return Setup.model_validate(
        {
            "machine": {"rotation": "ccw"},
            "probe": [*radial, *axial],
            "plane": [
                {"name": "Drive end", "probes": ["DE-X", "DE-Y"], "clearance_um": 240.0},
                {"name": "Non-drive end", "probes": ["NDE-X", "NDE-Y"], "clearance_um": 240.0},
            ],
        }
    )


def use(mean: float, half: float, size: float = 1.0, *, turns: int = 8) -> RangeUse:
    """Gap about a mean, against the range; all lengths times `size`."""
    low, high = RANGE[0] * size, RANGE[1] * size
    least, largest = (mean - half) * size, (mean + half) * size
    outside = turns // 4 if largest > high else 0
    return RangeUse(
        span=WHOLE,
        turns=turns,
        void_turns=0,
        mean_um=mean * size,
        min_um=least,
        max_um=largest,
        min_at_s=3.0,
        max_at_s=17.0,
        peak_to_peak_um=2 * half * size,
        peak_to_peak_max_um=2 * half * size,
        near_margin_um=least - low,
        far_margin_um=high - largest,
        near_share=(least - low) / (high - low),
        far_share=(high - largest) / (high - low),
        outside_turns=outside,
        outside_s=0.05 * outside,
        stretches=tuple(stretches(size)) if outside else (),
    )


def stretches(size: float = 1.0) -> list[OutsideStretch]:
    """Twice outside, beyond the far end."""
    return [
        OutsideStretch(TimeSpan(6.0, 8.0), "far", 40, 3.0 * size, 7.0, mean_outside=False),
        OutsideStretch(TimeSpan(16.0, 19.0), "far", 60, 8.0 * size, 17.5, mean_outside=False),
    ]


def table(size: float = 1.0, *, void: bool = False) -> RevolutionTable:
    """A turn every 0.05 s; the far probe swings up to 8 µm beyond its end, twice."""
    edges = np.linspace(WHOLE.start_s, WHOLE.end_s, TURNS + 1)
    middle = (edges[1:] + edges[:-1]) / 2.0
    swing = 30.0 + 13.0 * np.exp(-(((middle - 17.5) / 1.5) ** 2))
    swing += 8.0 * np.exp(-(((middle - 7.0) / 1.0) ** 2))
    columns = {}
    for place, probe in enumerate(axial_setup().probe):
        mean = (2245.0 if probe.name == FAR else 1250.0) + 2.0 * np.sin(middle / 5.0 + place)
        blank = np.full(TURNS, np.nan)
        columns[probe.name] = ProbeRevolutions(
            gap_v=-mean * 7.874e-3,
            gap_um=blank if void else mean * size,
            min_um=blank if void else (mean - swing) * size,
            max_um=blank if void else (mean + swing) * size,
            vectors={},
            samples=np.full(TURNS, 100),
            fault=np.full(TURNS, void),
        )
    return RevolutionTable(
        kind="events",
        start_s=edges[:-1],
        end_s=edges[1:],
        speed_rpm=np.full(TURNS, 1200.0),
        repaired=np.zeros(TURNS, dtype=np.bool_),
        probes=columns,
    )


def position(
    name: str = FAR, size: float = 1.0, *, void: bool = False, bent: bool = False
) -> ProbePosition:
    """A probe, far out when it is `FAR`; `bent`: with a curve that flattens there."""
    axial = name.startswith("THR")
    mean = 2245.0 if name == FAR else 1250.0
    marks = (
        PositionMark("alarm", "above", 1560.0 * size),
        PositionMark("trip", "above", 1660.0 * size),
    )
    low, high = RANGE[0] * size, RANGE[1] * size
    gap = np.array([low, 2000.0 * size, high, 2400.0 * size])
    volts = np.array([-2.0, -15.78, -17.7 if bent else -17.98, -17.9 if bent else -18.92])
    swept = 6.4 if bent else 7.874
    point = WorkingPoint(
        gap_um=mean * size,
        gap_v=float(np.interp(mean * size, gap, volts)),
        local_mv_per_um=6.6 if bent else 7.874,
        swept_mv_per_um=swept,
        average_mv_per_um=7.874,
        peak_to_peak_um=60.0 * size,
        straight_um=60.0 * size * swept / 7.874,
        effect_percent=100.0 * (swept / 7.874 - 1.0),
        from_table=bent,
        curve_um=gap,
        curve_v=volts,
    )
    return ProbePosition(
        name=name,
        kind="axial" if axial else "radial",
        linear_range_um=(low, high),
        stops_um=(63.5 * size, 2794.0 * size),
        marks=marks if axial else (),
        moment=None if void else use(mean, 30.0, size),
        chosen=None,
        capture=None if void else use(mean, 43.0, size, turns=TURNS),
        forecast=Forecast(5.0, 1900.0, "far", 70.0, (("alarm", 95.0),), 1265.0),
        working_point=None if void else point,
        moment_clips=(),
        clips=(),
        moment_hidden=None,
        hidden=None,
        loops=loops(mean, size, void=void),
    )


def loops(mean: float, size: float = 1.0, *, void: bool = False) -> tuple[LoopReading, LoopReading]:
    """Both channels of a probe; a fault when `void`."""
    low, high = RANGE[0] * size, RANGE[1] * size
    current = 4.0 + 16.0 * (mean * size - low) / (high - low)
    place = LoopReading(
        measure="position",
        value_um=None if void else mean * size,
        range_um=(low, high),
        range_from="linear range; the setup names no current output",
        limits=(LoopLimit("alarm", "above", 1560.0 * size, on_scale=True),),
        percent=None if void else 100.0 * (mean * size - low) / (high - low),
        current_ma=3.6 if void else current,
        volts=0.9 if void else 0.25 * current,
        resistance_ohm=250.0,
        saturated=None,
        fault=void,
    )
    vibration = LoopReading(
        measure="peak_to_peak",
        value_um=None if void else 60.0 * size,
        range_um=(0.0, 200.0 * size),
        range_from="setup",
        limits=(
            LoopLimit("alarm", "above", 95.0 * size, on_scale=True),
            LoopLimit("trip", "above", 325.0 * size, on_scale=False),
        ),
        percent=None if void else 30.0,
        current_ma=3.6 if void else 8.8,
        volts=0.9 if void else 2.2,
        resistance_ohm=250.0,
        saturated=None,
        fault=void,
    )
    return place, vibration


def path(size: float = 1.0, *, void: bool = False, steady: bool = False) -> CentrelinePath:
    """A run-up: from the bottom, round a quarter of the circle."""
    angle = np.linspace(0.0, 1.2, TURNS)
    x, y = 70.0 * np.sin(angle) * size, -110.0 * np.cos(angle) * size
    if void:
        x, y = np.full(TURNS, np.nan), np.full(TURNS, np.nan)
    speed = np.full(TURNS, 4980.0) if steady else np.linspace(600.0, 5300.0, TURNS)
    return CentrelinePath(
        time_s=np.linspace(0.0, 30.0, TURNS),
        speed_rpm=speed,
        x_um=x,
        y_um=y,
        eccentricity_ratio=np.hypot(x, y) / (120.0 * size),
        attitude_deg=np.degrees(np.arctan2(x, -y)) % 360.0,
    )


def plane(
    name: str = "Drive end",
    size: float = 1.0,
    *,
    void: bool = False,
    assumed: bool = False,
    steady: bool = False,
) -> PlanePosition:
    """A plane in its clearance; `assumed`: nobody measured the shaft at rest."""
    probes = ("DE-X", "DE-Y") if name == "Drive end" else ("NDE-X", "NDE-Y")
    rest = RestPosition((1300.0, 1300.0), "setup")
    if assumed:
        rest = RestPosition((1300.0, 1300.0), "slowest turns", 620.0)
    now = Centreline(52.0 * size, -61.0 * size, 0.67, 40.0)
    return PlanePosition(
        name=name,
        probes=probes,
        clearance_um=240.0 * size,
        rest_towards="bottom",
        rest=rest,
        direction_assumed=assumed,
        path=path(size, void=void, steady=steady),
        moment=None if void else now,
        outside_turns=0,
        missing="",
    )


def thrust(size: float = 1.0, *, void: bool = False, agree: bool = True) -> ThrustPair:
    """Two axial probes on one collar."""
    time_s = np.linspace(0.0, 30.0, TURNS)
    first = 160.0 * size + 6.0 * size * np.sin(time_s / 4.0)
    second = first + (0.5 if agree else 80.0) * size
    if void:
        first, second = np.full(TURNS, np.nan), np.full(TURNS, np.nan)
    return ThrustPair(
        probes=("THR-A", "THR-B"),
        time_s=time_s,
        speed_rpm=np.full(TURNS, 1200.0),
        position_um=(first, second),
        moment_um=(None, None) if void else (161.0 * size, 161.5 * size),
        facing="same",
        facing_found=True,
        from_rest=True,
        travel_um=None if void else (154.0 * size, 166.0 * size),
        difference_um=None if void else (0.5 if agree else 80.0) * size,
        difference_at_s=None if void else 12.0,
        tolerance_um=50.0,
        agree=None if void else agree,
        origins_um=(1260.0, 1260.0),
        window_um=(-400.0, 400.0),
    )


def stations() -> tuple[Station, ...]:
    """Both planes, then the collar."""
    return (
        Station("Drive end", "radial", 0.0),
        Station("Non-drive end", "radial", 0.5),
        Station("THR-A / THR-B", "thrust", 1.0),
    )


def clip() -> Clip:
    """A waveform cut level a little beyond the far end."""
    return Clip("far", "flattened", -17.98, 2283.0, 0.002, 6, 0.05, 100, 6.0, 5.0)


def outside_finding(subject: str = FAR) -> Finding:
    """The worst that is known of the far probe."""
    sentence = f"{subject}: its peaks went past the far end"
    return Finding("severe", "outside", subject, sentence, {"first_s": 6.0})
