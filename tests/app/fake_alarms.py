"""Believable alarms without a file: the brine pump through its critical speed; all invented.

States and events are written by hand, so that the pictures are tried against plain truth.
"""

from __future__ import annotations

import numpy as np

from analysis.model.replay_results import (
    BoundaryCurve,
    LimitEvent,
    Margin,
    MonitoredProbe,
    MonitorSeries,
    ReplayResult,
    StateRun,
    TripBoundary,
)
from analysis.model.setup import Setup

NAMES = ("DE-X", "DE-Y", "THR-A", "THR-B")
LENGTH_S = 214.6
TRIP = 1
"""Place of the limit that the story is about."""


def alarm_setup(trip_um: float = 125.0, delay_s: float = 1.0, **trip: object) -> Setup:
    """Two radial and two axial probes with alarm and trip; `trip` changes the trip of DE-X."""
    radial = {"linear_range_um": [250.0, 2280.0], "fault_v": [-22.0, -0.5]}
    probes = [
        {"name": "DE-X", "angle_deg": 45.0, "scale_factor_mv_per_um": 7.874, **radial},
        {"name": "DE-Y", "angle_deg": -45.0, "scale_factor_mv_per_um": 7.874, **radial},
        {"name": "THR-A", "kind": "axial", "scale_factor_mv_per_um": 7.874},
        {"name": "THR-B", "kind": "axial", "scale_factor_mv_per_um": 7.874},
    ]
    pp = {"measure": "peak_to_peak"}
    axial = {"probes": ["THR-A", "THR-B"], "measure": "position", "delay_s": 1.0}
    limits = [
        {**pp, "probes": ["DE-X"], "level": "alarm", "above": 95.0, "delay_s": 1.0},
        {
            **pp,
            "probes": ["DE-X"],
            "level": "trip",
            "above": trip_um,
            "delay_s": delay_s,
            "latching": True,
            **trip,
        },
        {**pp, "probes": ["DE-Y"], "level": "alarm", "above": 95.0, "delay_s": 1.0},
        {**pp, "probes": ["DE-Y"], "level": "trip", "above": 140.0, "delay_s": 1.0},
        {**axial, "level": "alarm", "above": 1560.0, "below": 960.0},
        {**axial, "level": "trip", "above": 1660.0, "below": 860.0, "latching": True, "votes": 2},
    ]
    return Setup.model_validate(
        {
            "machine": {"title": "Brine pump P-204", "rotation": "ccw"},
            "phase_reference": {"channel": "REF"},
            "probe": probes,
            "limit": limits,
        }
    )


def alarm_series(size: float = 1.0, length_s: float = LENGTH_S, seed: int = 5) -> MonitorSeries:
    """Measures every 0.1 s; `size` scales the vibration, and the axial shift about 1300 µm."""
    time = 0.1 * np.arange(1, round(length_s / 0.1) + 1)
    ends = np.array([0, 82, 120, 205, 214.6]) * length_s / LENGTH_S
    speed = np.interp(time, ends, [600, 5400, 5400, 610, 600])
    ratio = speed / 3180.0
    gain = ratio**2 / np.hypot(1 - ratio**2, 0.11 * ratio)
    rng = np.random.default_rng(seed)
    probes = {}
    for place, name in enumerate(NAMES[:2]):
        pp = size * ((9.0 + (14.0 - 3.0 * place) * gain) + rng.normal(0.0, 1.4, len(time)))
        first = 0.85 * size * (14.0 - 3.0 * place) * gain * np.exp(-1j * ratio)
        gap = 1240.0 - 8.0 * ratio + rng.normal(0, 0.4, len(time))
        probes[name] = MonitoredProbe(pp, gap, first, np.zeros(len(time), dtype=bool))
    for place, name in enumerate(NAMES[2:]):
        gap = 1300.0 + size * (22.0 * ratio + 6.0 * place + rng.normal(0.0, 1.2, len(time)))
        pp = size * (4.0 + rng.normal(0.0, 0.3, len(time)))
        zero = np.zeros(len(time), dtype=complex)
        probes[name] = MonitoredProbe(pp, gap, zero, np.zeros(len(time), dtype=bool))
    return MonitorSeries(time, speed, probes, phase_known=True)


def void_series() -> MonitorSeries:
    """A capture in which every probe is at fault throughout."""
    series = alarm_series()
    lost = np.full(len(series), np.nan)
    fault = np.ones(len(series), dtype=bool)
    probe = MonitoredProbe(lost, lost, lost.astype(complex), fault)
    return MonitorSeries(series.time_s, lost, dict.fromkeys(NAMES, probe), phase_known=False)


def _runs(*pieces: tuple[float, str]) -> tuple[StateRun, ...]:
    """Runs one after the other; each piece is its end and its state."""
    runs, start = [], 0.1
    for end, state in pieces:
        runs.append(StateRun(start, end, state))
        start = end
    return tuple(runs)


def fake_replay(
    setup: Setup | None = None,
    resets_s: tuple[float, ...] = (140.0, 180.0),
    *,
    trips: bool = True,
    series: MonitorSeries | None = None,
) -> ReplayResult:
    """DE-X in alarm twice, its trip held until the reset at 140 s; THR void for a while."""
    setup = setup or alarm_setup()
    end = LENGTH_S
    normal = _runs((end, "normal"))
    alarm = _runs(
        (44.1, "normal"), (45.1, "waiting"), (56.0, "set"), (160.2, "normal"),
        (161.2, "waiting"), (173.4, "set"), (end, "normal"),
    )  # fmt: skip
    trip = _runs(
        (46.4, "normal"), (47.4, "waiting"), (52.9, "set"), (140.0, "held"), (end, "normal")
    )
    brief = _runs((46.4, "normal"), (48.3, "waiting"), (end, "normal"))
    void = _runs((100.0, "normal"), (118.0, "void"), (end, "normal"))
    states = (alarm, trip if trips else brief, normal, normal, void, void)
    why = "p-p of DE-X at or above 125 µm for 1 s"
    events = [
        LimitEvent(45.1, "set", ("DE-X",), 0, "peak_to_peak", "alarm", 98.0, "above 95 µm", 1),
        LimitEvent(56.0, "cleared", ("DE-X",), 0, "peak_to_peak", "alarm", 91.0, "below 95 µm"),
        LimitEvent(161.2, "set", ("DE-X",), 0, "peak_to_peak", "alarm", 97.0, "above 95 µm", 1),
        LimitEvent(173.4, "cleared", ("DE-X",), 0, "peak_to_peak", "alarm", 90.0, "below 95 µm"),
        LimitEvent(100.0, "fault", ("THR-A",), None, None, None, None, "gap voltage −0.2 V"),
    ]
    if trips:
        held = "below trip, held by latch"
        events += [
            LimitEvent(47.4, "set", ("DE-X",), 1, "peak_to_peak", "trip", 129.0, why, 1),
            LimitEvent(52.9, "held", ("DE-X",), 1, "peak_to_peak", "trip", 117.0, held),
            LimitEvent(140.0, "reset", ("DE-X",), 1, "peak_to_peak", "trip", 41.0, "reset"),
        ]
    events.sort(key=lambda each: each.time_s)
    return ReplayResult(setup, series or alarm_series(), tuple(events), states, {}, resets_s)


def sustained(values: np.ndarray, ticks: int) -> float:
    """The level that was reached without a break for `ticks` + 1 ticks, tried plainly."""
    windows = np.lib.stride_tricks.sliding_window_view(values, ticks + 1)
    return float(windows.min(axis=1).max())


def fake_boundary(
    size: float = 1.0, *, captures: int = 1, setup: Setup | None = None, index: int = TRIP
) -> TripBoundary:
    """The boundary of a limit; each further capture somewhat calmer."""
    limit = (setup or alarm_setup()).limit[index]
    name = limit.probes[0]
    delays = 0.1 * np.arange(151)

    def curves(series: MonitorSeries) -> tuple[BoundaryCurve, ...]:
        probe = series.probes[name]
        values = probe.gap_um if limit.measure == "position" else probe.peak_to_peak_um
        found = []
        if limit.above is not None:
            level = np.array([sustained(values, ticks) for ticks in range(151)])
            found.append(BoundaryCurve("above", delays, level))
        if limit.below is not None:
            level = np.array([-sustained(-values, ticks) for ticks in range(151)])
            found.append(BoundaryCurve("below", delays, level))
        return tuple(found)

    each = {
        f"run {number + 1}": curves(alarm_series(size * (1 - 0.12 * number), seed=number))
        for number in range(captures)
    }
    together = each["run 1"]
    margins = tuple(margin_of(curve, limit) for curve in together)
    return TripBoundary(index, each, together, margins)


def margin_of(curve: BoundaryCurve, limit) -> Margin:
    """How far a setting is from the curve, along both axes."""
    sign = 1.0 if curve.side == "above" else -1.0
    setting = limit.above if curve.side == "above" else limit.below
    level = sign * (setting - float(np.interp(limit.delay_s, curve.delay_s, curve.level_um)))
    held = curve.delay_s[sign * (curve.level_um - setting) >= 0.0]
    longest = float(held[-1]) if len(held) else 0.0
    return Margin(curve.side, level <= 0.0, level, limit.delay_s - longest)


def void_boundary() -> TripBoundary:
    """Nothing could be judged at any delay."""
    delays = 0.1 * np.arange(151)
    curve = BoundaryCurve("above", delays, np.full(151, np.nan))
    margin = Margin("above", False, None, None)
    return TripBoundary(TRIP, {"run 1": (curve,)}, (curve,), (margin,))
