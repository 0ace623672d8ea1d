"""Gap from voltage and back (contract, section 1).

More negative volts mean a larger gap. Straight line: `g = gap0 + (volts0 - v) / S`. With a
calibration table: straight between neighbouring rows, and on through the end increments outside.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from analysis.model.setup import Probe

Floats = NDArray[np.float64]


def gap_from_volts(volts: Floats, probe: Probe) -> Floats:
    """Gap in µm of voltages in V; NaN stays NaN. Any shape; a new array."""
    if probe.calibration is None:
        scale = probe.scale_factor_v_per_um
        offset = probe.point.gap_um + probe.point.volts / scale
        gap = volts * (-1.0 / scale)
        gap += offset
        return gap
    gaps, table_volts = _table(probe)
    # np.interp wants rising abscissae; volts fall as the gap grows.
    return _interpolate(-volts, -table_volts, gaps)


def volts_from_gap(gap_um: Floats, probe: Probe) -> Floats:
    """Voltage in V that the probe gives at gaps in µm: the inverse of `gap_from_volts`."""
    if probe.calibration is None:
        scale = probe.scale_factor_v_per_um
        return probe.point.volts - (gap_um - probe.point.gap_um) * scale
    gaps, table_volts = _table(probe)
    return _interpolate(gap_um, gaps, table_volts)


def local_scale_factor(gap_um: Floats, probe: Probe) -> Floats:
    """Slope of the curve in V/µm (positive) at gaps in µm; the end increments' slope outside."""
    if probe.calibration is None:
        return np.full_like(gap_um, probe.scale_factor_v_per_um, dtype=np.float64)
    gaps, table_volts = _table(probe)
    slopes = -np.diff(table_volts) / np.diff(gaps)
    place = np.searchsorted(gaps, gap_um, side="right") - 1
    return slopes[np.clip(place, 0, len(slopes) - 1)]


def _table(probe: Probe) -> tuple[Floats, Floats]:
    assert probe.calibration is not None
    rows = np.array(sorted(probe.calibration), dtype=np.float64)
    return rows[:, 0], rows[:, 1]


def _interpolate(x: Floats, xp: Floats, fp: Floats) -> Floats:
    inside = np.interp(x, xp, fp)
    first = (fp[1] - fp[0]) / (xp[1] - xp[0])
    last = (fp[-1] - fp[-2]) / (xp[-1] - xp[-2])
    below = fp[0] + (x - xp[0]) * first
    above = fp[-1] + (x - xp[-1]) * last
    out: Floats = np.where(x < xp[0], below, np.where(x > xp[-1], above, inside))
    return out
