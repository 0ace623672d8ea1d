"""Views of runs for the pictures' tests, made of one mode in closed form (Jeffcott 1919)."""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np

from analysis.model.response_results import (
    Cascade,
    CriticalSpeed,
    Doubt,
    Overlay,
    ResponsePoints,
    SlowRoll,
)
from analysis.views.references import ReferenceLine
from analysis.views.run_traces import RunTrace, points_only, traces_of
from app.plots.cascade_view import CascadeView
from app.plots.difference_plot import DifferenceView
from app.plots.polar_plot import PolarView
from app.plots.run_view import CriticalMark, RunView

NATURAL_RPM, DAMPING = 3000.0, 0.07
SLOW_ROLL = 5.0 * np.exp(-1j * math.radians(200.0))
OPERATING = (4700.0, 5300.0)


def jeffcott(speed_rpm: np.ndarray, size_um: float = 18.0, lag_deg: float = 40.0) -> np.ndarray:
    """1X vectors of one mode, µm p-p: `r²/(1 - r² + 2jζr)` in the convention `A exp(-jφ)`."""
    r = speed_rpm / NATURAL_RPM
    return size_um * r**2 / (1 - r**2 + 2j * DAMPING * r) * np.exp(-1j * math.radians(lag_deg))


def run_points(size: float = 1.0, lag_deg: float = 40.0) -> ResponsePoints:
    """Up from 600 to 5300 r/min in 60 s and down again, with runout."""
    up = np.linspace(600.0, 5300.0, 800)
    speed = np.concatenate([up, up[::-1]])
    time = np.linspace(0.0, 120.0, len(speed))
    return ResponsePoints(1, time, speed, size * jeffcott(speed, lag_deg=lag_deg) + SLOW_ROLL)


def slow_roll() -> SlowRoll:
    return SlowRoll(1, SLOW_ROLL, 606.0, "proposed", 300, 0.05)


def traces(probe: str, size: float = 1.0, lag_deg: float = 40.0) -> tuple[RunTrace, ...]:
    points = run_points(size, lag_deg)
    return traces_of(points_only(probe, points, slow_roll()), "speed", 500)


def critical(size: float = 1.0, *, doubtful: bool = False) -> CriticalSpeed:
    peak = NATURAL_RPM / math.sqrt(1 - 2 * DAMPING**2)
    vector = size * complex(jeffcott(np.array([peak]))[0])
    return CriticalSpeed(
        speed_rpm=peak,
        amplitude_um_pp=abs(vector),
        phase_lag_deg=math.degrees(-np.angle(vector)) % 360.0,
        half_power_rpm=(2803.0, 3225.0),
        amplification_factor=7.1,
        phase_slope_factor=7.2,
        phase_change_deg=90.0,
        separation_margin_percent=36.0,
        required_margin_percent=14.0,
        direction="up",
        time_s=30.7,
        rate=78.0,
        sweep=None,
        sd_um=0.1,
        points_in_peak=100,
        doubts=(Doubt("some", "something is doubtful"),) if doubtful else (),
    )


def alarm(level_um: float = 95.0) -> ReferenceLine:
    ends = np.array([600.0, 5300.0])
    return ReferenceLine(
        f"alarm {level_um:g} µm (1X)", "alarm", ends, np.full(2, level_um), "setup"
    )


def run_view(size: float = 1.0, **changes: object) -> RunView:
    """Two probes with their critical speeds."""
    view = RunView(
        traces=(*traces("DE-X", size), *traces("DE-Y", 0.7 * size, 130.0)),
        places={"DE-X": 0, "DE-Y": 1},
        criticals=(
            CriticalMark("DE-X", critical(size)),
            CriticalMark("DE-Y", critical(0.7 * size)),
        ),
        operating_rpm=OPERATING,
        references=(alarm(),),
        slow_rolls={"DE-X": slow_roll(), "DE-Y": slow_roll()},
    )
    return replace(view, **changes)


def _void(trace: RunTrace) -> RunTrace:
    nothing = np.full(len(trace.vectors), complex(np.nan, np.nan))
    return replace(trace, vectors=nothing, raw=nothing, lag_deg=np.full(len(nothing), np.nan))


def void_run_view() -> RunView:
    view = run_view()
    return replace(view, traces=tuple(map(_void, view.traces)), criticals=())


def polar_view(size: float = 1.0, rotation: str = "ccw") -> PolarView:
    return PolarView(run_view(size), {"DE-X": 45.0, "DE-Y": -45.0}, rotation)


def void_polar_view() -> PolarView:
    return PolarView(void_run_view(), {"DE-X": 45.0, "DE-Y": -45.0})


def cascade_view(size: float = 1.0, **changes: object) -> CascadeView:
    """1X by the mode's size, a little 2X, and 0.46X forward above 5000 r/min."""
    orders = np.arange(-128, 129) / 32.0
    speed = np.linspace(600.0, 5300.0, 120)
    amplitude = np.full((len(speed), len(orders)), 0.05 * size)
    amplitude[:, orders == 1.0] = size * np.abs(jeffcott(speed))[:, np.newaxis]
    amplitude[:, orders == 2.0] = 6.0 * size
    amplitude[np.ix_(speed > 5000.0, np.abs(orders - 0.46875) < 0.01)] = 5.0 * size
    made = Cascade(
        frequency=orders,
        amplitude_um=amplitude,
        time_s=speed / 80.0,
        speed_rpm=speed,
        axis="orders",
        against="speed",
        two_sided=True,
        scaling="p-p",
        window="hann",
        turns=32,
        seconds=None,
    )
    return replace(CascadeView("Drive end", made), **changes)


def void_cascade_view() -> CascadeView:
    view = cascade_view()
    nothing = np.full(view.amplitude_um.shape, np.nan)
    return replace(view, cascade=replace(view.cascade, amplitude_um=nothing))


def overlay(size: float = 1.0, *, significant: bool | None = False) -> Overlay:
    speed = np.linspace(700.0, 5200.0, 200)
    first = jeffcott(speed)
    change = 0.1 * size * first
    return Overlay(
        speed_rpm=speed,
        first=first,
        second=first + change,
        difference=change,
        limit_um=0.25 * 9000.0 / np.sqrt(speed),
        significant=np.zeros(len(speed), dtype=bool),
        directions=("up", "up"),
        largest_operating=(4700.0, 0.1 * size * 27.0, significant),
    )


def difference_view(size: float = 1.0) -> DifferenceView:
    overlays = {"DE-X": overlay(size), "DE-Y": overlay(0.6 * size)}
    return DifferenceView(overlays, {"DE-X": 0, "DE-Y": 1}, "last_year.h5", OPERATING)


def void_difference_view() -> DifferenceView:
    made = overlay()
    nothing = np.full(len(made.speed_rpm), complex(np.nan, np.nan))
    blank = replace(made, difference=nothing, limit_um=np.full(len(nothing), np.nan))
    return DifferenceView({"DE-X": blank}, {"DE-X": 0}, "last_year.h5", OPERATING)
