"""Two-out-of-two logic of axial (thrust) position.

Source: API 670, clause on voting, **from memory** (fairly sure; the text could not be opened): a
trip when both channels are beyond their setting, when one is and the other has a circuit fault, or
when both have one. Instant states, without delay and latch.
"""

from __future__ import annotations

import pytest

from analysis.model.setup import Setup
from analysis.protection.limits import Measures, instant_limits

SETUP = Setup.model_validate(
    {
        "probe": [
            {"name": name, "kind": "axial", "scale_factor_mv_per_mil": 200.0}
            for name in ("THR-A", "THR-B")
        ],
        "limit": [
            {
                "probes": ["THR-A", "THR-B"],
                "measure": "position",
                "level": "trip",
                "above": 1700.0,
                "below": 800.0,
                "votes": 2,
            }
        ],
    }
)
STATES = {
    "inside": Measures(None, 1250.0, None, fault=False),
    "near": Measures(None, 800.0, None, fault=False),
    "far": Measures(None, 1700.0, None, fault=False),
    "fault": Measures(None, None, None, fault=True),
}


@pytest.mark.parametrize(
    ("a", "b", "trips"),
    [
        ("inside", "inside", False),
        ("far", "inside", False),
        ("inside", "near", False),
        ("far", "far", True),
        ("near", "near", True),
        ("far", "fault", True),
        ("fault", "near", True),
        ("fault", "inside", False),
        ("fault", "fault", True),
    ],
)
def test_two_out_of_two(a: str, b: str, trips: bool) -> None:
    (limit,) = instant_limits(SETUP, {"THR-A": STATES[a], "THR-B": STATES[b]}, None)
    assert limit.met is trips
