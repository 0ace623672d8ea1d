"""Captures whose gaps, cuts and extremes are known in closed form, for what reads positions."""

from __future__ import annotations

from collections.abc import Callable, Mapping

import numpy as np

from analysis.model.capture import ArraySource, Capture, Channel
from analysis.model.setup import Setup
from tests.analysis.synthetic import SCALE, pulses, steady

Gap = Callable[[np.ndarray, np.ndarray], np.ndarray]
"""Gap in µm from time (s) and shaft angle (rad)."""

RATE = 8192.0
RPM = 4800.0  # 102.4 samples a turn
STEP_V = 0.001


def sine(mean_um: float, p2p_um: float, lag_deg: float = 0.0) -> Gap:
    return lambda t, theta: mean_um - p2p_um / 2.0 * np.cos(theta - np.radians(lag_deg))


def counts_of(
    gap_um: np.ndarray,
    *,
    volts_limits: tuple[float, float] = (-40.0, 40.0),
    noise_um: float = 0.0,
    step_v: float = STEP_V,
    seed: int = 3,
) -> Channel:
    """16 bit samples: driver's ends first, then noise, then the recorder's steps and ends."""
    volts = np.clip(-SCALE * gap_um, *volts_limits)
    volts = volts + SCALE * noise_um * np.random.default_rng(seed).standard_normal(len(volts))
    counts = np.clip(np.rint(volts / step_v), -32768, 32767).astype(np.int16)
    return Channel("?", RATE, ArraySource(counts), volts_per_count=step_v)


def capture_with(
    gaps: Mapping[str, Gap],
    seconds: float = 4.0,
    *,
    rpm: float = RPM,
    turns_at: Callable[[np.ndarray], np.ndarray] | None = None,
    noise_um: float = 0.1,
    limits: Mapping[str, tuple[float, float]] | None = None,
    steps_v: Mapping[str, float] | None = None,
) -> Capture:
    """A capture of probes with these gaps, and a phase reference REF."""
    times = np.arange(round(seconds * RATE)) / RATE
    turns = (turns_at or steady(rpm, 0.0))(times)
    theta = 2.0 * np.pi * turns
    channels = {"REF": Channel("REF", RATE, ArraySource(pulses(turns)))}
    for number, (name, gap) in enumerate(gaps.items()):
        made = counts_of(
            gap(times, theta),
            volts_limits=(limits or {}).get(name, (-40.0, 40.0)),
            noise_um=noise_um,
            step_v=(steps_v or {}).get(name, STEP_V),
            seed=number,
        )
        channels[name] = Channel(name, RATE, made.source, volts_per_count=made.volts_per_count)
    return Capture("positions", channels)


def setup_with(
    *probes: Mapping[str, object], plane: Mapping[str, object] | None = None, **more: object
) -> Setup:
    """A setup of these probes; what they do not say is usual."""
    usual = {
        "angle_deg": 45.0,
        "scale_factor_mv_per_um": SCALE * 1000.0,
        "linear_range_um": [250.0, 2280.0],
        "fault_v": [-22.0, -0.5],
    }
    table: dict[str, object] = {
        "phase_reference": {"channel": "REF"},
        "probe": [{**usual, **probe} for probe in probes],
        "plane": [plane] if plane else [],
        **more,
    }
    return Setup.model_validate(table)
