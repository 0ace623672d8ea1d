"""Spectra of a shaft's motion, against frequency or against orders of running speed."""

from __future__ import annotations

from typing import Any, Literal

import numpy as np
from numpy.typing import NDArray

from analysis.model.results import Complexes, Floats, SpectrumResult
from analysis.signal.resample import between_samples
from analysis.signal.spectrum import Scaling, spectrum
from analysis.signal.windows import WindowName

from .turns import Turns

FINEST = 4096
"""Most points a turn that a waveform is resampled to."""


def against_angle(times_s: Floats, values: Floats | Complexes, turns: Turns) -> NDArray[Any]:
    """A waveform at equal steps of shaft angle over consecutive revolutions.

    At least as many points a turn as there are samples in the slowest one, so that nothing is
    thrown away and nothing folds; a cubic through the samples in between.

    Args:
        times_s: sample times, s, evenly spaced, shape (n,).
        values: samples, real or complex, shape (n,), finite.
        turns: consecutive revolutions inside the times, with a known shaft angle.

    Returns:
        Shape (r * points,), with the same number of points, a power of two, in every turn.
    """
    interval = (times_s[-1] - times_s[0]) / (len(times_s) - 1)
    most = float(np.max(turns.end_s - turns.start_s)) / interval
    points = min(1 << max(int(np.ceil(np.log2(most))), 4), FINEST)
    angle = turns.angles[int(turns.piece[0])]
    first = int(turns.place[0])
    edges = np.arange(first, first + len(turns) + 1)
    # Time of equal angles: the smooth angle at the samples, turned round.
    inside = (times_s >= angle.times_s[edges[0]]) & (times_s <= angle.times_s[edges[-1]])
    known = np.concatenate([edges.astype(np.float64), angle.turns_at(times_s[inside])])
    at = np.concatenate([angle.times_s[edges], times_s[inside]])
    known, unique = np.unique(known, return_index=True)
    wanted = first + np.arange(len(turns) * points) / points
    times = np.interp(wanted, known, at[unique])
    return between_samples(values, (times - times_s[0]) / interval)


def motion_spectrum(
    times_s: Floats,
    motion: Floats | Complexes,
    turns: Turns | None,
    *,
    axis: Literal["orders", "hz"],
    window_name: WindowName,
    scaling: Scaling,
    clockwise: bool = False,
) -> SpectrumResult | None:
    """Spectrum of a probe's displacement (real) or of a plane's motion `x + jy` (complex), µm.

    Two-sided spectra are turned so that positive frequencies run with the rotation: forward.
    Orders need consecutive turns with a known angle. NaN samples are put on the line between their
    neighbours.

    Returns:
        `None` when there is too little to work on.
    """
    finite = np.isfinite(motion)
    if len(motion) < 16 or np.count_nonzero(finite) < 0.9 * len(motion):
        return None
    if not finite.all():
        motion = np.interp(times_s, times_s[finite], motion[finite])
    if np.iscomplexobj(motion) and clockwise:
        motion = motion.conj()
    if axis == "hz":
        rate = (len(times_s) - 1) / (times_s[-1] - times_s[0])
        return spectrum(motion, rate, window_name=window_name, scaling=scaling, axis="hz")
    if turns is None or len(turns) == 0 or turns.kind == "blocks":
        return None
    resampled = against_angle(times_s, motion, turns)
    points = len(resampled) / len(turns)
    return spectrum(resampled, points, window_name=window_name, scaling=scaling, axis="orders")
