"""Captures for the limits, with answers known beforehand: levels that stand still between steps.

Closed forms only: nothing of `analysis.simulate` in them. 50 Hz and 5000 samples a second, so that
every turn has a sample on both of its peaks and p-p comes out as it was put in.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence

import numpy as np

from analysis.model.capture import ArraySource, Capture, Channel
from analysis.model.replay_results import MonitoredProbe, MonitorSeries, ReplayResult
from analysis.model.setup import Setup
from analysis.protection.monitor import monitor_series
from analysis.protection.replay import replay
from analysis.rotor.revolutions import revolution_table
from tests.analysis.synthetic import SCALE, pulses, setup_of

RATE, HZ = 5000.0, 50.0
Steps = Sequence[tuple[float, float]]


def stepped(times: np.ndarray, steps: Steps) -> np.ndarray:
    """A value that changes at given times: `[(from_s, value), ...]`."""
    at = np.array([step[0] for step in steps])
    values = np.array([step[1] for step in steps])
    return values[np.clip(np.searchsorted(at, times, side="right") - 1, 0, None)]


def step_capture(
    seconds: float,
    levels: Mapping[str, Steps],
    gaps: Mapping[str, Steps] | None = None,
    *,
    faults: Mapping[str, Sequence[tuple[float, float]]] | None = None,
    speed_hz: Steps | None = None,
    reference: bool = True,
    start_s: float = 0.0,
) -> Capture:
    """Probes with stepped p-p (µm) and gap (µm); faults are stretches of NaN."""
    times = np.arange(round(seconds * RATE)) / RATE
    turns = np.cumsum(stepped(times, speed_hz or [(0.0, HZ)])) / RATE
    channels = {}
    for name, steps in levels.items():
        gap = stepped(times, (gaps or {}).get(name, [(0.0, 1250.0)]))
        gap = gap - stepped(times, steps) / 2.0 * np.cos(2.0 * np.pi * turns)
        volts = -SCALE * gap
        for begin, end in (faults or {}).get(name, ()):
            volts[(times >= begin) & (times < end)] = np.nan
        channels[name] = Channel(name, RATE, ArraySource(volts), start_s=start_s)
    if reference:
        channels["REF"] = Channel("REF", RATE, ArraySource(pulses(turns + 0.3)), start_s=start_s)
    return Capture("steps", channels)


def setup_with(*limits: Mapping[str, object], reference: bool = True, **more: object) -> Setup:
    """Probes X and Y with these limits."""
    return setup_of(reference=reference, limit=list(limits), **more)


def replayed(capture: Capture, setup: Setup, resets_s: Sequence[float] = ()) -> ReplayResult:
    """The whole way: revolutions, measures, limits."""
    table = revolution_table(capture, setup, capture.span)
    return replay(monitor_series(capture, setup, table), setup, resets_s=resets_s)


def told(result: ReplayResult) -> list[tuple[str, str, int | None]]:
    """What happened, in order: event, first probe, limit."""
    return [(event.event, event.probes[0], event.index) for event in result.events]


def times_of(result: ReplayResult) -> list[float]:
    return [event.time_s for event in result.events]


def made_series(
    ticks: int,
    peak_to_peak: Mapping[str, np.ndarray] | None = None,
    *,
    gap: Mapping[str, np.ndarray] | None = None,
    first_order: Mapping[str, np.ndarray] | None = None,
    fault: Mapping[str, np.ndarray] | None = None,
    speed_rpm: np.ndarray | None = None,
    origin_s: float = 0.0,
    phase_known: bool = True,
) -> MonitorSeries:
    """Measures put in by hand, ticks from `origin_s + 0.1` on."""
    names = {*(peak_to_peak or {}), *(gap or {}), *(first_order or {}), *(fault or {})}
    probes = {}
    for name in sorted(names):
        at_fault = (fault or {}).get(name, np.zeros(ticks, dtype=bool))
        pp = np.array((peak_to_peak or {}).get(name, np.full(ticks, 30.0)), dtype=float)
        mean = np.array((gap or {}).get(name, np.full(ticks, 1250.0)), dtype=float)
        vector = np.array((first_order or {}).get(name, np.full(ticks, 20.0 + 0j)), dtype=complex)
        for values in (pp, mean, vector):
            values[at_fault] = np.nan
        probes[name] = MonitoredProbe(pp, mean, vector, at_fault)
    return MonitorSeries(
        time_s=origin_s + np.arange(1, ticks + 1) / 10.0,
        speed_rpm=np.full(ticks, 3000.0) if speed_rpm is None else speed_rpm,
        probes=probes,
        phase_known=phase_known,
    )
