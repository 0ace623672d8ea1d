"""Raw samples of a probe as gap, where its curve is not straight."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import numpy as np
from numpy.typing import NDArray

from analysis.model.capture import Channel
from analysis.model.results import Floats
from analysis.model.setup import Probe

from .gap import gap_from_volts

GapOfSamples = Callable[[NDArray[Any]], Floats]


def gap_of_samples(channel: Channel, probe: Probe) -> GapOfSamples | None:
    """How raw samples of a channel become gap, µm; `None` without a calibration table.

    On a straight line it is cheaper, and as exact, to scale what has been worked out of the raw
    samples. Of two bytes there are few values: the gap of each is worked out once.
    """
    if probe.calibration is None:
        return None
    if channel.source.dtype.kind != "i" or channel.source.dtype.itemsize != 2:
        return lambda raw: gap_from_volts(channel.to_volts(raw), probe)
    every = np.arange(1 << 16).astype(np.uint16)
    gaps = gap_from_volts(channel.to_volts(every.view(np.int16)), probe)
    return lambda raw: np.take(gaps, raw.astype(np.int16, copy=False).view(np.uint16))
