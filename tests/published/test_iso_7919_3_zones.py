"""Evaluation zones of shaft vibration of coupled industrial machines.

ISO 7919-3 (1996, 2009), shaft annex of ISO 20816-3:2022: A/B 4800/√n, B/C 9000/√n, C/D 13200/√n,
µm p-p, n in r/min. The formula is **from memory**; a table of rounded figures was **seen**. It
prints 165 for B/C at 3000 r/min, where the formula gives 164.3: hence to ±1. That a value on a
boundary belongs to the better zone was **seen** in the documentation of a library that follows
ISO 20816-1 (6.3.2.3). In the program they are editable defaults; the machine's maker and owner
decide.
"""

from __future__ import annotations

import pytest

from analysis.model.setup import SeverityZones
from analysis.protection.zones import zone_boundaries, zone_of

ZONES = SeverityZones()


@pytest.mark.parametrize(
    ("rpm", "printed"),
    [(1000.0, (152, 285, 417)), (1500.0, (124, 232, 341)), (3000.0, (88, 165, 241))],
)
def test_printed_figures(rpm: float, printed: tuple[int, int, int]) -> None:
    assert zone_boundaries(rpm, ZONES) == pytest.approx(printed, abs=1.0)


@pytest.mark.parametrize(
    ("rpm", "computed"),
    [
        (3600.0, (80.0, 150.0, 220.0)),
        (6000.0, (62.0, 116.2, 170.4)),
        (10_000.0, (48.0, 90.0, 132.0)),
        (12_000.0, (43.8, 82.2, 120.5)),
    ],
)
def test_computed_figures(rpm: float, computed: tuple[float, float, float]) -> None:
    assert zone_boundaries(rpm, ZONES) == pytest.approx(computed, abs=0.051)


@pytest.mark.parametrize(
    ("peak_to_peak", "zone"),
    [(79.9, "A"), (80.0, "A"), (80.1, "B"), (150.0, "B"), (150.1, "C"), (220.0, "C"), (221, "D")],
)
def test_a_boundary_belongs_to_the_better_zone(peak_to_peak: float, zone: str) -> None:
    assert zone_of(peak_to_peak, 3600.0, ZONES) == zone


def test_other_coefficients_are_the_owners() -> None:
    """Gas turbine sets, ISO 7919-4: A/B 4500/√n (from memory), the rest alike."""
    zones = SeverityZones(edition="ISO 7919-4:1996 (formula from memory)", a_b=4500.0)
    assert zone_boundaries(3000.0, zones)[0] == pytest.approx(82.2, abs=0.051)
    assert zone_of(85.0, 3000.0, zones) == "B"
    assert zone_of(85.0, 3000.0, ZONES) == "A"
