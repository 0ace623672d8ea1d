"""A change of vibration counts as a vector, and matters beyond a quarter of the B/C boundary.

Sources: ISO 20816-1:2016, annex D, worked example **seen** as a library reads it (3 mm/s at 40° to
2.5 mm/s at 180° is printed as 5.2 mm/s; exactly 5.1711 at 201.90°, **computed**). Criterion II, 25
% of the B/C boundary, up or down: **seen** in an article on a sister standard, for shafts **from
memory**; it is a default that a reader can change.
"""

from __future__ import annotations

import numpy as np
import pytest

from analysis.model.response_results import ResponsePoints
from analysis.rotor.response.overlay import SIGNIFICANT_SHARE, overlay
from analysis.rotor.response.responses import response_of
from analysis.rotor.vectors import amplitude_and_lag, vector_from

RPM = np.linspace(1000.0, 3600.0, 500)


def steady(amplitude: float, lag: float) -> object:
    vectors = np.full(len(RPM), vector_from(amplitude, lag))
    return response_of("X", ResponsePoints(1, RPM / 10.0, RPM, vectors), None)


def test_example_of_the_annex() -> None:
    found = overlay(steady(3.0, 40.0), steady(2.5, 180.0))  # type: ignore[arg-type]
    assert found is not None
    size, angle = amplitude_and_lag(complex(found.difference[100]))
    assert size == pytest.approx(5.2, abs=0.05)
    assert size == pytest.approx(5.1711, abs=6e-5)
    assert angle == pytest.approx(201.90, abs=6e-3)


@pytest.mark.parametrize(
    ("after", "significant"), [(112.4, False), (112.6, True), (37.6, False), (37.4, True)]
)
def test_a_quarter_of_b_c_up_or_down(after: float, significant: bool) -> None:
    """At 3600 r/min B/C is 150 µm p-p, so that 37.5 µm p-p more or less than before matters."""
    assert SIGNIFICANT_SHARE == 0.25
    before = 75.0
    found = overlay(
        steady(before, 40.0),  # type: ignore[arg-type]
        steady(after, 40.0),  # type: ignore[arg-type]
        b_c=9000.0,
        operating_rpm=(3599.0, 3601.0),
    )
    assert found is not None
    assert found.largest_operating is not None
    assert found.largest_operating[2] is significant
