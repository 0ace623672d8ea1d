"""Equivalent noise bandwidths as printed, **seen** in the examples of a help page on `enbw`.

The printed figures belong to the **symmetric** form of the windows. The program's own windows are
periodic, so `equivalent_noise_bandwidth` is given scipy's symmetric ones here. The difference is
real: Hann of 1000 points has 1.50150 bins in the symmetric form and 1.50000 in the periodic.
"""

from __future__ import annotations

import pytest
from scipy.signal import windows as reference

from analysis.signal.windows import equivalent_noise_bandwidth, window


@pytest.mark.parametrize(
    ("name", "length", "rate_hz", "printed", "digit"),
    [
        ("hann", 1000, None, 1.5015, 1e-4),
        ("hamming", 1000, None, 1.3638, 1e-4),
        ("hann", 128, 1000.0, 11.8110, 1e-4),
        ("flattop", 10_000, 44_100.0, 16.6285, 1e-4),
    ],
)
def test_symmetric_form(
    name: str, length: int, rate_hz: float | None, printed: float, digit: float
) -> None:
    bins = equivalent_noise_bandwidth(getattr(reference, name)(length, sym=True))
    width = bins if rate_hz is None else bins * rate_hz / length
    assert width == pytest.approx(printed, abs=0.51 * digit)


def test_periodic_form_differs() -> None:
    assert equivalent_noise_bandwidth(window("hann", 1000)) == pytest.approx(1.5, abs=1e-12)
