"""Limits replayed: 20 minutes at 3000 r/min, six probes, ten limits, measures full of crossings."""

from __future__ import annotations

import numpy as np

from analysis.model.capture import ArraySource, Capture, Channel
from analysis.model.results import ProbeRevolutions, RevolutionTable
from analysis.model.setup import Setup
from analysis.protection.monitor import monitor_series
from analysis.protection.replay import compare, replay
from analysis.protection.trip_boundary import trip_boundary

from .rows import best_of

ROWS, TURN_S = 60_000, 0.02
NAMES = ("A", "B", "C", "D", "E", "F")


def table() -> RevolutionTable:
    """Measures that wander through their limits and back, with faults."""
    random = np.random.default_rng(8)
    start = np.arange(ROWS) * TURN_S
    probes = {}
    for name in NAMES:
        level = 70.0 + 40.0 * np.sin(start / random.uniform(3.0, 30.0))
        level += random.normal(0.0, 6.0, ROWS)
        fault = random.random(ROWS) < 1e-4
        level[fault] = np.nan
        gap = 1250.0 + 2.0 * level
        first = level * np.exp(1j * random.normal(1.0, 0.2, ROWS))
        samples = np.full(ROWS, 200)
        probes[name] = ProbeRevolutions(
            gap, gap, gap, gap + level, {1: first, 2: first}, samples, fault
        )
    speed = np.full(ROWS, 60.0 / TURN_S)
    repaired = np.zeros(ROWS, dtype=bool)
    return RevolutionTable("events", start, start + TURN_S, speed, repaired, probes)


def setup() -> Setup:
    """Ten limits of every kind."""
    multiplier = {"factor": 1.5, "rpm": [2000.0, 2900.0]}
    region = {"amplitude_um": [40.0, 100.0], "lag_deg": [280.0, 330.0]}
    limits: list[dict[str, object]] = []
    for name in NAMES[:4]:
        pp = {"probes": [name], "measure": "peak_to_peak"}
        limits.append({**pp, "level": "alarm", "above": 80.0, "delay_s": 1.0})
        limits.append({**pp, "level": "trip", "above": 100.0, "delay_s": 1.0, "latching": True})
    limits[0]["multiplier"] = multiplier
    thrust = {"probes": ["E", "F"], "measure": "position", "above": 1440.0, "below": 1340.0}
    limits.append({**thrust, "level": "trip", "votes": 2, "latching": True})
    limits.append({"probes": ["A"], "measure": "1x_vector", "level": "alarm", "region": region})
    probes = [{"name": name, "scale_factor_mv_per_um": 7.874} for name in NAMES]
    return Setup.model_validate({"probe": probes, "limit": limits})


def limit_figures() -> dict[str, float]:
    """Seconds for the measures, a replay, a whole answer with a boundary; and the events."""
    made, judged = table(), setup()
    channels = {name: Channel(name, 100.0, ArraySource(np.zeros(120_000))) for name in NAMES}
    capture = Capture("made", channels)
    series = monitor_series(capture, judged, made)
    resets = [300.0, 600.0, 900.0]

    def answer() -> None:
        other = judged.limit[1].model_copy(update={"delay_s": 2.0})
        limits = (judged.limit[0], other, *judged.limit[2:])
        trial = judged.model_copy(update={"limit": limits})
        compare(replay(series, judged, resets_s=resets), replay(series, trial, resets_s=resets))
        trip_boundary({"made": series}, other, 1)

    return {
        "series_s": best_of(5, lambda: monitor_series(capture, judged, made)),
        "replay_s": best_of(5, lambda: replay(series, judged, resets_s=resets)),
        "answer_s": best_of(5, answer),
        "events": len(replay(series, judged, resets_s=resets).events),
    }
