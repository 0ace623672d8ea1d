"""Runs through critical speeds from closed forms and integrated equations, for tests.

Nothing of `analysis.simulate` in them. Vectors are `A exp(-jφ)`, µm p-p, for an unbalance in the
direction of the phase reference.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Mapping

import numpy as np

from analysis.model.capture import ArraySource, Capture, Channel
from analysis.model.response_results import ResponsePoints
from analysis.rotor.vectors import vector_from
from tests.analysis.synthetic import pulses, volts_of

SLOW = vector_from(4.0, 297.0)
OPERATING = (4700.0, 5300.0)


def jeffcott(rpm: np.ndarray, natural_rpm: float, damping: float) -> np.ndarray:
    """Amplitude over eccentricity and lag of the textbook rotor (Friswell 2010, chapter 6)."""
    r = rpm / natural_rpm
    return r**2 / (1.0 - r**2 + 2j * damping * r)


def jeffcott_truth(natural_rpm: float, damping: float) -> tuple[float, float, float]:
    """Speed and height of the peak, and the half-power factor of the curve at 0.707."""
    rpm = np.linspace(0.3, 3.0, 2_700_001) * natural_rpm
    size = np.abs(jeffcott(rpm, natural_rpm, damping))
    top = int(np.argmax(size))
    above = np.flatnonzero(size >= 0.707 * size[top])
    return float(rpm[top]), float(size[top]), float(rpm[top] / (rpm[above[-1]] - rpm[above[0]]))


def turn_times(rpm0: float, rpm1: float, rate: float) -> tuple[np.ndarray, np.ndarray]:
    """Middle and speed of every whole turn of a sweep at a constant rate (its size)."""
    seconds = abs(rpm1 - rpm0) / rate
    slope = math.copysign(rate, rpm1 - rpm0)
    start = rpm0 / 60.0
    count = int(start * seconds + slope / 120.0 * seconds**2)
    turn = np.arange(count) + 0.5
    a, b = slope / 120.0, start
    times = 2.0 * turn / (b + np.sqrt(b * b + 4.0 * a * turn))
    return times, rpm0 + slope * times


def points(
    times: np.ndarray,
    rpm: np.ndarray,
    vectors: np.ndarray,
    *,
    noise_um: float = 0.0,
    seed: int = 1,
    consecutive: bool = True,
) -> ResponsePoints:
    """Points of a run with white noise of this standard deviation (complex, µm p-p)."""
    random = np.random.default_rng(seed)
    noise = random.standard_normal(len(rpm)) + 1j * random.standard_normal(len(rpm))
    return ResponsePoints(1, times, rpm, vectors + noise_um / math.sqrt(2.0) * noise, consecutive)


def run_capture(
    vectors_at: Mapping[str, Callable[[np.ndarray], np.ndarray]],
    rpm0: float,
    rpm1: float,
    rate: float,
    *,
    sample_rate: float = 4096.0,
    dwell_s: float = 4.0,
    noise_um: float = 0.3,
    seed: int = 3,
) -> Capture:
    """A run with a dwell at its start: 1X by a function of speed a probe, notch on REF."""
    seconds = dwell_s + abs(rpm1 - rpm0) / rate
    times = np.arange(round(seconds * sample_rate)) / sample_rate
    ramp = np.clip(times - dwell_s, 0.0, None)
    slope = math.copysign(rate, rpm1 - rpm0)
    rpm = rpm0 + slope * ramp
    turns = rpm0 / 60.0 * times + slope / 120.0 * ramp**2 + 0.37
    random = np.random.default_rng(seed)
    channels = {"REF": Channel("REF", sample_rate, ArraySource(pulses(turns)))}
    for name, vector_at in vectors_at.items():
        motion = np.real(vector_at(rpm) / 2.0 * np.exp(2j * np.pi * turns))
        gap = 1250.0 - motion + noise_um * random.standard_normal(len(times))
        channels[name] = Channel(name, sample_rate, ArraySource(volts_of(gap)))
    return Capture("run", channels)


def swept_points(
    natural_rpm: float,
    damping: float,
    rpm0: float,
    rpm1: float,
    rate: float,
    *,
    scale_um: float = 8.0,
) -> ResponsePoints:
    """A sweep integrated in time (scipy.integrate): 1X of every turn by its Fourier integral.

    `z'' + 2ζω z' + ω² z = Ω² exp(jθ)` with `z` real and imaginary, from the steady motion at the
    start; `scale_um` is twice the eccentricity.
    """
    from scipy.integrate import solve_ivp

    omega_n = natural_rpm * math.pi / 30.0
    slope = math.copysign(rate, rpm1 - rpm0) * math.pi / 30.0
    omega0 = rpm0 * math.pi / 30.0
    seconds = abs(rpm1 - rpm0) / rate

    def change(t: float, y: np.ndarray) -> list[float]:
        omega, theta = omega0 + slope * t, omega0 * t + slope * t * t / 2.0
        push = omega * omega
        return [
            y[2],
            y[3],
            push * math.cos(theta) - 2.0 * damping * omega_n * y[2] - omega_n**2 * y[0],
            push * math.sin(theta) - 2.0 * damping * omega_n * y[3] - omega_n**2 * y[1],
        ]

    start = complex(jeffcott(np.array([rpm0]), natural_rpm, damping)[0])
    speed = 1j * omega0 * start
    times = np.arange(0.0, seconds, 1.0 / 4000.0)
    solved = solve_ivp(
        change,
        (0.0, seconds),
        [start.real, start.imag, speed.real, speed.imag],
        t_eval=times,
        rtol=1e-8,
        atol=1e-10,
        method="DOP853",
    )
    theta = omega0 * times + slope * times**2 / 2.0
    # What one probe along x sees, projected on each turn's angle.
    seen = solved.y[0]
    turns = np.floor(theta / (2.0 * np.pi)).astype(int)
    edges = np.searchsorted(turns, np.arange(turns[-1] + 1))
    weight = np.gradient(theta)
    sums = np.add.reduceat(seen * np.exp(-1j * theta) * weight, edges)
    vectors = scale_um * 2.0 * sums / np.add.reduceat(weight, edges)
    middle = np.add.reduceat(times, edges) / np.diff(np.append(edges, len(times)))
    rpm = (omega0 + slope * middle) * 30.0 / math.pi
    whole = slice(0, len(vectors) - 1)
    return ResponsePoints(1, middle[whole], rpm[whole], vectors[whole], True)
