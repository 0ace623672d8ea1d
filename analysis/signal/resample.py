"""Values between the samples of an evenly sampled signal."""

from __future__ import annotations

from typing import Any

import numpy as np
from numpy.typing import NDArray

from analysis.model.results import Complexes, Floats


def between_samples(values: Floats | Complexes, places: Floats) -> NDArray[Any]:
    """The signal at fractional sample numbers, on the cubic spline through all samples.

    Straight lines would cut the peaks of a signal with few samples a turn. A NaN makes what lies
    next to it NaN, and nothing else.

    Args:
        values: the signal, real or complex, shape (n,), n >= 2.
        places: sample numbers, 0 to n - 1, shape (k,).
    """
    # Imported here: only spectra and pairs of unlike channels need it, and it is slow to load.
    from scipy.ndimage import map_coordinates

    known = np.isfinite(values)
    if not known.all():
        if np.count_nonzero(known) < 2:
            return np.full(len(places), np.nan, dtype=values.dtype)
        # The spline reaches far: it needs something in the gaps.
        index = np.arange(len(values))
        values = np.interp(index, index[known], values[known])
    out: NDArray[Any] = map_coordinates(values, places[np.newaxis], order=3, mode="mirror")
    if not known.all():
        below = np.floor(places).astype(np.int64)
        above = np.minimum(below + 1, len(values) - 1)
        out[~(known[below] & known[above])] = np.nan
    return out
