"""Believable results without a file: the brine pump near its critical speed; all invented."""

from __future__ import annotations

import math

import numpy as np

from analysis.model.results import (
    Centreline,
    Ellipse,
    LimitReading,
    LinearRangeReading,
    OrbitPath,
    PlaneReading,
    ProbeReading,
    ProbeWaveform,
    Reading,
    RevolutionTable,
    SpanReadings,
    SpectrumResult,
    SpeedReading,
    Trace,
    VectorReading,
)
from analysis.model.setup import Setup
from analysis.model.span import TimeSpan
from analysis.views.timeline import TimelineResult

RPM = 3180.0
SPAN = TimeSpan(48.24, 48.36)
NAMES = ("DE-X", "DE-Y", "NDE-X", "NDE-Y")
MEANS = {"DE-X": 1250.0, "DE-Y": 1235.0, "NDE-X": 2019.0, "NDE-Y": 1181.0}
VECTORS = {
    "DE-X": {1: (104.0, 120.0), 2: (22.0, 337.0)},
    "DE-Y": {1: (76.0, 40.0), 2: (16.0, 57.0)},
    "NDE-X": {1: (48.0, 133.0), 2: (9.0, 12.0)},
    "NDE-Y": {1: (41.0, 52.0), 2: (7.0, 80.0)},
}


def fake_setup(alarm: float = 125.0, trip: float = 180.0) -> Setup:
    """Two planes at 45°, p-p limits on every probe, one pair of position limits."""
    probes = [
        {
            "name": name,
            "angle_deg": 45.0 if name.endswith("X") else -45.0,
            "scale_factor_mv_per_um": 7.874,
            "linear_range_um": [250.0, 2280.0],
            "fault_v": [-22.0, -0.5],
        }
        for name in NAMES
    ]
    limits: list[dict[str, object]] = []
    for name in NAMES:
        pp = {"probes": [name], "measure": "peak_to_peak"}
        limits.append({**pp, "level": "alarm", "above": alarm, "delay_s": 2.0})
        limits.append({**pp, "level": "trip", "above": trip, "delay_s": 1.0, "latching": True})
    limits.append({"probes": ["NDE-X"], "measure": "position", "level": "alarm", "above": 2100.0})
    limits.append({"probes": ["DE-X"], "measure": "position", "level": "alarm", "above": 1650.0})
    return Setup.model_validate(
        {
            "machine": {"title": "Brine pump P-204", "rotation": "ccw"},
            "phase_reference": {"channel": "REF"},
            "probe": probes,
            "plane": [
                {"name": "Drive end", "probes": ["DE-X", "DE-Y"], "clearance_um": 240.0},
                {"name": "Non-drive end", "probes": ["NDE-X", "NDE-Y"], "clearance_um": 240.0},
            ],
            "limit": limits,
        }
    )


def displacement(name: str, theta: np.ndarray, noise: float = 1.2, seed: int = 7) -> np.ndarray:
    """Shaft displacement toward a probe (µm) at shaft angles `theta` (rad)."""
    rng = np.random.default_rng([seed, NAMES.index(name)])
    total = rng.normal(0.0, noise, len(theta)) if noise else np.zeros(len(theta))
    for order, (amplitude, lag) in VECTORS[name].items():
        total = total + amplitude / 2 * np.cos(order * theta - math.radians(lag))
    return total


def fake_waveform(name: str = "DE-X", points: int = 2400, phase: float = 0.0) -> ProbeWaveform:
    """0.1 s of gap, with marks; `phase` (rad) lets frames differ."""
    x = np.linspace(0.0, 0.1, points)
    theta = 2 * np.pi * RPM / 60 * x + phase
    y = MEANS[name] - displacement(name, theta)
    turns = np.arange(math.ceil(theta[0] / (2 * np.pi)), math.floor(theta[-1] / (2 * np.pi)) + 1)
    marks = (turns * 2 * np.pi - phase) / (2 * np.pi * RPM / 60)
    return ProbeWaveform(name, Trace(x, y), marks, np.interp(marks, x, y), MEANS[name])


def fake_reading(name: str, setup: Setup) -> ProbeReading:
    """The readings of a probe, with every limit of the setup judged."""
    y = MEANS[name] - displacement(name, np.linspace(0, 2 * np.pi, 720, endpoint=False))
    pp = float(y.max() - y.min())
    limits = []
    worst = "normal"
    for index, limit in enumerate(setup.limit):
        if name not in limit.probes:
            continue
        value = pp if limit.measure == "peak_to_peak" else MEANS[name]
        met = bool(limit.above is not None and value >= limit.above)
        if met and worst != "trip":
            worst = limit.level
        limits.append(LimitReading(index, name, value, limit.above, limit.below, met))
    vectors = {
        order: VectorReading(
            order,
            amplitude * np.exp(-1j * math.radians(lag)),
            Reading(amplitude, 0.4),
            Reading(lag, 0.3),
        )
        for order, (amplitude, lag) in VECTORS[name].items()
    }
    margin = min(float(y.min()) - 250.0, 2280.0 - float(y.max()))
    return ProbeReading(
        name=name,
        gap_v=Reading(-MEANS[name] * 7.874e-3, 0.002),
        gap_um=Reading(MEANS[name], 0.3),
        peak_to_peak_um=Reading(pp, 0.8),
        peak_to_peak_max_um=pp + 1.4,
        vectors=vectors,
        linear_range=LinearRangeReading(float(y.min()), float(y.max()), margin, 0.0),
        outputs_ma={},
        circuit_fault=False,
        fault_fraction=0.0,
        condition=worst,
        limits=tuple(limits),
        zone="B" if pp > 85 else "A",
    )


def _xy(names: tuple[str, str], theta: np.ndarray, noise: float, orders=(1, 2)):
    sx, sy = (displacement(name, theta, noise) for name in names)
    if orders != (1, 2):
        sx, sy = (
            sum(
                a / 2 * np.cos(n * theta - math.radians(lag))
                for n, (a, lag) in VECTORS[name].items()
                if n in orders
            )
            for name in names
        )
    root = math.sqrt(0.5)  # probes at 45° right and left
    return root * (sx - sy), root * (sx + sy)


def fake_orbit(
    raw: bool = True, points: int = 2400, turns: int = 6, phase: float = 0.0, plane: int = 0
) -> OrbitPath:
    """The drive-end orbit; the filtered one is a closed 1X ellipse."""
    names = (NAMES[2 * plane], NAMES[2 * plane + 1])
    marks = np.arange(turns) * 2 * np.pi if raw else np.zeros(1)
    theta = np.linspace(0.0, 2 * np.pi * (turns if raw else 1), points if raw else 361) + phase
    x, y = _xy(names, theta, 1.2 if raw else 0.0, (1, 2) if raw else (1,))
    mx, my = _xy(names, marks, 0.0, (1, 2) if raw else (1,))
    plane_name = ("Drive end", "Non-drive end")[plane]
    return OrbitPath(plane_name, x, y, mx, my, raw, "forward")


def fake_plane_reading(plane: int = 0) -> PlaneReading:
    """Orbit and position of a plane."""
    orbit = Ellipse(1, 44.9 + 0j, 6.0 + 3j, 103.2, 76.4, 142.0, "forward")
    name = ("Drive end", "Non-drive end")[plane]
    return PlaneReading(name, 71.0, {1: orbit}, Centreline(18.0, -62.0, 0.54, 32.0))


def fake_readings(setup: Setup | None = None) -> SpanReadings:
    """Everything that `measure` would tell."""
    setup = setup or fake_setup()
    return SpanReadings(
        span=SPAN,
        speed=SpeedReading(RPM, RPM - 2, RPM + 2, 6, "events"),
        probes={name: fake_reading(name, setup) for name in NAMES},
        planes={p.name: fake_plane_reading(i) for i, p in enumerate(setup.plane)},
    )


def fake_spectrum(
    two_sided: bool = True, axis: str = "orders", lines: int = 1025
) -> SpectrumResult:
    """Orders ±4 (or Hz) with 1X, 2X, their backward parts and a sub-synchronous whirl."""
    top = 4.0
    frequency = np.linspace(-top if two_sided else 0.0, top, lines)
    step = float(frequency[1] - frequency[0])
    rng = np.random.default_rng(3)
    amplitude = np.abs(rng.normal(0.4, 0.15, lines))
    for at, height in ((1, 89.0), (-1, 18.0), (2, 15.0), (-2, 7.0), (0.47, 10.0)):
        amplitude = np.maximum(
            amplitude, height * np.exp(-(((frequency - at) / (1.1 * step)) ** 2))
        )
    if axis == "hz":
        frequency, step = frequency * RPM / 60, step * RPM / 60
    return SpectrumResult(
        frequency=frequency,
        amplitude_um=amplitude,
        axis=axis,
        two_sided=two_sided,
        scaling="p-p",
        window="hann",
        resolution=step,
        enbw=1.5,
    )


def fake_run(revolutions: int = 11000) -> dict[str, np.ndarray]:
    """Time, speed, p-p and condition of every revolution of a run-up and coast-down, 214.6 s."""
    time = np.linspace(0.0, 214.6, revolutions)
    speed = np.interp(time, [0, 82, 120, 205, 214.6], [600, 5400, 5400, 610, 600])
    ratio = speed / 3180.0
    gain = ratio**2 / np.hypot(1 - ratio**2, 0.11 * ratio)
    rng = np.random.default_rng(11)
    pp = 9.0 + 14.0 * gain + rng.normal(0.0, 1.0, revolutions) ** 2
    condition = np.where(pp >= 125.0, 2, np.where(pp >= 90.0, 1, 0)).astype(np.int8)
    condition[(time > 130) & (time < 131.5)] = -1
    pp = np.where(condition == -1, np.nan, pp)
    return {"time_s": time, "speed_rpm": speed, "pp_um": pp, "condition": condition}


def fake_timeline(done_s: float | None = None, size: float = 1.0) -> TimelineResult:
    """The timeline of that run; `done_s` cuts it, as while it fills."""
    run = fake_run()
    span = TimeSpan(0.0, 214.6)
    done = span.end_s if done_s is None else done_s
    upto = int(np.searchsorted(run["time_s"], done, side="right"))
    time, speed = run["time_s"][:upto], run["speed_rpm"][:upto]
    empty = RevolutionTable("events", time, time, speed, np.zeros(upto, dtype=bool), {})
    return TimelineResult(
        span=span,
        done_s=done,
        time_s=time,
        speed_rpm=speed,
        peak_to_peak_um={"DE-X": size * run["pp_um"][:upto]},
        condition={"DE-X": run["condition"][:upto]},
        table=empty,
    )
