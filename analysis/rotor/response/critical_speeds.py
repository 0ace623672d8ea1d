"""Critical speeds of one passage: peaks of compensated 1X with a phase change through them.

Contract, section 5: amplification factor `Nc / (N2 - N1)` with N1 and N2 at 0.707 of the peak of
the compensated curve. What is doubtful about a peak is said; what is no critical speed is listed
apart with the reason.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np

from analysis.model.response_results import (
    CriticalSpeed,
    Doubt,
    NotCounted,
    Passage,
    PassageResponse,
    ResponsePoints,
)
from analysis.model.results import Floats
from analysis.signal.summits import summits

from .margins import lies_above, required_margin, separation_margin
from .passages import rate_at, smoothed_speed
from .ripple import could_be_ripple, too_narrow
from .smoothing import SmoothCurve, smooth_curve
from .sweep import HALF_POWER, half_power, refined_peak, sweep_effect

_PROMINENT = 0.05
"""A peak stands above the valleys beside it by at least this share of the largest (common
practice); smaller ones are ripples of the curve."""

_CLEAR = 4.0
"""… and by this many standard deviations of the curve's own noise."""

_LEAST_PHASE_DEG = 30.0
"""Through one mode the lag grows by 90° between the half-power points; with a second mode close by
by less. Below this there is no phase change to speak of (common practice)."""

_FEW_POINTS = 5
_WIDEST = 0.35
"""Half-power points are looked for up to this share of the peak's speed away where only one side is
found."""

_FAST = 0.5
"""Shift or lowering by the sweep in per cent above which it is said."""


@dataclass(frozen=True)
class _Peak:
    top: int
    speed: float
    height: float
    prominence: float
    half: tuple[float | None, float | None]


def passage_response(
    points: ResponsePoints, passage: Passage, operating_rpm: tuple[float, float] | None
) -> PassageResponse:
    """The smooth curve of a passage, its critical speeds, and what is not counted as one.

    Args:
        points: compensated 1X.
        passage: one of `passages_of(points)`.
        operating_rpm: lowest and highest running speed, for margins.
    """
    speed = smoothed_speed(points)
    curve = smooth_curve(speed[passage.rows], points.vectors[passage.rows])
    if curve is None:
        few = Doubt("too-few-points", f"too few points ({len(passage.rows)}) for a curve")
        none = np.empty(0)
        return PassageResponse(
            passage, none, none.astype(np.complex128), none, None, (), (), (few,)
        )
    peaks = _peaks(curve)
    criticals: list[CriticalSpeed] = []
    left: list[NotCounted] = []
    for peak in sorted(peaks, key=lambda each: -each.height):
        critical = _critical(curve, peak, points, speed, passage, operating_rpm)
        reason = _why_not(curve, peak, critical, criticals, passage)
        if reason is None:
            criticals.append(critical)
        else:
            left.append(NotCounted(peak.speed, peak.height, passage.direction, reason))
    left = _worth_telling(left)
    notices = _ends(curve, criticals)
    criticals.sort(key=lambda each: each.speed_rpm)
    left.sort(key=lambda each: each.speed_rpm)
    return PassageResponse(
        passage=passage,
        curve_rpm=curve.speed_rpm,
        curve_vectors=curve.vectors,
        curve_sd_um=curve.sd_um,
        noise_um=curve.noise_um,
        criticals=tuple(criticals),
        not_counted=tuple(left),
        notices=notices,
    )


def _worth_telling(left: list[NotCounted]) -> list[NotCounted]:
    """All that is not noise, and of what is below the noise the largest alone."""
    noise = [one for one in left if one.doubt.flag == "below-noise"]
    rest = [one for one in left if one.doubt.flag != "below-noise"]
    return rest + sorted(noise, key=lambda one: -one.amplitude_um_pp)[:1]


def _peaks(curve: SmoothCurve) -> list[_Peak]:
    amplitude = curve.amplitude_um
    noise = float(np.median(curve.sd_um))
    least = max(_PROMINENT * float(amplitude.max()), 2.0 * noise)
    tops, prominences = summits(amplitude, least)
    out = []
    for top, prominence in zip(tops, prominences, strict=True):
        at, height = refined_peak(amplitude, curve.speed_rpm, int(top))
        half = half_power(amplitude, curve.speed_rpm, int(top))
        out.append(
            _Peak(int(top), at, height, float(prominence), _own(half, amplitude, curve, int(top)))
        )
    return out


def _own(
    half: tuple[float | None, float | None], amplitude: Floats, curve: SmoothCurve, top: int
) -> tuple[float | None, float | None]:
    """Half-power points with no higher ground between them and the peak: others are not its own."""
    speed = curve.speed_rpm
    height = amplitude[top]
    low, high = half
    if low is not None:
        between = amplitude[(speed >= low) & (speed <= speed[top])]
        low = low if between.max() <= 1.0001 * height else None
    if high is not None:
        between = amplitude[(speed <= high) & (speed >= speed[top])]
        high = high if between.max() <= 1.0001 * height else None
    return low, high


def _critical(
    curve: SmoothCurve,
    peak: _Peak,
    points: ResponsePoints,
    speed: Floats,
    passage: Passage,
    operating_rpm: tuple[float, float] | None,
) -> CriticalSpeed:
    low, high = peak.half
    factor = peak.speed / (high - low) if low is not None and high is not None else None
    first, last = _flanks(curve, peak)
    rows = passage.rows
    inside = (speed[rows] >= curve.speed_rpm[first]) & (speed[rows] <= curve.speed_rpm[last])
    within = 0.25 / factor if factor else 0.02
    rate, moment = rate_at(points.time_s, speed, rows, peak.speed, within)
    critical = CriticalSpeed(
        speed_rpm=peak.speed,
        amplitude_um_pp=peak.height,
        phase_lag_deg=float(
            -np.degrees(np.angle(np.interp(peak.speed, curve.speed_rpm, curve.vectors))) % 360.0
        ),
        half_power_rpm=peak.half,
        amplification_factor=factor,
        phase_slope_factor=_phase_slope(curve, peak, first, last),
        phase_change_deg=float(curve.lag_deg[last] - curve.lag_deg[first]),
        separation_margin_percent=None,
        required_margin_percent=None,
        direction=passage.direction,
        time_s=moment,
        rate=rate,
        sweep=sweep_effect(peak.speed, factor, rate) if factor and rate else None,
        sd_um=float(curve.sd_um[peak.top]),
        points_in_peak=int(np.count_nonzero(inside)),
    )
    critical = _with_margins(critical, operating_rpm)
    return replace(critical, doubts=_doubts(curve, critical, operating_rpm))


def _flanks(curve: SmoothCurve, peak: _Peak) -> tuple[int, int]:
    """Places of the half-power points; where one is missing, of the valley or end on that side.

    A side that is missing is taken no further from the peak than the one that is there.
    """
    speed, amplitude = curve.speed_rpm, curve.amplitude_um
    low, high = peak.half
    near = [peak.speed - low] if low is not None else []
    near += [high - peak.speed] if high is not None else []
    reach = max(near) if near else _WIDEST * peak.speed / 4.0
    low = low if low is not None else peak.speed - reach
    high = high if high is not None else peak.speed + reach
    first = int(np.searchsorted(speed, low))
    last = min(int(np.searchsorted(speed, high)), len(speed) - 1)
    if peak.half[0] is None:
        first = first + int(np.argmin(amplitude[first : peak.top + 1]))
    if peak.half[1] is None:
        last = peak.top + int(np.argmin(amplitude[peak.top : last + 1]))
    return min(first, peak.top), max(last, peak.top)


def _phase_slope(curve: SmoothCurve, peak: _Peak, first: int, last: int) -> float | None:
    """`(N/2)·dφ/dN` at its steepest between the flanks: 1/(2ζ) of one lightly damped mode.

    Of a polynomial of degree 5 through the lags there, since noise makes steep places of its own.
    """
    if last - first < 8:
        return None
    speed = curve.speed_rpm[first : last + 1] / peak.speed
    lag = np.radians(curve.lag_deg[first : last + 1])
    slope = np.polynomial.Polynomial.fit(speed, lag, 5).deriv()
    steepest = float(np.max(speed * slope(speed)))
    return steepest / 2.0 if steepest > 0.0 else None


def _with_margins(
    critical: CriticalSpeed, operating_rpm: tuple[float, float] | None
) -> CriticalSpeed:
    if operating_rpm is None:
        return critical
    required = None
    if critical.amplification_factor is not None:
        above = lies_above(critical.speed_rpm, operating_rpm)
        required = required_margin(critical.amplification_factor, above=above)
    return replace(
        critical,
        separation_margin_percent=separation_margin(critical.speed_rpm, operating_rpm),
        required_margin_percent=required,
    )


def _why_not(
    curve: SmoothCurve,
    peak: _Peak,
    critical: CriticalSpeed,
    larger: list[CriticalSpeed],
    passage: Passage,
) -> Doubt | None:
    """Why a peak is no critical speed, or `None`; larger peaks have been judged before."""
    noise = max(float(curve.sd_um[peak.top]), float(np.median(curve.sd_um)))
    if peak.prominence < _CLEAR * noise:
        return Doubt(
            "below-noise",
            f"a rise at {peak.speed:.0f} r/min stands {peak.prominence:.1f} µm p-p above its "
            f"surroundings, which the noise of the curve ({noise:.1f} µm p-p) can make",
        )
    ripple = could_be_ripple(critical, peak.prominence, larger, passage)
    if ripple is not None:
        return ripple
    if abs(critical.phase_change_deg) < _LEAST_PHASE_DEG:
        return Doubt(
            "no-phase-change",
            f"a peak at {peak.speed:.0f} r/min has a phase change of only "
            f"{critical.phase_change_deg:.0f}° through it",
        )
    return None


def _doubts(
    curve: SmoothCurve, critical: CriticalSpeed, operating_rpm: tuple[float, float] | None
) -> tuple[Doubt, ...]:
    out = [*_half_power_doubts(curve, critical)]
    at = critical.speed_rpm
    if critical.points_in_peak < _FEW_POINTS:
        out.append(
            Doubt(
                "few-points",
                f"only {critical.points_in_peak} points lie within the peak: its height and width "
                f"come from the curve between them",
            )
        )
    if critical.phase_change_deg < 0.0:
        out.append(
            Doubt(
                "phase-falls",
                "the lag falls through the peak, where it grows through one forward mode: another "
                "mode close by, or backward motion, can do that",
            )
        )
    sweep = critical.sweep
    if sweep is not None and max(abs(sweep.shift_percent), abs(sweep.lowering_percent)) > _FAST:
        out.append(
            Doubt(
                "fast-sweep",
                f"swept at {sweep.rate:.0f} r/min a second: by the model of one mode that moves "
                f"the peak by {sweep.shift_percent:+.1f} % and changes its height by "
                f"{-sweep.lowering_percent:+.1f} %; without haste the critical speed would show "
                f"near {sweep.slow_speed_rpm:.0f} r/min with a factor near {sweep.slow_factor:.1f}",
            )
        )
    if too_narrow(critical):
        out.append(
            Doubt(
                "narrower-than-the-sweep",
                f"no one mode shows so narrow a peak when swept at {abs(critical.rate or 0.0):.0f} "
                f"r/min a second: ripple or noise has part in its height and width",
            )
        )
    if operating_rpm is not None and operating_rpm[0] < at < operating_rpm[1]:
        out.append(
            Doubt("in-operating-range", "lies inside the operating range: the margin is negative")
        )
    return tuple(out)


def _half_power_doubts(curve: SmoothCurve, critical: CriticalSpeed) -> list[Doubt]:
    speed = curve.speed_rpm
    amplitude = curve.amplitude_um
    level = HALF_POWER * critical.amplitude_um_pp
    out = []
    for value, end, beyond, where in (
        (critical.half_power_rpm[0], 0, amplitude[speed < critical.speed_rpm], "below"),
        (critical.half_power_rpm[1], -1, amplitude[speed > critical.speed_rpm], "above"),
    ):
        if value is not None:
            continue
        if len(beyond) == 0 or beyond.min() > level:
            sentence = (
                f"the data end at {speed[end]:.0f} r/min before the curve falls to 0.707 of the "
                f"peak {where} it"
            )
            out.append(Doubt("end-of-data", f"{sentence}: no amplification factor"))
        else:
            sentence = (
                f"the curve meets another, higher peak {where} this one before it falls to 0.707"
            )
            out.append(Doubt("no-half-power-point", f"{sentence}: no amplification factor"))
    return out


def _ends(curve: SmoothCurve, criticals: list[CriticalSpeed]) -> tuple[Doubt, ...]:
    """What is to be said of the curve as a whole: a rise at an end of the data, or no peak."""
    amplitude, speed = curve.amplitude_um, curve.speed_rpm
    largest = max((c.amplitude_um_pp for c in criticals), default=0.0)
    noise = float(np.median(curve.sd_um))
    out = []
    for end, inner, word, beyond in ((-1, -12, "highest", "above"), (0, 11, "lowest", "below")):
        if len(amplitude) < 24:
            break
        rise = amplitude[end] - amplitude[inner]
        if rise > max(0.02 * amplitude[end], 4.0 * noise) and amplitude[end] > 0.5 * max(
            largest, float(amplitude.max()) if not criticals else 0.0
        ):
            out.append(
                Doubt(
                    "rises-at-the-end",
                    f"1X still rises towards the {word} speed reached ({speed[end]:.0f} r/min, "
                    f"{amplitude[end]:.1f} µm p-p): a critical speed {beyond} it would not show",
                )
            )
    if not criticals and not out:
        out.append(
            Doubt(
                "no-peak",
                f"no peak with a phase change between {speed[0]:.0f} and {speed[-1]:.0f} r/min",
            )
        )
    return tuple(out)
