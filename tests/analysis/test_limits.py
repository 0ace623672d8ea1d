"""Instant states, current outputs and zones against their definitions."""

from __future__ import annotations

import numpy as np
import pytest

from analysis.model.results import ProbeRevolutions, RevolutionTable
from analysis.protection.condition_codes import CONDITION_CODES
from analysis.protection.limits import Measures, condition_of, conditions_over, instant_limits
from tests.analysis.synthetic import setup_of


def healthy(pp: float = 50.0, gap: float = 1250.0, first: float = 40.0) -> Measures:
    return Measures(pp, gap, first, fault=False)


FAULT = Measures(None, None, None, fault=True)


def limit(**more: object) -> dict[str, object]:
    return {"probes": ["X"], "measure": "peak_to_peak", "level": "alarm", **more}


@pytest.mark.parametrize(
    ("value", "bounds", "met"),
    [
        (94.9, {"above": 95.0}, False),
        (95.0, {"above": 95.0}, True),  # the condition is >= above
        (1000.0, {"measure": "position", "below": 1000.0}, True),  # and <= below
        (1000.1, {"measure": "position", "below": 1000.0}, False),
        (1500.0, {"measure": "position", "below": 1000.0, "above": 1400.0}, True),
        (41.0, {"measure": "1x", "above": 40.0}, True),
    ],
)
def test_condition(value, bounds, met):
    setup = setup_of(limit=[limit(**bounds)])
    reading = instant_limits(setup, {"X": healthy(value, value, value)}, 3000.0)[0]
    assert reading.met is met
    assert reading.value_um == value


def test_multiplier_raises_the_limit_inside_its_speed_window():
    setup = setup_of(limit=[limit(above=95.0, multiplier={"factor": 2.0, "rpm": [2600.0, 3600.0]})])
    for rpm, above in ((2599.0, 95.0), (2600.0, 190.0), (3600.0, 190.0), (None, 95.0)):
        reading = instant_limits(setup, {"X": healthy(120.0)}, rpm)[0]
        assert reading.above_um == above
        assert reading.met is (above == 95.0)


def test_votes_and_faults():
    both = limit(probes=["X", "Y"], measure="position", level="trip", above=1400.0, votes=2)
    setup = setup_of(limit=[both])

    def met(x: Measures, y: Measures) -> bool | None:
        return instant_limits(setup, {"X": x, "Y": y}, None)[0].met

    beyond = healthy(gap=1500.0)
    assert met(beyond, healthy()) is False
    assert met(beyond, beyond) is True
    # API 670 (from memory): a fault counts as a vote where two are asked for, both faults as two.
    assert met(beyond, FAULT) is True
    assert met(FAULT, FAULT) is True
    assert met(healthy(), FAULT) is False


def test_a_fault_alone_trips_no_vibration_limit():
    single = limit(above=95.0, level="trip")
    voted = limit(probes=["X", "Y"], above=95.0, level="trip", votes=2)
    setup = setup_of(limit=[single, voted])
    readings = instant_limits(setup, {"X": FAULT, "Y": FAULT}, None)
    assert [r.met for r in readings] == [None, None]
    readings = instant_limits(setup, {"X": FAULT, "Y": healthy(120.0)}, None)
    assert [r.met for r in readings] == [None, True]


def test_the_gravest_condition_is_told():
    setup = setup_of(limit=[limit(above=50.0), limit(above=90.0, level="trip")])
    for value, word in ((40.0, "normal"), (60.0, "alarm"), (95.0, "trip")):
        readings = instant_limits(setup, {"X": healthy(value), "Y": healthy(value)}, None)
        assert condition_of("X", readings, setup, fault=False) == word
        assert condition_of("Y", readings, setup, fault=False) == "unknown"  # no limit of its own
    assert condition_of("X", (), setup, fault=True) == "fault"


def test_conditions_over_revolutions_agree_with_one_by_one():
    random = np.random.default_rng(11)
    rows = 400
    limits = [
        limit(above=60.0, multiplier={"factor": 1.5, "rpm": [2000.0, 4000.0]}),
        limit(above=90.0, level="trip"),
        limit(probes=["X", "Y"], measure="position", level="trip", below=1100.0, votes=2),
        limit(probes=["Y"], measure="1x", above=30.0),
    ]
    setup = setup_of(limit=limits)
    probes = {}
    for name in "XY":
        fault = random.random(rows) < 0.2
        low, pp = random.uniform(1000, 1200, rows), random.uniform(20, 120, rows)
        gap, first = low + pp / 2, random.uniform(10, 60, rows) * np.exp(1j)
        for values in (low, pp, gap, first):
            values[fault] = np.nan
        probes[name] = ProbeRevolutions(
            gap, gap, low, low + pp, {1: first}, np.full(rows, 100), fault
        )
    speed = random.uniform(1000, 5000, rows)
    start = np.arange(rows) * 0.02
    table = RevolutionTable("events", start, start + 0.02, speed, np.zeros(rows, bool), probes)
    codes = conditions_over(table, setup)
    for i in range(rows):
        measures = {
            name: FAULT
            if p.fault[i]
            else Measures(p.peak_to_peak_um[i], p.gap_um[i], abs(p.vectors[1][i]), fault=False)
            for name, p in probes.items()
        }
        readings = instant_limits(setup, measures, speed[i])
        for name, p in probes.items():
            one = condition_of(name, readings, setup, fault=bool(p.fault[i]))
            assert codes[name][i] == CONDITION_CODES[one]
