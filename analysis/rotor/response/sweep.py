"""What the sweep rate does to a peak: one mode, run through at constant acceleration.

A rotor that is accelerated through its critical speed has no time to build up to its steady
amplitude: the peak is lower, wider, and lies further on in the direction of the sweep, and the free
vibration that it leaves behind beats with the forced one (a ripple). For one mode with unbalance,
`z'' + 2ζω z' + ω² z = Ω(t)² exp(jθ(t))`, the envelope is worked out here in the time domain; no
approximation formula is used.

Sources: the model, Jeffcott 1919; sweeps, F. M. Lewis, Trans. ASME 54 (1932), from memory.
"""

from __future__ import annotations

import math
from collections.abc import Callable

import numpy as np

from analysis.model.response_results import SweepEffect
from analysis.model.results import Complexes, Floats

_STEPS = 2000

_LEAST_SHARE = 0.02
"""Damping is sought down to this over the amplification factor; without haste it is 0.5."""

_NEAR_ENOUGH = 1e-3
_MOST_TRIES = 30
_MOST_OVER = 10.0
"""A peak that never falls to half power counts as so many times too wide."""

HALF_POWER = 0.707
"""N1 and N2 lie where the amplitude is this share of the peak (contract, section 5)."""


def swept_response(
    speed_rpm: Floats, natural_rpm: float, damping_ratio: float, rate: float
) -> Complexes:
    """1X vectors of one mode swept at a constant rate, over the eccentricity (steady at the start).

    Args:
        speed_rpm: evenly spaced speeds in the direction of the sweep, shape (n,).
        natural_rpm: undamped natural speed.
        damping_ratio: ζ, 0 < ζ < 1.
        rate: r/min a second, of the sign of the steps; its size only is used.

    Returns:
        `A exp(-jφ)`, for an unbalance in the direction of the phase reference; shape (n,).
    """
    from scipy.linalg import solve_banded

    omega = speed_rpm * (math.pi / 30.0)
    natural = natural_rpm * (math.pi / 30.0)
    step_s = abs(float(speed_rpm[1] - speed_rpm[0]) / rate)
    damped = natural * math.sqrt(1.0 - damping_ratio**2)
    force = (omega**2).astype(np.complex128)
    total = np.zeros(len(omega), dtype=np.complex128)
    for sign in (1.0, -1.0):
        pole = -damping_ratio * natural + sign * 1j * damped
        # Envelope of the mode in the frame that turns with the shaft: Q' = (s - jΩ) Q + Ω².
        change = pole - 1j * omega
        lower = -(1.0 + 0.5 * step_s * change[:-1])
        diagonal = 1.0 - 0.5 * step_s * change
        right = np.empty(len(omega), dtype=np.complex128)
        diagonal[0], right[0] = 1.0, -force[0] / change[0]
        right[1:] = 0.5 * step_s * (force[1:] + force[:-1])
        bands = np.stack([diagonal, np.append(lower, 0.0)])
        total += sign * solve_banded((1, 0), bands, right) / (2j * damped)
    return total


def half_power(amplitude: Floats, speed_rpm: Floats, top: int) -> tuple[float | None, float | None]:
    """Speeds to either side of a peak where the curve falls to 0.707 of it; `None` if it does not.

    Args:
        amplitude: of the curve, shape (n,).
        speed_rpm: rising, shape (n,).
        top: place of the peak; the peak is refined by `refined_peak`.
    """
    _, height = refined_peak(amplitude, speed_rpm, top)
    level = HALF_POWER * height
    return (
        _crossing(amplitude[top::-1], speed_rpm[top::-1], level),
        _crossing(amplitude[top:], speed_rpm[top:], level),
    )


def refined_peak(amplitude: Floats, speed_rpm: Floats, top: int) -> tuple[float, float]:
    """Speed and height of the parabola through a peak and its two neighbours."""
    if not 0 < top < len(amplitude) - 1:
        return float(speed_rpm[top]), float(amplitude[top])
    x = speed_rpm[top - 1 : top + 2] - speed_rpm[top]
    a, b, c = np.polyfit(x, amplitude[top - 1 : top + 2], 2)
    if a >= 0.0:
        return float(speed_rpm[top]), float(amplitude[top])
    shift = float(np.clip(-b / (2.0 * a), x[0], x[2]))
    return float(speed_rpm[top]) + shift, float(c + shift * (b + shift * a))


def sweep_effect(speed_rpm: float, amplification_factor: float, rate: float) -> SweepEffect | None:
    """How far a measured peak is shifted and lowered by its sweep rate.

    The damping is sought at which one mode, swept at this rate, has the amplification factor that
    was measured; the same mode without haste gives the rest.

    Args:
        speed_rpm: measured critical speed.
        amplification_factor: measured, from half-power points.
        rate: r/min a second, positive in a run-up.

    Returns:
        `None` when no damping gives that factor at that rate (the peak is as narrow as no sweep of
        one mode makes it).
    """
    direction = 1.0 if rate > 0 else -1.0
    # A unit of speed is the natural speed: what counts is the rate in these units.
    own_rate = abs(rate) / speed_rpm

    def shown(damping: float) -> tuple[float, float, float]:
        return _swept_peak(damping, own_rate * direction, speed_rpm)

    found = _damping_of(amplification_factor, shown)
    if found is None:
        return None
    damping, (peak_at, height, _) = found
    slow_at = 1.0 / math.sqrt(1.0 - 2.0 * damping**2)
    slow_height = 1.0 / (2.0 * damping * math.sqrt(1.0 - damping**2))
    natural = speed_rpm / peak_at
    return SweepEffect(
        rate=rate,
        shift_percent=100.0 * (peak_at / slow_at - 1.0),
        lowering_percent=100.0 * (1.0 - height / slow_height),
        slow_speed_rpm=natural * slow_at,
        slow_factor=slow_half_power_factor(damping),
    )


def _damping_of(
    factor: float, shown: Callable[[float], tuple[float, float, float]]
) -> tuple[float, tuple[float, float, float]] | None:
    """The damping at which a peak shows this factor, and that peak; `None` where none does.

    The width of a peak grows nearly evenly with damping: a straight line between two dampings that
    lie to either side of the one that is sought leads there in a few steps (regula falsi, with the
    end that stays put counted half, after Dowell and Jarratt 1971, from memory).
    """

    def over(peak: tuple[float, float, float]) -> float:
        """By what share the peak is wider than it should be."""
        return min(factor / peak[2], _MOST_OVER) - 1.0 if peak[2] > 0.0 else _MOST_OVER

    wide = min(0.65 / factor, 0.45)
    high = over(shown(wide))
    if high < 0.0:
        return None
    narrow = 0.75 * wide
    peak = shown(narrow)
    low = over(peak)
    while low > 0.0:
        wide, high, narrow = narrow, low, 0.75 * narrow
        if narrow < _LEAST_SHARE / factor:
            return None
        peak = shown(narrow)
        low = over(peak)
    damping, last = narrow, 0
    for _ in range(_MOST_TRIES if high > low else 0):
        damping = (narrow * high - wide * low) / (high - low)
        peak = shown(damping)
        away = over(peak)
        if abs(away) < _NEAR_ENOUGH or wide / narrow < 1.0 + _NEAR_ENOUGH:
            break
        if away > 0.0:
            wide, high = damping, away
            low = 0.5 * low if last > 0 else low
            last = 1
        else:
            narrow, low = damping, away
            high = 0.5 * high if last < 0 else high
            last = -1
    return damping, peak


def slow_half_power_factor(damping_ratio: float) -> float:
    """Half-power amplification factor of one mode with unbalance, run through without haste.

    `Nc / (N2 - N1)` of `r²/sqrt((1 - r²)² + (2ζr)²)`; infinite where it never falls to 0.707 again.
    """
    square = damping_ratio**2
    height = 1.0 / (2.0 * damping_ratio * math.sqrt(1.0 - square))
    level = (HALF_POWER * height) ** 2
    # level ((1 - x)² + 4ζ²x) = x² with x = r².
    a, b, c = level - 1.0, level * (4.0 * square - 2.0), level
    root = b * b - 4.0 * a * c
    if a <= 0.0 or root <= 0.0:
        return math.inf if a > 0.0 else 0.0
    low = math.sqrt((-b - math.sqrt(root)) / (2.0 * a))
    high = math.sqrt((-b + math.sqrt(root)) / (2.0 * a))
    return 1.0 / math.sqrt(1.0 - 2.0 * square) / (high - low)


def _swept_peak(damping: float, own_rate: float, natural_rpm: float) -> tuple[float, float, float]:
    """Place and height of a swept peak (natural speed 1) and its half-power factor."""
    rate = abs(own_rate) * natural_rpm
    # Widths of the peak by damping, and by the rate alone.
    natural = natural_rpm * math.pi / 30.0
    haste = math.sqrt(rate * math.pi / 30.0) / natural
    reach = min(8.0 * damping + 8.0 * haste, 3.0)
    low, high = max(1.0 - reach, 0.05), 1.0 + reach
    ratio = np.linspace(low, high, _STEPS)
    if own_rate < 0:
        ratio = ratio[::-1]
    size = np.abs(swept_response(ratio * natural_rpm, natural_rpm, damping, rate))
    if own_rate < 0:
        ratio, size = ratio[::-1], size[::-1]
    inner = slice(1, len(size) - 1)
    top = 1 + int(np.argmax(size[inner]))
    at, height = refined_peak(size, ratio, top)
    first, last = half_power(size, ratio, top)
    if first is None or last is None:
        return at, height, 0.0
    return at, height, at / (last - first)


def _crossing(amplitude: Floats, speed: Floats, level: float) -> float | None:
    below = np.flatnonzero(amplitude <= level)
    if len(below) == 0 or below[0] == 0:
        return None
    k = int(below[0])
    share = (amplitude[k - 1] - level) / (amplitude[k - 1] - amplitude[k])
    return float(speed[k - 1] + share * (speed[k] - speed[k - 1]))
