"""Step captures with known answers: exactly the expected events, each within 0.35 s, no others."""

from __future__ import annotations

import math
from itertools import pairwise

import numpy as np
import pytest

from analysis.model.replay_results import ReplayResult
from analysis.model.units import LengthUnit
from analysis.protection.replay import replay
from tests.analysis.alarm_captures import (
    made_series,
    replayed,
    setup_with,
    step_capture,
    times_of,
    told,
)

WITHIN_S = 0.35
X = {"probes": ["X"], "measure": "peak_to_peak", "level": "alarm", "above": 95.0}
QUIET = [(0.0, 30.0)]


def expect(result: ReplayResult, *events: tuple[str, float]) -> None:
    """These events at these times, in this order, and no others."""
    assert [event for event, _, _ in told(result)] == [event for event, _ in events]
    assert times_of(result) == pytest.approx([time for _, time in events], abs=WITHIN_S)
    for event in result.events:
        if event.index is not None:
            limit = result.setup.limit[event.index]
            assert (event.probes, event.measure, event.level) == (
                limit.probes,
                limit.measure,
                limit.level,
            )
            assert event.why
    for runs in result.states:
        assert runs[0].start_s == result.series.time_s[0]
        assert runs[-1].end_s == result.series.time_s[-1]
        for one, following in pairwise(runs):
            assert one.end_s == following.start_s
            assert one.state != following.state
            assert one.end_s > one.start_s


def one_probe(*steps: tuple[float, float], seconds: float = 20.0, **more: object):
    return step_capture(seconds, {"X": steps, "Y": QUIET}, **more)


def test_set_after_the_delay_and_cleared_after_the_delay():
    capture = one_probe((0.0, 30.0), (5.0, 110.0), (12.0, 40.0))
    result = replayed(capture, setup_with({**X, "delay_s": 2.0}))
    expect(result, ("set", 7.0), ("cleared", 14.0))
    assert [e.value_um for e in result.events] == pytest.approx([110.0, 40.0], rel=2e-3)
    assert [run.state for run in result.states[0]] == ["normal", "waiting", "set", "normal"]
    assert result.events[0].why == "95 µm or more for 2.0 s"
    assert result.events[1].why == "below 95 µm for 2.0 s"


@pytest.mark.parametrize("origin_s", [0.0, 1000.03])
def test_a_burst_shorter_than_the_delay_does_nothing(origin_s):
    capture = one_probe((0.0, 30.0), (5.0, 110.0), (6.8, 40.0), (10.0, 110.0), (12.4, 40.0),
                        start_s=origin_s)  # fmt: skip
    result = replayed(capture, setup_with({**X, "delay_s": 2.0}))
    expect(result, ("set", origin_s + 12.0), ("cleared", origin_s + 14.4))
    assert [run.state for run in result.states[0]][:4] == ["normal", "waiting", "normal", "waiting"]


def test_without_a_delay():
    result = replayed(one_probe((0.0, 30.0), (5.0, 110.0), (5.3, 40.0)), setup_with(X))
    expect(result, ("set", 5.0), ("cleared", 5.3))
    assert result.events[0].why == "95 µm or more"


def test_a_dip_shorter_than_the_delay_clears_nothing():
    capture = one_probe((0.0, 30.0), (4.0, 110.0), (9.0, 40.0), (10.0, 110.0))
    expect(replayed(capture, setup_with({**X, "delay_s": 2.0})), ("set", 6.0))


def test_the_condition_is_met_at_the_setting_itself():
    at = np.full(50, 30.0)
    at[20:] = 95.0
    result = replay(made_series(50, {"X": at}), setup_with({**X, "delay_s": 0.7}))
    assert [(e.event, e.time_s) for e in result.events] == [("set", pytest.approx(2.8))]


LATCHING = {**X, "level": "trip", "delay_s": 1.0, "latching": True}


def test_latch_and_resets_while_present_and_while_absent():
    capture = one_probe((0.0, 30.0), (3.0, 110.0), (8.0, 40.0))
    setup = setup_with(LATCHING)
    result = replayed(capture, setup, resets_s=[12.0, 6.0, 2.0])
    expect(result, ("set", 4.0), ("held", 8.0), ("reset", 12.0))
    assert result.events[-1].time_s == 12.0  # a reset's own time, not a tick's
    assert result.resets_s == (2.0, 6.0, 12.0)
    assert [r.state for r in result.states[0]] == ["normal", "waiting", "set", "held", "normal"]
    assert "latch holds it until the reset at 12.0 s" in result.events[1].why
    without = replayed(capture, setup)
    expect(without, ("set", 4.0), ("held", 8.0))
    assert without.events[1].why == ("p-p fell below 95 µm; the latch holds it, no reset since")
    assert without.states[0][-1].state == "held"


def test_a_reset_between_ticks_parts_the_states_at_its_time():
    capture = one_probe((0.0, 30.0), (3.0, 110.0), (8.0, 40.0), (10.4, 110.0), (10.6, 30.0))
    result = replayed(capture, setup_with(LATCHING), resets_s=[10.337])
    expect(result, ("set", 4.0), ("held", 8.0), ("reset", 10.337))
    edges = [run.start_s for run in result.states[0]]
    assert 10.337 in edges


def test_held_again_only_after_the_condition_has_held_for_the_delay():
    up, down = 110.0, 40.0
    capture = one_probe((0, 30.0), (2, up), (5, down), (6, up), (6.5, down), (9, up), (13, down))
    result = replayed(capture, setup_with(LATCHING), resets_s=[6.3, 11.0, 15.0])
    expect(result, ("set", 3.0), ("held", 5.0), ("held", 13.0), ("reset", 15.0))
    assert [run.state for run in result.states[0]] == [
        "normal",
        "waiting",
        "set",
        "held",
        "set",
        "held",
        "normal",
    ]


def test_after_a_reset_the_limit_sets_anew():
    capture = one_probe((0.0, 30.0), (2.0, 110.0), (5.0, 40.0), (9.0, 110.0))
    result = replayed(capture, setup_with(LATCHING), resets_s=[7.0])
    expect(result, ("set", 3.0), ("held", 5.0), ("reset", 7.0), ("set", 10.0))


def test_one_reset_lets_go_of_every_latch_whose_condition_is_gone():
    capture = step_capture(
        16.0, {"X": [(0.0, 30.0), (2.0, 110.0), (5.0, 40.0)], "Y": [(0.0, 30.0), (3.0, 110.0)]}
    )
    second = {**LATCHING, "probes": ["Y"]}
    third = {**LATCHING, "level": "alarm", "above": 50.0}
    result = replayed(capture, setup_with(LATCHING, second, third), resets_s=[9.0])
    assert [(e.event, e.index) for e in result.events if e.event == "reset"] == [
        ("reset", 0),
        ("reset", 2),
    ]
    assert result.states[1][-1].state == "set"


def test_hysteresis():
    limit = {**X, "hysteresis_um": 10.0, "delay_s": 1.0}
    capture = one_probe((0.0, 30.0), (3.0, 100.0), (7.0, 90.0), (12.0, 84.0))
    expect(replayed(capture, setup_with(limit)), ("set", 4.0), ("cleared", 13.0))
    plain = replayed(capture, setup_with({**X, "delay_s": 1.0}))
    expect(plain, ("set", 4.0), ("cleared", 8.0))
    # A reset within the band does nothing: the condition is not gone yet.
    latching = setup_with({**limit, "latching": True})
    held = replayed(capture, latching, resets_s=[9.0, 15.0])
    expect(held, ("set", 4.0), ("held", 12.0), ("reset", 15.0))
    assert "below 95 µm by 10 µm" in held.events[1].why


def test_above_and_below_on_position():
    capture = step_capture(
        20.0,
        {"X": QUIET, "Y": QUIET},
        {"X": [(0.0, 1250.0), (3.0, 1600.0), (7.0, 1250.0), (11.0, 900.0), (15.0, 1250.0)]},
    )
    limit = {
        "probes": ["X"],
        "measure": "position",
        "level": "alarm",
        "above": 1560.0,
        "below": 960.0,
        "delay_s": 1.0,
    }
    result = replayed(capture, setup_with(limit))
    expect(result, ("set", 4.0), ("cleared", 8.0), ("set", 12.0), ("cleared", 16.0))
    assert result.events[0].why == "1560 µm or more for 1.0 s"
    assert result.events[2].why == "960 µm or less for 1.0 s"
    assert [e.value_um for e in result.events][::2] == pytest.approx([1600.0, 900.0], abs=1.0)


def test_first_order_amplitude():
    limit = {**X, "measure": "1x", "delay_s": 1.0}
    expect(replayed(one_probe((0.0, 30.0), (5.0, 110.0)), setup_with(limit)), ("set", 6.0))


def test_the_multiplier_raises_the_limit_while_the_speed_is_inside():
    limit = {**X, "delay_s": 1.0, "multiplier": {"factor": 2.0, "rpm": [2600.0, 3400.0]}}
    capture = one_probe(
        (0.0, 110.0), speed_hz=[(0.0, 50.0), (6.0, 62.5), (12.0, 50.0)], seconds=18.0
    )
    expect(replayed(capture, setup_with(limit)), ("set", 7.0), ("cleared", 13.0))
    louder = one_probe((0.0, 110.0), (9.0, 195.0), speed_hz=[(0.0, 50.0)])
    raised = replayed(louder, setup_with(limit))
    expect(raised, ("set", 10.0))
    assert raised.events[0].why == "190 µm or more (95 µm × 2 at this speed) for 1.0 s"


def test_a_position_takes_no_multiplier():
    gap = np.full(50, 1650.0)
    limit = {"probes": ["X"], "measure": "position", "level": "alarm", "above": 1600.0}
    raised = {**limit, "multiplier": {"factor": 2.0, "rpm": [2600.0, 3400.0]}}
    series = made_series(50, gap={"X": gap})
    assert [e.event for e in replay(series, setup_with(raised)).events] == ["set"]


THRUST = {
    "probes": ["X", "Y"],
    "measure": "position",
    "level": "trip",
    "above": 1600.0,
    "delay_s": 1.0,
    "latching": True,
    "votes": 2,
}


def thrust(x: list[tuple[float, float]], y: list[tuple[float, float]], **more: object):
    return step_capture(20.0, {"X": QUIET, "Y": QUIET}, {"X": x, "Y": y}, **more)


def test_two_of_two():
    one = thrust([(0.0, 1250.0), (3.0, 1700.0)], [(0.0, 1250.0)])
    expect(replayed(one, setup_with(THRUST)))
    both = thrust([(0.0, 1250.0), (3.0, 1700.0)], [(0.0, 1250.0), (8.0, 1650.0)])
    result = replayed(both, setup_with(THRUST))
    expect(result, ("set", 9.0))
    # The second one decides, so its reading is told.
    assert result.events[0].value_um == pytest.approx(1650.0, abs=1.0)
    assert result.events[0].why == "X and Y: 1600 µm or more for 1.0 s"


def test_two_of_two_with_a_fault_as_a_vote():
    capture = thrust([(0.0, 1250.0), (3.0, 1700.0)], [(0.0, 1250.0)], faults={"Y": [(8.0, 12.0)]})
    result = replayed(capture, setup_with(THRUST), resets_s=[14.0])
    expect(
        result,
        ("fault", 8.0),
        ("set", 9.0),
        ("fault_cleared", 12.0),
        ("held", 12.0),
        ("reset", 14.0),
    )
    assert result.events[0].probes == ("Y",)
    assert (result.events[0].index, result.events[0].measure) == (None, None)
    assert result.events[1].value_um == pytest.approx(1700.0, abs=1.0)
    assert "the circuit fault of Y counts as a vote" in result.events[1].why
    single = replayed(capture, setup_with({**THRUST, "votes": 1, "probes": ["Y"]}))
    expect(single, ("fault", 8.0), ("fault_cleared", 12.0))


def test_two_faults_are_two_votes_for_position_and_none_for_vibration():
    capture = thrust(
        [(0.0, 1250.0)], [(0.0, 1250.0)], faults={"X": [(8.0, 12.0)], "Y": [(8.0, 12.0)]}
    )
    result = replayed(capture, setup_with(THRUST))
    assert [e.event for e in result.events if e.index == 0] == ["set", "held"]
    assert result.events[2].value_um is None
    assert "circuit faults of X and Y count as votes for 1.0 s" in result.events[2].why
    vibration = setup_with({**THRUST, "measure": "peak_to_peak", "above": 95.0})
    assert all(e.index is None for e in replayed(capture, vibration).events)


def test_a_fault_voids_a_vibration_limit_and_the_latch_holds():
    capture = one_probe((0.0, 30.0), (3.0, 110.0), faults={"X": [(8.0, 10.0)]}, seconds=14.0)
    result = replayed(capture, setup_with(LATCHING))
    expect(result, ("set", 4.0), ("fault", 8.0), ("held", 8.0), ("fault_cleared", 10.0))
    assert "nothing to judge (a circuit fault)" in result.events[2].why
    assert result.events[2].value_um is None
    clears = replayed(capture, setup_with({**X, "delay_s": 1.0}))
    assert [e.event for e in clears.events] == ["set", "fault", "cleared", "fault_cleared", "set"]
    alone = one_probe((0.0, 30.0), faults={"X": [(8.0, 10.0)]}, seconds=14.0)
    states = replayed(alone, setup_with(X)).states[0]
    assert [run.state for run in states] == ["normal", "void", "normal"]


def test_a_gap_voltage_outside_its_range_is_a_fault_and_no_position():
    """2900 µm reads -22.8 V, outside -22 to -0.5 V: the probe's lead is off, not the shaft."""
    capture = thrust([(0.0, 1250.0), (5.0, 2900.0), (9.0, 1250.0)], [(0.0, 1250.0)])
    result = replayed(capture, setup_with({**THRUST, "votes": 1}))
    expect(result, ("fault", 5.0), ("fault_cleared", 9.0))
    assert "outside −22 to −0.5 V" in result.events[0].why
    assert result.events[1].why == "gap voltage inside −22 to −0.5 V again"


def test_a_capture_that_begins_beyond_its_limit_and_at_fault():
    capture = one_probe((0.0, 110.0), (6.0, 30.0), faults={"Y": [(0.0, 2.0)]}, seconds=10.0)
    result = replayed(capture, setup_with({**X, "delay_s": 1.0}))
    expect(result, ("fault", 0.0), ("set", 1.0), ("fault_cleared", 2.0), ("cleared", 7.0))
    assert result.states[0][0].state == "waiting"


def region(level: str, amplitude: list[float], lag: list[float], **more: object):
    where = {"amplitude_um": amplitude, "lag_deg": lag}
    return {"probes": ["X"], "measure": "1x_vector", "level": level, "region": where, **more}


def test_1x_must_stay_in_its_region():
    turned = np.full(200, 40.0 * np.exp(-1j * np.radians(60.0)))
    turned[50:100] = 40.0 * np.exp(-1j * np.radians(100.0))  # the lag alone leaves it
    turned[150:] = 70.0 * np.exp(-1j * np.radians(60.0))  # the amplitude alone
    limits = (
        region("alarm", [20.0, 60.0], [30.0, 90.0], delay_s=1.0),
        region("trip", [20.0, 60.0], [300.0, 110.0], delay_s=1.0, latching=True),
    )
    series = made_series(200, first_order={"X": turned})
    result = replay(series, setup_with(*limits), resets_s=[12.0])
    assert [(e.event, e.index, round(e.time_s, 3)) for e in result.events] == [
        ("set", 0, 6.1),
        ("cleared", 0, 11.1),
        ("set", 0, 16.1),
        ("set", 1, 16.1),
    ]
    assert result.events[0].why == (
        "1X outside its region (20 µm to 60 µm p-p, lag 30° to 90°) for 1.0 s"
    )
    unknown = made_series(200, first_order={"X": turned}, phase_known=False)
    without = replay(unknown, setup_with(*limits))
    assert without.events == ()
    assert [run.state for run in without.states[0]] == ["void"]


def test_1x_in_a_captured_signal():
    """A turn of the mark by a quarter of a turn is a quarter of a turn of lag."""
    capture = one_probe((0.0, 40.0))
    lag = math.degrees(
        -np.angle(replayed(capture, setup_with()).series.probes["X"].first_order[50])
    )
    at = lag % 360.0
    good = region("alarm", [30.0, 50.0], [(at - 20.0) % 360.0, (at + 20.0) % 360.0])
    bad = region("trip", [30.0, 50.0], [(at + 20.0) % 360.0, (at + 60.0) % 360.0])
    result = replayed(capture, setup_with(good, bad))
    assert {event.index for event in result.events} == {1}


def test_units_of_the_sentences():
    series = made_series(50, {"X": np.full(50, 200.0)})
    result = replay(series, setup_with({**X, "above": 101.6}), unit=LengthUnit.MIL)
    assert result.events[0].why == "4.00 mil or more"


def test_no_limits_no_ticks_and_probes_that_are_not_there():
    assert replay(made_series(20, {"X": np.full(20, 9.0)}), setup_with()).events == ()
    empty = replay(made_series(0, {"X": np.empty(0)}), setup_with(X, LATCHING), resets_s=[1.0])
    assert (empty.events, empty.states) == ((), ((), ()))
    assert all(runs == () for runs in empty.relays.values())
    missing = replay(made_series(20, {"X": np.full(20, 9.0)}), setup_with({**X, "probes": ["Y"]}))
    assert [run.state for run in missing.states[0]] == ["void"]


def test_resets_outside_the_ticks_do_nothing():
    level = np.append(np.full(30, 110.0), np.full(30, 20.0))
    series = made_series(60, {"X": level}, origin_s=100.0)
    for reset in (-5.0, 0.0, 99.0, 106.2, 1e9):
        result = replay(series, setup_with(LATCHING), resets_s=[reset])
        assert [e.event for e in result.events] == ["set", "held"]
