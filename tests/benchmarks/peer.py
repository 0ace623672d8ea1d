"""The revolution table written the plain way: scipy.signal and a loop over the revolutions.

What a careful engineer would write in an afternoon: read everything, find the edges, and for each
revolution cut the samples out, resample them to equal angle, and take the Fourier component.
"""

from __future__ import annotations

from itertools import pairwise
from pathlib import Path

import h5py
import numpy as np
from scipy import signal

from tests.app.made_capture import SCALE_V_PER_UM

POINTS = 256


def plain_table(path: Path, seconds: float) -> list[list[float]]:
    """Time, speed and per probe gap, p-p, 1X and 2X of each revolution of the first seconds."""
    rows = []
    with h5py.File(path, "r") as file:
        channels = {name: item for name, item in file["channels"].items()}
        reference = channels.pop("REF")
        rate = float(reference.attrs["sample_rate_hz"])
        count = round(seconds * rate)
        below = reference[:count] * reference.attrs["volts_per_count"] < -9.0
        pulse = np.concatenate([[0.0], np.diff(below.astype(float))])
        edges, _ = signal.find_peaks(pulse, height=0.5)
        gaps = {
            name: -(item[:count] * item.attrs["volts_per_count"]) / SCALE_V_PER_UM
            for name, item in channels.items()
        }
        for start, stop in pairwise(edges):
            row = [(start + stop) / 2 / rate, 60.0 * rate / (stop - start)]
            for gap in gaps.values():
                turn = gap[start:stop]
                lines = np.fft.rfft(signal.resample(turn, POINTS)) * (4.0 / POINTS)
                row += [float(turn.mean()), float(np.ptp(turn))]
                for order in (1, 2):
                    row += [float(abs(lines[order])), float(np.degrees(np.angle(lines[order])))]
            rows.append(row)
    return rows
