"""Window figures.

Source: Harris, "On the use of windows for harmonic analysis with the discrete Fourier transform",
Proc. IEEE 66(1), 1978, Table 1. The printed figures are **from memory**; the ones to more digits
are **computed** (periodic form, N = 1024). Everything is worked out here from the windows that the
program uses. Two printed figures differ from what the formulas give and are not tested: Harris
prints a scallop loss of 1.78 dB for Hamming (exact: 1.7514), and his three-term windows are not
among ours.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
import pytest

from analysis.signal.windows import (
    WINDOW_NAMES,
    coherent_gain,
    equivalent_noise_bandwidth,
    window,
)

N = 1024
FINE = 64
"""Points a bin of the transform that sidelobes are looked for in."""


@dataclass(frozen=True)
class Figures:
    gain: float
    enbw: float
    scallop_db: float
    sidelobe_db: float
    worst_db: float


COMPUTED = {
    "rectangular": Figures(1.00000, 1.00000, 3.9224, -13.26, 3.922),
    "hann": Figures(0.50000, 1.50000, 1.4236, -31.47, 3.185),
    "hamming": Figures(0.54000, 1987 / 1458, 1.7514, -42.67, 3.096),
    "blackman": Figures(0.42000, 1.72676, 1.0989, -58.11, 3.471),
    "blackman-harris": Figures(0.35875, 2.00435, 0.8256, -92.01, 3.845),
    "flat-top": Figures(0.21558, 3.77025, 0.00978, -93.01, 5.773),
}

# Table 1 as printed, from memory; `None` where the printed figure is doubtful. The flat-top window
# is younger than the table.
PRINTED = {
    "rectangular": (1.00, 3.92, -13, 3.92),
    "hann": (1.50, 1.42, -32, 3.18),
    "hamming": (1.36, None, -43, 3.10),
    "blackman": (1.73, 1.10, -58, 3.47),
    "blackman-harris": (2.00, 0.83, -92, 3.85),
}


def decibel(ratio: float) -> float:
    return 20.0 * math.log10(ratio)


def transform_at(weights: np.ndarray, bins: float) -> float:
    """Magnitude of the transform, over its value at zero, at a distance in bins."""
    turning = np.exp(-2j * np.pi * bins * np.arange(len(weights)) / len(weights))
    return float(abs(np.sum(weights * turning)) / np.sum(weights))


def highest_sidelobe_db(weights: np.ndarray) -> float:
    magnitude = np.abs(np.fft.rfft(weights, FINE * len(weights)))
    # The main lobe ends at the first minimum that is one (a flat top ripples by 0.002 dB).
    rising = (np.diff(magnitude) > 0.0) & (magnitude[:-1] < 0.1 * magnitude[0])
    end = int(np.argmax(rising))
    return decibel(float(magnitude[end:].max() / magnitude[0]))


def figures_of(name: str) -> Figures:
    weights = window(name, N)
    scallop = -decibel(transform_at(weights, 0.5))
    enbw = equivalent_noise_bandwidth(weights)
    return Figures(
        coherent_gain(weights),
        enbw,
        scallop,
        highest_sidelobe_db(weights),
        scallop + 10.0 * math.log10(enbw),
    )


def test_no_window_goes_unchecked() -> None:
    assert set(WINDOW_NAMES) == set(COMPUTED)


@pytest.mark.parametrize("name", WINDOW_NAMES)
def test_figures_computed(name: str) -> None:
    ours, wanted = figures_of(name), COMPUTED[name]
    assert ours.gain == pytest.approx(wanted.gain, abs=5e-6)
    assert ours.enbw == pytest.approx(wanted.enbw, abs=6e-6)
    assert ours.scallop_db == pytest.approx(wanted.scallop_db, abs=6e-5)
    assert ours.sidelobe_db == pytest.approx(wanted.sidelobe_db, abs=0.006)
    assert ours.worst_db == pytest.approx(wanted.worst_db, abs=6e-4)


@pytest.mark.parametrize("name", PRINTED)
def test_figures_as_printed(name: str) -> None:
    ours, (enbw, scallop, sidelobe, worst) = figures_of(name), PRINTED[name]
    assert ours.enbw == pytest.approx(enbw, abs=0.006)
    if scallop is not None:
        assert ours.scallop_db == pytest.approx(scallop, abs=0.006)
    # The table gives whole decibels, and -31.47 as -32: to the next one down.
    assert ours.sidelobe_db == pytest.approx(sidelobe, abs=0.6)
    assert ours.worst_db == pytest.approx(worst, abs=0.006)


def test_four_term_coefficients() -> None:
    """Seen: 0.35875, 0.48829, 0.14128, 0.01168, found back in the window's own transform."""
    lines = np.fft.rfft(window("blackman-harris", N)).real / N
    assert lines[:4] == pytest.approx([0.35875, -0.48829 / 2, 0.14128 / 2, -0.01168 / 2], abs=1e-12)
    assert np.max(np.abs(lines[4:])) < 1e-12
