"""Captures with exact truth, from closed forms only: nothing of `analysis.simulate` in them."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass

import numpy as np

from analysis.model.capture import ArraySource, Capture, Channel
from analysis.model.setup import Setup

SCALE = 0.007874  # V/µm, 200 mV/mil (common practice)


@dataclass(frozen=True)
class Signal:
    """Mean gap (µm) and orders: n -> (amplitude µm p-p, phase lag degrees)."""

    gap_um: float
    orders: Mapping[int, tuple[float, float]]

    def displacement(self, theta: np.ndarray) -> np.ndarray:
        """s ≈ Σ (A/2) cos(nθ - φ): the contract's definition of a phase lag."""
        total = np.zeros_like(theta)
        for order, (amplitude, lag) in self.orders.items():
            total += amplitude / 2.0 * np.cos(order * theta - np.radians(lag))
        return total

    @property
    def peak_to_peak(self) -> float:
        theta = np.linspace(0.0, 2.0 * np.pi, 200_001)
        return float(np.ptp(self.displacement(theta)))


X = Signal(1250.0, {1: (104.0, 120.0), 2: (22.0, 337.0)})
Y = Signal(1235.0, {1: (76.0, 40.0), 2: (16.0, 57.0)})


def steady(rpm: float, first_turn: float = 0.37) -> Callable[[np.ndarray], np.ndarray]:
    """Turns against time at a constant speed."""
    return lambda t: first_turn + rpm / 60.0 * t


def ramp(rpm0: float, rpm1: float, seconds: float) -> Callable[[np.ndarray], np.ndarray]:
    """Turns against time at constant acceleration."""
    start, rate = rpm0 / 60.0, (rpm1 - rpm0) / 60.0 / seconds
    return lambda t: start * t + rate * t * t / 2.0


def pulses(turns: np.ndarray, edge_turns: float = 0.01, width_turns: float = 0.06) -> np.ndarray:
    """A notch in volts: the falling edge passes its middle (-8 V) at whole turns."""
    u = np.mod(turns + 0.5, 1.0) - 0.5
    down = np.clip(u / edge_turns + 0.5, 0.0, 1.0)
    up = np.clip((width_turns - u) / edge_turns + 0.5, 0.0, 1.0)
    return -4.0 - 8.0 * down * up


def setup_of(
    angles: tuple[float, float] = (45.0, -45.0),
    rotation: str = "ccw",
    *,
    reference: bool = True,
    **more: object,
) -> Setup:
    """Two radial probes X and Y in one plane P."""
    probes = [
        {
            "name": name,
            "angle_deg": angle,
            "scale_factor_mv_per_um": SCALE * 1000.0,
            "linear_range_um": [250.0, 2280.0],
            "fault_v": [-22.0, -0.5],
        }
        for name, angle in zip("XY", angles, strict=True)
    ]
    table: dict[str, object] = {
        "machine": {"rotation": rotation},
        "probe": probes,
        "plane": [{"name": "P", "probes": ["X", "Y"]}],
        **more,
    }
    if reference:
        table.setdefault("phase_reference", {"channel": "REF"})
    return Setup.model_validate(table)


def volts_of(gap_um: np.ndarray) -> np.ndarray:
    return -SCALE * gap_um


def capture_of(
    turns_at: Callable[[np.ndarray], np.ndarray],
    seconds: float,
    rate: float,
    *,
    signals: Mapping[str, Signal] | None = None,
    reference_rate: float | None = None,
    edge_turns: float = 0.01,
    noise_um: float = 0.0,
    seed: int = 1,
) -> Capture:
    """A capture of probes X and Y and the reference REF."""
    signals = signals or {"X": X, "Y": Y}
    times = np.arange(round(seconds * rate)) / rate
    theta = 2.0 * np.pi * turns_at(times)
    random = np.random.default_rng(seed)
    channels = {}
    for name, signal in signals.items():
        gap = signal.gap_um - signal.displacement(theta)
        gap += noise_um * random.standard_normal(len(gap))
        channels[name] = Channel(name, rate, ArraySource(volts_of(gap)))
    reference_rate = reference_rate or rate
    at = np.arange(round(seconds * reference_rate)) / reference_rate
    channels["REF"] = Channel("REF", reference_rate, ArraySource(pulses(turns_at(at), edge_turns)))
    return Capture("synthetic", channels)
