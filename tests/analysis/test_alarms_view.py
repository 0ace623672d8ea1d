"""The Alarms page's answer: settings in force beside settings on trial, on the sample run-up."""

from __future__ import annotations

from pathlib import Path

import pytest

from analysis.files.open import open_capture
from analysis.files.setup_read import parse_setup
from analysis.protection.monitor import monitor_series
from analysis.rotor.revolutions import revolution_table
from analysis.views.alarms import AlarmsRequest, answer_alarms

RUN_UP = Path(__file__).parents[2] / "sample_data" / "run_up.h5"
TRIP = 1


@pytest.fixture(scope="module")
def run_up():
    capture = open_capture(RUN_UP)
    setup = parse_setup(capture.setup_toml or "", "run_up")[0]
    series = monitor_series(capture, setup, revolution_table(capture, setup, capture.span))
    capture.close()
    return series, setup


def with_trip(setup, **changed):
    limit = setup.limit[TRIP].model_copy(update=changed)
    return setup.model_copy(update={"limit": (setup.limit[0], limit, *setup.limit[2:])})


def test_with_two_seconds_the_trip_would_not_have_come(run_up):
    series, setup = run_up
    trial = with_trip(setup, delay_s=2.0)
    answer = answer_alarms(series, setup, AlarmsRequest(trial=trial, limit_index=TRIP))
    assert answer.trial is not None
    assert [(c.kind, c.sentence) for c in answer.changes] == [
        ("gone", "trip of DE-X at 39.9 s would not have come")
    ]
    assert answer.boundary is not None
    (margin,) = answer.boundary.margins
    assert not margin.acts
    # Beyond 125 µm for about 1.5 s on the way up: half a second short of two.
    assert margin.delay_s == pytest.approx(0.5, abs=0.15)
    (in_force,) = answer.in_force_margins
    assert in_force.acts
    assert in_force.delay_s == pytest.approx(-0.5, abs=0.15)
    back = answer_alarms(series, setup, AlarmsRequest(limit_index=TRIP))
    assert (back.trial, back.changes) == (None, ())
    assert back.boundary is not None
    assert back.boundary.margins[0].acts
    assert back.in_force_margins == back.boundary.margins
    assert back.boundary.margins[0].delay_s == pytest.approx(-0.5, abs=0.15)


def test_resets_go_into_both(run_up):
    series, setup = run_up
    trial = with_trip(setup, above=130.0)
    answer = answer_alarms(series, setup, AlarmsRequest(resets_s=(80.0,), trial=trial))
    assert answer.boundary is None
    assert answer.advice == ()
    assert answer.in_force.resets_s == answer.trial.resets_s == (80.0,)
    sets = [e.time_s for e in answer.in_force.events if e.index == TRIP and e.event == "set"]
    assert sets == pytest.approx([39.9, 115.5], abs=0.3)


def test_a_limit_that_is_not_there_has_no_boundary(run_up):
    series, setup = run_up
    assert answer_alarms(series, setup, AlarmsRequest(limit_index=99)).boundary is None


def test_other_captures_join_the_boundary(run_up):
    series, setup = run_up
    request = AlarmsRequest(limit_index=TRIP, name="today", others={"before": series})
    answer = answer_alarms(series, setup, request)
    assert answer.boundary is not None
    assert list(answer.boundary.curves) == ["today", "before"]
    assert answer.advice
