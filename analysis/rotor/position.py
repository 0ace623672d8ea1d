"""The instantaneous gap of every sample in a span, against the probe's linear range."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from analysis.model.capture import Channel
from analysis.model.results import LinearRangeReading, ProbeRevolutions
from analysis.model.setup import Probe
from analysis.model.span import TimeSpan

from .gap import gap_from_volts
from .revolutions import fault_mask

_BLOCK_SAMPLES = 1 << 19


@dataclass(frozen=True)
class GapExtremes:
    """Extremes of the gap over all healthy samples of a span, and what share was at fault.

    `linear_range` is `None` when no sample is healthy; `fault_fraction` is 1 then, and 0 when the
    span holds no sample at all.
    """

    linear_range: LinearRangeReading | None
    fault_fraction: float
    samples: int


def gap_extremes(channel: Channel, probe: Probe, span: TimeSpan) -> GapExtremes:
    """Least and largest gap (µm) over a span, with the margin to the nearer end of the range.

    Every sample of the span counts, whole revolution or not; samples with a circuit fault do not.
    """
    first = channel.index_at_or_after(span.start_s)
    last = max(first, channel.index_at_or_after(span.end_s))
    least, most = np.inf, -np.inf
    healthy = outside = 0
    for start in range(first, last, _BLOCK_SAMPLES):
        volts = channel.volts(start, min(start + _BLOCK_SAMPLES, last))
        channel.release(max(start - _BLOCK_SAMPLES, first), start)
        volts = volts[~fault_mask(volts, probe)]
        if len(volts) == 0:
            continue
        gap = gap_from_volts(volts, probe)
        healthy += len(gap)
        least, most = min(least, float(gap.min())), max(most, float(gap.max()))
        if probe.linear_range_um is not None:
            low, high = probe.linear_range_um
            outside += int(np.count_nonzero((gap < low) | (gap > high)))
    total = last - first
    if healthy == 0:
        return GapExtremes(None, 1.0 if total else 0.0, total)
    margin: float | None = None
    fraction: float | None = None
    if probe.linear_range_um is not None:
        low, high = probe.linear_range_um
        margin = min(least - low, high - most)
        fraction = outside / healthy
    reading = LinearRangeReading(least, most, margin, fraction)
    return GapExtremes(reading, 1.0 - healthy / total, total)


def extremes_of_rows(rows: ProbeRevolutions, probe: Probe) -> GapExtremes | None:
    """The same of a span that whole revolutions fill, out of what is known of each of them.

    `None` where the samples themselves have to be looked at: some are at fault or missing, or lie
    outside the linear range.
    """
    if len(rows.fault) == 0 or rows.fault.any() or not rows.samples.all():
        return None
    least, most = float(rows.min_um.min()), float(rows.max_um.max())
    if not math.isfinite(most - least):
        return None
    margin = fraction = None
    if probe.linear_range_um is not None:
        low, high = probe.linear_range_um
        margin, fraction = min(least - low, high - most), 0.0
        if margin < 0.0:
            return None
    reading = LinearRangeReading(least, most, margin, fraction)
    return GapExtremes(reading, 0.0, int(rows.samples.sum()))
