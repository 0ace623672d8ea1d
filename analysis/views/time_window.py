"""Windows of time about a moment, within a capture."""

from __future__ import annotations

import math

from analysis.model.span import TimeSpan

LEAST_SAMPLES = 8
"""The shortest window holds this many samples of the fastest channel."""


def automatic_window(span: TimeSpan, moment_s: float, whole: TimeSpan) -> TimeSpan:
    """A window of 1, 2 or 5 times a power of ten that holds `span`, with the moment in its middle.

    Such lengths keep axes from creeping while the moment moves. Clipped to `whole`.
    """
    reach = max(span.length_s, 1e-3) * (1.0 - 1e-9)  # rounding lifts no length a step
    decade = 10.0 ** math.floor(math.log10(reach))
    length = next((s * decade for s in (1.0, 2.0, 5.0) if s * decade >= reach), 10.0 * decade)
    return window_around(moment_s, length, whole)


def window_around(
    moment_s: float, length_s: float, whole: TimeSpan, place: float = 0.5
) -> TimeSpan:
    """A window of a given length, s, with the moment at the share `place` (0 to 1) of it.

    At the ends of `whole` the window stops and the moment goes on; no window is longer than
    `whole`.
    """
    if length_s >= whole.length_s:
        return whole
    start = min(max(moment_s - place * length_s, whole.start_s), whole.end_s - length_s)
    return TimeSpan(start, start + length_s)


def shortest_window_s(sample_rate_hz: float) -> float:
    """Length, s, of the shortest window that makes sense at a sampling rate in Hz."""
    return LEAST_SAMPLES / sample_rate_hz
