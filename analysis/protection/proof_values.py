"""What a proof test applies: values just inside and just beyond a limit, as µm and as volts."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import Final

import numpy as np

from analysis.model.proof import Applied, Side
from analysis.model.setup import Limit, Probe, Region, Setup
from analysis.rotor.gap import volts_from_gap

APPROACH_SHARE: Final = 0.05
"""Values are set this share of the level inside or beyond it (common practice: beyond what
calibrator and monitor may be off together)."""
_LEAST_APPROACH_UM: Final = 1.0
_APPROACH_POSITION_UM: Final = 10.0


@dataclass(frozen=True)
class Motion:
    """What one probe sees: p-p, mean gap, and phase lag where it matters; µm, degrees."""

    peak_to_peak_um: float
    gap_um: float
    lag_deg: float | None = None
    open_circuit: bool = False


def quiet_motion(setup: Setup, probe: Probe, *, vibrating: bool) -> Motion:
    """A motion at which none of a probe's limits acts.

    The gap is that at rest where it is clear of all position limits, else halfway between them;
    p-p is half of the lowest limit (0 unless `vibrating`), or halfway up from a `below`.
    """
    return Motion(_quiet_vibration(setup, probe, vibrating=vibrating), quiet_gap(setup, probe))


def quiet_gap(setup: Setup, probe: Probe) -> float:
    """A gap clear of all position limits of a probe, µm."""
    limits = [limit for limit in setup.limits_of(probe.name) if limit.measure == "position"]
    least = [limit.below + limit.hysteresis_um for limit in limits if limit.below is not None]
    most = [limit.above - limit.hysteresis_um for limit in limits if limit.above is not None]
    if probe.linear_range_um is not None:
        least.append(probe.linear_range_um[0])
        most.append(probe.linear_range_um[1])
    low, high = max(least, default=None), min(most, default=None)
    rest = probe.rest_gap_um
    if rest is not None and (low is None or rest > low) and (high is None or rest < high):
        return rest
    if low is not None and high is not None:
        return (low + high) / 2.0
    if high is not None:
        return high / 2.0
    # Mid-range of the usual straight line, 50 mil (common practice).
    return 1270.0 if low is None else low + 500.0


def _quiet_vibration(setup: Setup, probe: Probe, *, vibrating: bool) -> float:
    limits = [
        limit
        for limit in setup.limits_of(probe.name)
        if limit.measure in ("peak_to_peak", "1x") and (vibrating or limit.below is not None)
    ]
    most = [limit.above for limit in limits if limit.above is not None]
    least = max((limit.below for limit in limits if limit.below is not None), default=0.0)
    if not limits:
        return 0.0
    return (least + min(most)) / 2.0 if most else 2.0 * least


def approach_um(limit: Limit, side: Side, quiet: Motion) -> float:
    """How far inside and beyond a limit the values are set, µm; more than its hysteresis."""
    if limit.measure == "position":
        level = limit.above if side == "above" else limit.below
        assert level is not None
        share = APPROACH_SHARE * abs(level - quiet.gap_um)
        return max(share, _APPROACH_POSITION_UM, limit.hysteresis_um)
    if limit.region is not None:
        share = APPROACH_SHARE * limit.region.amplitude_um[1]
    else:
        level = limit.above if side == "above" else limit.below
        assert level is not None
        share = APPROACH_SHARE * level
    return max(share, _LEAST_APPROACH_UM)


def motion_at(limit: Limit, side: Side, quiet: Motion, beyond_um: float) -> Motion:
    """The motion at which a probe is `beyond_um` beyond its limit (negative: inside)."""
    if limit.region is not None:
        amplitude, lag = _region_at(limit.region, beyond_um)
        return replace(quiet, peak_to_peak_um=amplitude, lag_deg=lag)
    level = limit.above if side == "above" else limit.below
    assert level is not None
    value = level + (beyond_um if side == "above" else -beyond_um)
    if limit.measure == "position":
        return replace(quiet, gap_um=value)
    return replace(quiet, peak_to_peak_um=max(value, 0.0))


def start_motion(limit: Limit, quiet: Motion) -> Motion:
    """The motion that a sequence starts from and ends at."""
    if limit.region is None:
        return quiet
    low, high = limit.region.amplitude_um
    return replace(
        quiet, peak_to_peak_um=(low + high) / 2.0, lag_deg=_middle_lag(limit.region.lag_deg)
    )


def applied_of(probe: Probe, motion: Motion) -> Applied:
    """A motion with the volts that it is, by the probe's line or calibration."""
    half = motion.peak_to_peak_um / 2.0
    gaps = np.array([motion.gap_um, motion.gap_um - half, motion.gap_um + half])
    mean_v, near_v, far_v = volts_from_gap(gaps, probe)
    return Applied(
        probe=probe.name,
        peak_to_peak_um=motion.peak_to_peak_um,
        gap_um=motion.gap_um,
        peak_to_peak_mv=1000.0 * float(near_v - far_v),
        gap_v=float(mean_v),
        open_circuit=motion.open_circuit,
        lag_deg=motion.lag_deg,
    )


def _region_at(region: Region, beyond_um: float) -> tuple[float, float]:
    """A vector beyond the outer arc, at the middle of the lags."""
    return region.amplitude_um[1] + beyond_um, _middle_lag(region.lag_deg)


def _middle_lag(lag_deg: tuple[float, float]) -> float:
    start, end = lag_deg
    return (start + ((end - start) % 360.0 or 360.0) / 2.0) % 360.0
