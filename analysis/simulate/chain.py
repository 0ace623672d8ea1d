"""The measuring chain: from gap to volts to the numbers of a file."""

from __future__ import annotations

from typing import Any

import numpy as np
from numpy.typing import NDArray

from analysis.model.capture import Floats
from analysis.model.setup import Probe
from analysis.rotor.gap import volts_from_gap

from .recipe_parts import ChannelRecipe, Reference


def true_probe(channel: ChannelRecipe, probe: Probe) -> Probe:
    """The probe as it really behaves: the recipe's curve where it has one, else the setup's."""
    if channel.curve is None:
        return probe
    return probe.model_copy(update={"calibration": channel.curve})


def volts_seen(gap_um: Floats, channel: ChannelRecipe, probe: Probe) -> Floats:
    """Noise-free voltage of a gap in µm, within what the driver can give."""
    volts = volts_from_gap(gap_um, true_probe(channel, probe))
    return volts if channel.volts_limits is None else np.clip(volts, *channel.volts_limits)


def noise_volts_rms(channel: ChannelRecipe, probe: Probe) -> float:
    """Standard deviation of the channel's noise, V."""
    from_um = channel.noise_um_rms * probe.scale_factor_v_per_um
    return float(np.hypot(from_um, channel.noise_mv_rms / 1000.0))


def recorded(volts: Floats, time_s: Floats, part: ChannelRecipe | Reference) -> NDArray[Any]:
    """Volts as the numbers that are stored: counts within their type, or floats with NaN."""
    if part.type in ("int16", "int32"):
        limits = np.iinfo(part.type)
        counts = np.rint(volts / part.volts_per_count)
        return np.clip(counts, limits.min, limits.max).astype(part.type)
    for begin, end in part.dropped_s:
        volts[(time_s >= begin) & (time_s < end)] = np.nan
    return volts.astype(part.type)


def volts_per_stored(part: ChannelRecipe | Reference) -> float:
    """Factor from stored numbers to volts."""
    return part.volts_per_count if part.type in ("int16", "int32") else 1.0
