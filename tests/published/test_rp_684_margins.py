"""Amplification factor and separation margin as API RP 684 and API 617 have them.

Sources: RP 684, SP6.8.2.1 and SP6.8.2.10, formulas **seen** in open-source rotor-design code (the
paid text was not opened); the table of margins is **computed** from them. Test limit: API 617, 9th
ed., 6.8.2.10-.11, formula **seen** in the same kind of code and on a web page (which prints 0.87
for 0.8165 at 18 000 r/min; the value here is computed). Superseded form for factors above 3.55:
**from memory**, used for one point of agreement.
"""

from __future__ import annotations

import pytest

from analysis.rotor.response.margins import (
    lies_above,
    required_margin,
    running_test_limit_um,
    separation_margin,
)

MARGINS = [
    (2.5, 0.0, 10.0),
    (3.0, 5.667, 15.667),
    (3.55, 8.707, 18.707),
    (5.0, 12.143, 22.143),
    (8.0, 14.385, 24.385),
    (10.0, 15.0, 25.0),
    (18.5, 16.0, 26.0),
]


@pytest.mark.parametrize(("factor", "below", "above"), MARGINS)
def test_required_margin(factor: float, below: float, above: float) -> None:
    assert required_margin(factor, above=False) == pytest.approx(below, abs=6e-4)
    assert required_margin(factor, above=True) == pytest.approx(above, abs=6e-4)


def test_critically_damped_needs_none() -> None:
    assert required_margin(2.49, above=False) == 0.0
    assert required_margin(2.49, above=True) == 0.0


def test_never_more_than_the_caps() -> None:
    assert required_margin(1000.0, above=False) == 16.0
    assert required_margin(1000.0, above=True) == 26.0


def test_superseded_form_agrees_near_where_it_starts() -> None:
    """From memory: below 100 - (84 + 6/(AF - 3)); never more than the cap of today's."""
    factor = 20.0
    old = 100.0 - (84.0 + 6.0 / (factor - 3.0))
    assert required_margin(factor, above=False) == pytest.approx(old, abs=0.4)


@pytest.mark.parametrize(
    ("speed", "margin", "above"),
    [(3150.0, 32.979, False), (4700.0, 0.0, False), (6360.0, 20.0, True), (5000.0, -5.660, True)],
)
def test_margin_is_of_the_nearer_end(speed: float, margin: float, above: bool) -> None:
    assert separation_margin(speed, (4700.0, 5300.0)) == pytest.approx(margin, abs=6e-4)
    assert lies_above(speed, (4700.0, 5300.0)) == above


@pytest.mark.parametrize(
    ("rpm", "um"),
    [(6000.0, 25.4), (12000.0, 25.40), (15000.0, 22.72), (18000.0, 20.74), (20000.0, 19.67)],
)
def test_limit_of_the_running_test(rpm: float, um: float) -> None:
    assert running_test_limit_um(rpm) == pytest.approx(um, abs=6e-3)
    assert running_test_limit_um(18000.0) / 25.4 == pytest.approx(0.8165, abs=6e-5)
