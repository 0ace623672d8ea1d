"""Components that are no whole order of speed: found spectrum by spectrum and followed in time.

Every row of a cascade against time is looked through for lines that stand clear of its noise and
away from whole orders. Lines of neighbouring rows that lie at about the same frequency are one
component, with a frequency, an order, a direction and a time that it lasted. What is told is what
was measured; what such a pattern can be consistent with stands apart (`consistent_with`).
"""

from __future__ import annotations

from dataclasses import dataclass, field, replace
from typing import Literal

import numpy as np

from analysis.model.response_results import Cascade, NonSynchronous
from analysis.model.results import Bools, Floats

CLEAR = 6.0
"""A line stands this many times above the median of its row's lines (common practice)."""

LEAST_SHARE = 0.02
"""… and above this share of the row's largest line, below which window sidelobes live."""

LEAST_ROWS = 3
"""Rows that a component must show in, of which neighbours overlap by half."""

_NEAR_ORDER_LINES = 3.0
"""Lines closer than this to a whole order belong to it: a Hann window's main lobe, and more."""

_MOST_GAP = 2
_LINES_APART = 2.5

WHIRL_SOURCE = (
    "Ehrich, Handbook of Rotordynamics; Vance, Zeidan, Murphy, 2010 (from memory; printed ranges "
    "differ)"
)
"""Where the remark on motion just under half speed comes from."""

_UNDER_HALF = (0.38, 0.49)
_LOCKED = 0.03


@dataclass(eq=False)
class _Track:
    rows: list[int] = field(default_factory=list)
    frequency: list[float] = field(default_factory=list)
    amplitude: list[float] = field(default_factory=list)


def non_synchronous(rows: Cascade, least_um: float = 0.0) -> tuple[NonSynchronous, ...]:
    """The components of a cascade against time, largest first.

    Args:
        rows: a cascade against time; in orders or Hz, one- or two-sided.
        least_um: smallest amplitude that counts, in the cascade's scaling.

    Raises:
        ValueError: for a cascade against speed.
    """
    if rows.against != "time":
        raise ValueError("components are followed in a cascade against time")
    tracks: list[_Track] = []
    step = float(rows.frequency[1] - rows.frequency[0])
    for k in range(len(rows.time_s)):
        for frequency, amplitude in _lines(rows, k, step, least_um):
            _add(tracks, k, frequency, amplitude, step)
    found = [_component(rows, track) for track in tracks if len(track.rows) >= LEAST_ROWS]
    found.sort(key=lambda each: -each.amplitude_um)
    return tuple(_without_mirrors(found, _LINES_APART * step))


def consistent_with(component: NonSynchronous, critical_rpm: tuple[float, ...] = ()) -> str | None:
    """What such a pattern can be consistent with, hedged and with its source, or `None`.

    Args:
        component: what was measured.
        critical_rpm: critical speeds found in the same machine.
    """
    low, high = _UNDER_HALF
    if component.precession != "forward" or not low <= component.order <= high:
        return None
    per_minute = component.frequency_hz * 60.0
    near = [c for c in critical_rpm if abs(per_minute / c - 1.0) < _LOCKED]
    if near:
        return (
            f"forward motion just under half speed at the frequency of the critical speed near "
            f"{near[0]:.0f} r/min can be consistent with whip in a fluid-film bearing, among other "
            f"causes ({WHIRL_SOURCE})"
        )
    return (
        f"forward motion just under half speed can be consistent with whirl of a fluid-film "
        f"bearing or seal, among other causes ({WHIRL_SOURCE})"
    )


def _lines(rows: Cascade, k: int, step: float, least_um: float) -> list[tuple[float, float]]:
    """Frequencies and amplitudes of the clear lines of one row that are no whole order."""
    amplitude = rows.amplitude_um[k]
    known = np.isfinite(amplitude)
    if np.count_nonzero(known) < 16:
        return []
    values = np.where(known, amplitude, 0.0)
    candidates = _not_whole(rows, k, step) & known
    if not candidates.any():
        return []
    floor = float(np.median(values[candidates]))
    least = max(CLEAR * floor, LEAST_SHARE * float(values.max()), least_um)
    inner = np.zeros(len(values), dtype=bool)
    inner[1:-1] = (values[1:-1] > values[:-2]) & (values[1:-1] >= values[2:])
    out = []
    for place in np.flatnonzero(candidates & inner & (values > least)):
        shift, height = _between(values[place - 1 : place + 2])
        out.append((float(rows.frequency[place]) + shift * step, height))
    return out


def _not_whole(rows: Cascade, k: int, step: float) -> Bools:
    """Lines away from whole orders and from zero, where the mean and its drift are."""
    turn = rows.speed_rpm[k] / 60.0
    orders = rows.frequency if rows.axis == "orders" else rows.frequency / turn
    width = step if rows.axis == "orders" else step / turn
    away: Bools = np.abs(orders - np.round(orders)) > _NEAR_ORDER_LINES * width
    return away


def _between(three: Floats) -> tuple[float, float]:
    """Place (in lines from the middle) and height of the parabola through three logarithms."""
    a, b, c = np.log(np.maximum(three, 1e-12))
    bend = a - 2.0 * b + c
    if bend >= 0.0:
        return 0.0, float(three[1])
    shift = float(np.clip(0.5 * (a - c) / bend, -0.5, 0.5))
    return shift, float(np.exp(b - 0.25 * (a - c) * shift))


def _add(tracks: list[_Track], row: int, frequency: float, amplitude: float, step: float) -> None:
    near = [
        track
        for track in tracks
        if 0 < row - track.rows[-1] <= _MOST_GAP
        and abs(track.frequency[-1] - frequency) <= _LINES_APART * step
    ]
    if near:
        track = min(near, key=lambda each: abs(each.frequency[-1] - frequency))
    else:
        track = _Track()
        tracks.append(track)
    track.rows.append(row)
    track.frequency.append(frequency)
    track.amplitude.append(amplitude)


def _without_mirrors(found: list[NonSynchronous], apart: float) -> list[NonSynchronous]:
    """An ellipse turns both ways at once: the smaller part is told beside the larger one."""
    out: list[NonSynchronous] = []
    for each in found:
        for k, larger in enumerate(out):
            opposite = None not in (each.precession, larger.precession)
            opposite = opposite and each.precession != larger.precession
            same = (
                abs(each.order - larger.order) <= apart
                or abs(each.frequency_hz - larger.frequency_hz) <= apart
            )
            at_once = each.from_s < larger.to_s and larger.from_s < each.to_s
            if opposite and same and at_once:
                most = max(larger.against_um or 0.0, each.amplitude_um)
                out[k] = replace(larger, against_um=most)
                break
        else:
            out.append(each)
    return out


def _component(rows: Cascade, track: _Track) -> NonSynchronous:
    place = np.array(track.rows)
    turn = rows.speed_rpm[place] / 60.0
    lines = np.array(track.frequency)
    hertz = lines * turn if rows.axis == "orders" else lines
    orders = lines if rows.axis == "orders" else lines / turn
    amplitude = np.array(track.amplitude)
    weight = amplitude**2 / np.sum(amplitude**2)
    mean_hz, mean_order = float(np.sum(weight * hertz)), float(np.sum(weight * orders))
    speed = rows.speed_rpm[place]
    way: Literal["forward", "backward"] = "forward" if mean_hz > 0.0 else "backward"
    span = 0.0 if rows.time_s.size < 2 else float(rows.time_s[1] - rows.time_s[0])
    return NonSynchronous(
        frequency_hz=abs(mean_hz),
        order=abs(mean_order),
        precession=way if rows.two_sided else None,
        amplitude_um=float(amplitude.max()),
        against_um=None,
        from_s=float(rows.time_s[place[0]]) - span / 2.0,
        to_s=float(rows.time_s[place[-1]]) + span / 2.0,
        speed_rpm=(float(speed.min()), float(speed.max())),
        frequency_spread_hz=float(np.ptp(np.abs(hertz))),
        order_spread=float(np.ptp(np.abs(orders))),
        rows=len(place),
    )
