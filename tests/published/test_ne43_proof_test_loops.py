"""What a proof test asks to read at a 4-20 mA loop.

The line and its volts across 250 Ω: **common practice**, table **computed** (4 mA 1.00 V, 12 mA
3.00 V, 20 mA 5.00 V; 3.6 mA 0.90 V, 20.5 mA 5.125 V). 3.6 mA on a fault and 3.8 to 20.5 mA for
readings: NAMUR NE 43, **seen** in three articles on it.
"""

from __future__ import annotations

import pytest

from analysis.model.proof import ProofStep
from analysis.model.setup import Setup
from analysis.protection.proof_test import proof_steps


def steps_with(above: float, range_um: list[float]) -> tuple[ProofStep, ...]:
    return proof_steps(
        Setup.model_validate(
            {
                "probe": [
                    {
                        "name": "X",
                        "scale_factor_mv_per_mil": 200.0,
                        "rest_gap_um": 1270.0,
                        "linear_range_um": [254.0, 2286.0],
                        "fault_v": [-22.0, -0.5],
                    }
                ],
                "limit": [
                    {
                        "probes": ["X"],
                        "measure": "peak_to_peak",
                        "level": "trip",
                        "above": above,
                        "delay_s": 1.0,
                        "latching": True,
                    }
                ],
                "output": [
                    {"probe": "X", "measure": "peak_to_peak", "range_um": range_um},
                    {"probe": "X", "measure": "position", "range_um": [254.0, 2286.0]},
                ],
            }
        )
    )


def loop(steps: tuple[ProofStep, ...], kind: str, what: str) -> tuple[float, str]:
    (step,) = [each for each in steps if each.kind == kind and (each.index == 0 or kind == "fault")]
    (found,) = [each for each in step.expected if each.where == f"loop X {what}"]
    assert found.value is not None
    return found.value, found.text


def test_fifty_mil_of_ten_to_ninety_is_half_of_the_loop() -> None:
    assert loop(steps_with(100.0, [0.0, 200.0]), "start", "gap") == (
        pytest.approx(12.0),
        "12.00 mA, 3.000 V across 250 Ω",
    )


def test_beyond_is_read_beyond() -> None:
    """105 of 0 to 200 µm p-p (5 % beyond the trip): 4 + 16 x 0.525 = 12.4 mA, 3.1 V."""
    assert loop(steps_with(100.0, [0.0, 200.0]), "beyond", "p-p") == (
        pytest.approx(12.4),
        "12.40 mA, 3.100 V across 250 Ω",
    )


def test_a_trip_above_the_full_scale_saturates() -> None:
    assert loop(steps_with(100.0, [0.0, 100.0]), "beyond", "p-p") == (
        20.5,
        "20.50 mA, 5.125 V across 250 Ω",
    )


def test_an_open_cable() -> None:
    steps = steps_with(100.0, [0.0, 200.0])
    for what in ("p-p", "gap"):
        assert loop(steps, "fault", what) == (3.6, "3.60 mA, 0.900 V across 250 Ω")
