"""Where a probe works on its calibration curve, and what the slope there makes of p-p."""

from __future__ import annotations

import numpy as np

from analysis.model.position_results import WorkingPoint
from analysis.model.setup import Probe

from .gap import local_scale_factor, volts_from_gap


def working_point(mean_um: float, min_um: float, max_um: float, probe: Probe) -> WorkingPoint:
    """The working point at a mean gap with the extremes of the waveform, all µm.

    A straight line with the average factor reads what the curve sweeps in volts, divided by that
    factor. The average factor is the setup's, or with a table alone that between its ends.
    """
    average = probe.scale_factor_v_per_um
    at = np.array([mean_um, min_um, max_um])
    volts = volts_from_gap(at, probe)
    local = float(local_scale_factor(at[:1], probe)[0])
    peak_to_peak = max_um - min_um
    swept = (volts[1] - volts[2]) / peak_to_peak if peak_to_peak > 0.0 else local
    if probe.calibration is not None:
        curve = np.array(sorted(probe.calibration), dtype=np.float64)
        curve_um, curve_v = curve[:, 0], curve[:, 1]
    else:
        curve_um = np.array(probe.linear_range_um or (min_um, max_um), dtype=np.float64)
        curve_v = volts_from_gap(curve_um, probe)
    return WorkingPoint(
        gap_um=mean_um,
        gap_v=float(volts[0]),
        local_mv_per_um=1000.0 * local,
        swept_mv_per_um=1000.0 * float(swept),
        average_mv_per_um=1000.0 * average,
        peak_to_peak_um=peak_to_peak,
        straight_um=peak_to_peak * float(swept) / average,
        effect_percent=100.0 * (float(swept) / average - 1.0),
        from_table=probe.calibration is not None,
        curve_um=curve_um,
        curve_v=curve_v,
    )
