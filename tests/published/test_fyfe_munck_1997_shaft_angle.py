"""Shaft angle between once-per-turn events.

Source: Fyfe & Munck, "Analysis of computed order tracking", MSSP 11(2), 1997: a parabola through
three successive events, θ = b0 + b1 t + b2 t² (equation **from memory**). With constant
acceleration it is exact; the program's angle has to be as well, and must not overshoot where the
acceleration steps.
"""

from __future__ import annotations

import numpy as np
import pytest

from analysis.rotor.shaft_angle import ShaftAngle


def time_of_turns(turns: np.ndarray, b1: float, b2: float) -> np.ndarray:
    """t(θ) = (sqrt(4 b2 θ + b1²) - b1)/(2 b2), in turns."""
    return (np.sqrt(4.0 * b2 * turns + b1**2) - b1) / (2.0 * b2)


@pytest.mark.parametrize(("b1", "b2"), [(10.0, 2.0), (10.0, 0.05), (90.0, -1.0), (5.0, 20.0)])
def test_constant_acceleration_is_exact(b1: float, b2: float) -> None:
    count = 30
    angle = ShaftAngle(time_of_turns(np.arange(count, dtype=float), b1, b2))
    wanted = np.linspace(0.0, count - 1.0, 2000)[:-1]
    found = angle.turns_at(time_of_turns(wanted, b1, b2))
    assert found == pytest.approx(wanted, abs=1e-9)


def test_a_step_in_acceleration_stays_where_it_is() -> None:
    """Steady, then a ramp from the tenth event: two turns away nothing of it is seen."""
    steady = np.arange(11) / 10.0
    ramp = 1.0 + time_of_turns(np.arange(1.0, 15.0), 10.0, 8.0)
    angle = ShaftAngle(np.concatenate([steady, ramp]))
    before = np.linspace(0.0, 0.85, 300)
    assert angle.turns_at(before) == pytest.approx(10.0 * before, abs=1e-9)
    after = np.linspace(12.0, 23.0, 300)
    assert angle.turns_at(1.0 + time_of_turns(after - 10.0, 10.0, 8.0)) == pytest.approx(
        after, abs=1e-9
    )
    near = np.linspace(0.8, 1.3, 500)
    true = np.where(near < 1.0, 10.0 * near, 10.0 + 10.0 * (near - 1.0) + 8.0 * (near - 1.0) ** 2)
    found = angle.turns_at(near)
    assert np.all(np.diff(found) > 0.0)
    # The speed at the event itself is off by a quarter of the step times the turn, and the cubic
    # carries 4/27 of that into the turn: a T²/27 turns (a staircase of speeds is off by a T²/8).
    assert np.max(np.abs(found - true)) < 16.0 * 0.1**2 / 27.0
