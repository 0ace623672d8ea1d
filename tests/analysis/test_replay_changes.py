"""What trial settings would have changed: in events, and in words."""

from __future__ import annotations

import numpy as np
import pytest

from analysis.protection.replay import compare, replay
from tests.analysis.alarm_captures import made_series, setup_with

TRIP = {
    "probes": ["X"],
    "measure": "peak_to_peak",
    "level": "trip",
    "above": 100.0,
    "delay_s": 1.0,
    "latching": True,
}
ALARM = {**TRIP, "level": "alarm", "above": 60.0, "latching": False}


@pytest.fixture
def series():
    level = np.full(400, 30.0)
    level[100:115] = 120.0  # 1.4 s from its first tick to its last
    level[250:300] = 90.0
    return made_series(400, {"X": level})


def changes(series, before, after, resets_s=()):
    a = replay(series, setup_with(*before), resets_s=resets_s)
    b = replay(series, setup_with(*after), resets_s=resets_s)
    found = compare(a, b)
    assert compare(a, a) == compare(b, b) == ()
    # The other way round the same events are told of, from the other side.
    mirrored = compare(b, a)
    assert {(c.before, c.after) for c in mirrored} == {(c.after, c.before) for c in found}
    return [(change.kind, change.sentence) for change in found]


def test_a_longer_delay_would_have_kept_the_trip_away(series):
    longer = {**TRIP, "delay_s": 2.0}
    assert changes(series, [TRIP], [longer], [20.0]) == [
        ("gone", "trip of X at 11.1 s would not have come")
    ]
    assert changes(series, [longer], [TRIP], [20.0]) == [
        ("new", "trip of X would have come at 11.1 s")
    ]


def test_what_comes_at_another_time_has_moved(series):
    assert changes(series, [ALARM], [{**ALARM, "delay_s": 0.5}]) == [
        ("moved", "alarm of X at 11.1 s would have come at 10.6 s, 0.5 s earlier"),
        ("moved", "alarm of X would have cleared at 12.1 s in place of 12.6 s, 0.5 s earlier"),
        ("moved", "alarm of X at 26.1 s would have come at 25.6 s, 0.5 s earlier"),
        ("moved", "alarm of X would have cleared at 30.6 s in place of 31.1 s, 0.5 s earlier"),
    ]


def test_a_latch_swallows_what_comes_while_it_holds(series):
    latched = {**ALARM, "latching": True}
    assert changes(series, [ALARM], [latched]) == [
        ("new", "alarm of X would have been held by its latch at 11.6 s"),
        ("gone", "alarm of X would not have cleared at 12.6 s"),
        ("gone", "alarm of X at 26.1 s would not have come: still set since 11.1 s"),
        ("new", "alarm of X would have been held by its latch at 30.1 s"),
    ]


def test_settings_that_change_nothing(series):
    assert changes(series, [ALARM, TRIP], [{**ALARM, "above": 61.0}, TRIP]) == []


def test_limits_that_one_setup_has_and_the_other_has_not(series):
    assert changes(series, [ALARM], [ALARM, TRIP]) == [
        ("new", "trip of X would have come at 11.1 s")
    ]
