"""The few lines of a spectrum that are worth a label."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from .axes import plain_number

if TYPE_CHECKING:
    from analysis.model.results import SpectrumResult

_MOST = 6
_LEAST_SHARE = 0.04
"""Lines below this share of the largest one are left without a label."""


@dataclass(frozen=True)
class Peak:
    """A local maximum: where, and how high (µm in the spectrum's scaling)."""

    frequency: float
    amplitude_um: float


def largest_peaks(
    result: SpectrumResult, low: float, high: float, most: int = _MOST
) -> tuple[Peak, ...]:
    """The largest local maxima between two frequencies, largest first.

    A maximum stands out: it is the highest within three times the window's noise bandwidth, at
    least six times the median line, and no line of zero frequency.
    """
    f, a = result.frequency, result.amplitude_um
    if len(a) < 3:
        return ()
    middle = a[1:-1]
    with np.errstate(invalid="ignore"):
        index = np.flatnonzero((middle >= a[:-2]) & (middle > a[2:])) + 1
        index = index[(f[index] >= low) & (f[index] <= high)]
        index = index[np.abs(f[index]) > 1.5 * result.enbw * result.resolution]
    if len(index) == 0:
        return ()
    floor = max(6.0 * result.median_um, _LEAST_SHARE * float(a[index].max()))
    reach = 3.0 * result.enbw * result.resolution
    found: list[Peak] = []
    for at in index[np.argsort(-a[index])]:
        if len(found) == most or a[at] < floor:
            break
        if all(abs(f[at] - peak.frequency) > reach for peak in found):
            found.append(Peak(float(f[at]), float(a[at])))
    return tuple(found)


def frequency_text(frequency: float, axis: str, resolution: float) -> str:
    """`1X`, `−1X`, `0.47X` or `53.0 Hz`; an order within half a line of a whole one is that one."""
    if axis == "orders":
        whole = round(frequency)
        if whole != 0 and abs(frequency - whole) <= 0.5 * resolution + 1e-9:
            return f"{plain_number(whole, 0)}X"
        return f"{plain_number(frequency, 2)}X"
    return f"{plain_number(frequency, 1)} Hz"
