"""Units, and the scale factors and gaps that the trade reckons with.

Inch: 25.4 mm exactly since the international agreement of 1959 (**definition**). 200 mV/mil for
AISI 4140: **seen** as typical in a reference article, **common practice**. −8.00 V at 40 mil:
**seen** on a page on gap voltages. −10.0 V at 50 mil and the 10-90 mil position range: **common
practice**.
"""

from __future__ import annotations

import numpy as np
import pytest

from analysis.model.setup import KnownPoint, Probe
from analysis.model.units import UM_PER_MIL, LengthUnit, mv_per_mil_to_mv_per_um
from analysis.protection.current_output import current_ma
from analysis.rotor.gap import gap_from_volts, local_scale_factor, volts_from_gap

PROBE = Probe(name="X", scale_factor_mv_per_mil=200.0)


def gap_mil(volts: float, probe: Probe = PROBE) -> float:
    return float(gap_from_volts(np.array([volts]), probe)[0]) * LengthUnit.MIL.per_um


def test_mil() -> None:
    """0.001 inch of 25.4 mm, and 1 µm = 0.0393701 mil."""
    assert pytest.approx(1.0 / LengthUnit.MIL.per_um) == 0.001 * 25.4 * 1000.0
    assert UM_PER_MIL == 25.4
    assert LengthUnit.MIL.per_um == pytest.approx(0.0393701, abs=5e-8)
    assert LengthUnit.UM.per_um == 1.0


@pytest.mark.parametrize(
    ("mv_per_mil", "mv_per_um"), [(200.0, 7.8740), (190.0, 7.4803), (210.0, 8.2677), (100.0, 3.937)]
)
def test_scale_factors(mv_per_mil: float, mv_per_um: float) -> None:
    assert mv_per_mil_to_mv_per_um(mv_per_mil) == pytest.approx(mv_per_um, abs=5e-5)
    in_mil = Probe(name="X", scale_factor_mv_per_mil=mv_per_mil)
    in_um = Probe(name="X", scale_factor_mv_per_um=mv_per_mil / 25.4)
    assert in_mil.scale_factor_v_per_um == pytest.approx(in_um.scale_factor_v_per_um, rel=1e-15)


@pytest.mark.parametrize(
    ("mil", "volts"), [(50.0, -10.0), (40.0, -8.0), (10.0, -2.0), (90.0, -18.0)]
)
def test_gap_voltages(mil: float, volts: float) -> None:
    assert gap_mil(volts) == pytest.approx(mil, rel=1e-12)
    assert float(volts_from_gap(np.array([mil * 25.4]), PROBE)[0]) == pytest.approx(volts)


def test_metric_gap_voltage() -> None:
    """1.27 mm at 7.874 mV/µm: −10.000 V."""
    probe = Probe(name="X", scale_factor_mv_per_um=7.874)
    assert float(volts_from_gap(np.array([1270.0]), probe)[0]) == pytest.approx(-10.0, abs=5e-4)


def test_more_negative_is_further_away() -> None:
    assert gap_mil(-10.2) > gap_mil(-10.0)


def test_a_known_point_moves_the_line_and_not_its_slope() -> None:
    probe = Probe(
        name="X", scale_factor_mv_per_mil=200.0, point=KnownPoint(gap_um=1270.0, volts=-9.6)
    )
    assert gap_mil(-9.6, probe) == pytest.approx(50.0)
    assert gap_mil(-10.6, probe) == pytest.approx(55.0)


def test_mid_range_reads_twelve_milliamperes() -> None:
    """200 mV/mil at −10.0 V is 50 mil: the middle of a 10-90 mil position output."""
    gap = float(gap_from_volts(np.array([-10.0]), PROBE)[0])
    assert current_ma(gap, 10.0 * UM_PER_MIL, 90.0 * UM_PER_MIL) == pytest.approx(12.0, abs=1e-12)


def test_incremental_scale_factors_of_a_calibration() -> None:
    """ISF of each increment, (V₁ - V₂)/(g₂ - g₁) mV/mil, and what lies between the rows.

    Source: API 670 Table 1, the definition **from memory**; made-up rows of 10 mil.
    """
    isf = [196.0, 201.0, 204.0]
    volts = -2.0 - np.cumsum([0.0, *isf]) * 10.0 / 1000.0
    rows = tuple((mil * 25.4, float(v)) for mil, v in zip((10, 20, 30, 40), volts, strict=True))
    probe = Probe(name="X", calibration=rows)
    middles = np.array([15.0, 25.0, 35.0]) * 25.4
    assert local_scale_factor(middles, probe) * 1000.0 * 25.4 == pytest.approx(isf)
    assert volts_from_gap(middles, probe) == pytest.approx((volts[1:] + volts[:-1]) / 2.0)
    # Average scale factor: between the ends.
    assert probe.scale_factor_v_per_um * 25.4e3 == pytest.approx(np.mean(isf))
    # Outside, on along the end increment.
    assert gap_mil(-2.0 + 0.196, probe) == pytest.approx(9.0)
    assert gap_mil(float(volts[-1]) - 0.204, probe) == pytest.approx(41.0)
