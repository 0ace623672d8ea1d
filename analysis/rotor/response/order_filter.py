"""The Vold-Kalman order filter on a capture: one vector a revolution, as the table has them."""

from __future__ import annotations

import numpy as np

from analysis.jobs import SILENT, Progress
from analysis.model.capture import Capture
from analysis.model.response_results import ResponsePoints
from analysis.model.results import Bools, Complexes, Floats, Ints
from analysis.model.setup import Probe
from analysis.model.span import TimeSpan
from analysis.rotor.gap import gap_from_volts
from analysis.rotor.revolutions import fault_mask
from analysis.rotor.turns import Turns

from .vold_kalman import order_envelopes

BANDWIDTH_HZ = 4.0
"""-3 dB width, two-sided, unless somebody says otherwise: settles in a quarter of a second."""

_SEGMENT = 1 << 17
_AMPLE = 8.0
"""Samples a period of the highest order that are enough."""

_SETTLING = 2.0
"""Segments overlap by this over the bandwidth, s, to either side."""


def filtered_points(
    capture: Capture,
    probe: Probe,
    turns: Turns,
    orders: tuple[int, ...] = (1, 2),
    *,
    bandwidth_hz: float = BANDWIDTH_HZ,
    poles: int = 2,
    progress: Progress = SILENT,
) -> dict[int, ResponsePoints]:
    """Vectors of some orders in the middle of every revolution, by the order filter.

    Stretches between gaps in the phase reference are filtered each by itself, long ones in segments
    that overlap. Samples with a circuit fault are put on a line between their neighbours, and
    vectors within the filter's own length of them are NaN.

    Args:
        capture: the capture.
        probe: the probe.
        turns: revolutions between events, of `find_turns`.
        orders: solved for together: with the strong ones among them the rest come out cleaner.
        bandwidth_hz: -3 dB width around each order, two-sided.
        poles: 1 to 4.
        progress: told after each segment.

    Raises:
        ValueError: when the shaft angle is not known.
    """
    if turns.kind != "events":
        raise ValueError("an order filter needs phase-reference events")
    vectors = {n: np.full(len(turns), complex(np.nan, np.nan)) for n in orders}
    for rows in _segments(turns, capture.channels[probe.channel].sample_rate_hz, bandwidth_hz):
        whole, inner = rows
        found = _filtered(capture, probe, turns.at(whole), orders, bandwidth_hz, poles)
        kept = np.isin(whole, inner)
        for n, values in found.items():
            vectors[n][whole[kept]] = values[kept]
        progress.report(float(inner[-1] + 1) / len(turns), "filtering orders")
    middle = (turns.start_s + turns.end_s) / 2.0
    return {n: ResponsePoints(n, middle, turns.speed_rpm, v) for n, v in vectors.items()}


def _segments(turns: Turns, rate: float, bandwidth_hz: float) -> list[tuple[Ints, Ints]]:
    """Revolutions of each segment, and those of them that are kept."""
    out = []
    overlap = _SETTLING / bandwidth_hz
    for piece in np.unique(turns.piece):
        rows = np.flatnonzero(turns.piece == piece)
        start = 0
        while start < len(rows):
            limit = turns.start_s[rows[start]] + _SEGMENT / rate
            stop = max(int(np.searchsorted(turns.end_s[rows], limit)), start + 1)
            first = np.searchsorted(turns.start_s[rows], turns.start_s[rows[start]] - overlap)
            last = np.searchsorted(turns.end_s[rows], turns.end_s[rows[stop - 1]] + overlap)
            out.append((rows[int(first) : int(last) + 1], rows[start:stop]))
            start = stop
    return out


def _filtered(
    capture: Capture,
    probe: Probe,
    turns: Turns,
    orders: tuple[int, ...],
    bandwidth_hz: float,
    poles: int,
) -> dict[int, Complexes]:
    channel = capture.channels[probe.channel]
    span = TimeSpan(float(turns.start_s[0]), float(turns.end_s[-1]))
    times, volts = channel.volts_in(span)
    none = {n: np.full(len(turns), complex(np.nan, np.nan)) for n in orders}
    good = ~fault_mask(volts, probe)
    if np.count_nonzero(good) < max(64, len(times) // 2):
        return none
    bad_s = times[~good]
    displacement = -gap_from_volts(np.interp(times, times[good], volts[good]), probe)
    trend = np.polynomial.Polynomial.fit(times, displacement, 3)
    angle = turns.angles[int(turns.piece[0])]
    highest = max(orders) / float(np.min(turns.end_s - turns.start_s))
    times, values, rate = _thinned(
        times, displacement - trend(times), channel.sample_rate_hz, highest
    )
    theta = 2.0 * np.pi * angle.turns_at(times)
    phases = np.outer(np.asarray(orders, dtype=np.float64), theta)
    filtered = order_envelopes(
        values,
        phases,
        rate,
        bandwidth_hz,
        poles=poles,
    )
    middle = (turns.start_s + turns.end_s) / 2.0
    void = _near(bad_s, middle, 1.0 / bandwidth_hz)
    out: dict[int, Complexes] = {}
    for k, n in enumerate(orders):
        at = np.asarray(np.interp(middle, times, filtered.vectors[k]), dtype=np.complex128)
        at[void] = complex(np.nan, np.nan)
        out[n] = at
    return out


def _thinned(
    times: Floats, values: Floats, rate: float, highest_hz: float
) -> tuple[Floats, Floats, float]:
    """Fewer samples, after a low-pass without lag, while they hold the highest order amply."""
    from scipy.signal import resample_poly

    factor = int(rate / (_AMPLE * highest_hz))
    if factor < 2:
        return times, values, rate
    return times[::factor], resample_poly(values, 1, factor), rate / factor


def _near(bad_s: Floats, middle: Floats, reach: float) -> Bools:
    """Whether each moment has one of the bad times within reach."""
    if len(bad_s) == 0:
        return np.zeros(len(middle), dtype=bool)
    after = np.clip(np.searchsorted(bad_s, middle), 0, len(bad_s) - 1)
    before = np.clip(after - 1, 0, len(bad_s) - 1)
    nearest = np.minimum(np.abs(bad_s[after] - middle), np.abs(bad_s[before] - middle))
    near: Bools = nearest < reach
    return near
