"""Events, their order, and the shaft angle between them."""

from __future__ import annotations

from itertools import pairwise

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from analysis.jobs import JobCancelled
from analysis.model.capture import ArraySource, Capture, Channel
from analysis.model.setup import PhaseReference
from analysis.model.span import TimeSpan
from analysis.rotor.phase_reference import TriggerLevels, crossings, order_events, trigger_levels
from analysis.rotor.revolutions import revolution_table
from analysis.rotor.shaft_angle import ShaftAngle, smoothed
from analysis.rotor.turns import find_turns, turns_around
from analysis.rotor.vectors import vector_from
from tests.analysis.synthetic import X, Y, capture_of, pulses, ramp, setup_of, steady


def reference_of(volts: np.ndarray, rate: float = 8000.0) -> Channel:
    return Channel("REF", rate, ArraySource(volts))


def test_crossing_lies_on_the_line_between_two_samples():
    levels = TriggerLevels(-8.0, 1.0)
    places, armed = crossings(np.array([-4.0, -5.0, -9.0, -9.0, -4.0]), levels, falling=True)
    # t = t_i + h (L - v_i)/(v_i+1 - v_i): from -5 to -9 V, -8 V lies at three quarters.
    assert places.tolist() == [1.75]
    assert armed


def test_noise_on_a_slow_edge_gives_one_event():
    edge = np.array([-4.0, -7.9, -8.1, -7.8, -8.2, -7.9, -12.0, -4.0])
    places, _ = crossings(edge, TriggerLevels(-8.0, 1.0), falling=True)
    assert len(places) == 1


def test_rising_edge():
    signal = np.array([-12.0, -12.0, -4.0, -4.0, -12.0])
    places, _ = crossings(signal, TriggerLevels(-8.0, 1.0), falling=False)
    assert places.tolist() == [1.5]


def test_a_trigger_remembers_its_state_from_block_to_block():
    volts = pulses(np.arange(40_000) / 8000.0 * 50.0)
    levels = TriggerLevels(-8.0, 1.0)
    whole, _ = crossings(volts, levels, falling=True)
    pieces = []
    armed = False
    for start in range(0, len(volts), 777):
        early = max(start - 1, 0)
        places, armed = crossings(volts[early : start + 777], levels, falling=True, armed=armed)
        pieces.append(places + early)
    assert np.array_equal(np.concatenate(pieces), whole)


def test_noise_alone_has_no_trigger_level():
    random = np.random.default_rng(3)
    channel = reference_of(-8.0 + 0.05 * random.standard_normal(80_000))
    assert trigger_levels(channel, PhaseReference(channel="REF")) is None
    pulsing = reference_of(pulses(np.arange(80_000) / 8000.0 * 3.0))
    found = trigger_levels(pulsing, PhaseReference(channel="REF"))
    assert found.threshold_v == pytest.approx(-8.0, abs=0.1)


def test_a_standstill_between_two_runs_is_no_revolution():
    # 25 turns a second, two seconds at rest, then on: nothing may span the pause.
    times = np.arange(int(5.0 * 8000)) / 8000.0
    turns = np.where(
        times < 1.5, 25.0 * times, np.where(times < 3.5, 37.3, 37.3 + 25 * (times - 3.5))
    )
    capture = Capture("pause", {"REF": reference_of(pulses(turns))})
    found = find_turns(capture, setup_of(), capture.span)
    assert np.all(found.speed_rpm == pytest.approx(1500.0, rel=0.01))
    assert len(np.unique(found.piece)) == 2


@settings(deadline=None, max_examples=40)
@given(
    lost=st.sets(st.integers(5, 94), max_size=4),
    extra=st.sets(st.integers(5, 94), max_size=4),
    share=st.floats(0.15, 0.85),
    growth=st.floats(0.985, 1.015),
)
def test_missing_and_extra_pulses_are_found(lost, extra, share, growth):
    # Faults far enough apart to be told one from another.
    places = sorted(lost | extra)
    if lost & extra or any(b - a < 6 for a, b in pairwise(places)):
        return
    intervals = 0.02 * growth ** np.arange(99)
    true = np.concatenate([[0.0], np.cumsum(intervals)])
    surplus = [true[i] + share * intervals[i] for i in extra]
    seen = np.sort(np.concatenate([np.delete(true, sorted(lost)), surplus]))
    ordered = order_events(seen)
    assert len(ordered.missing_s) == len(lost)
    assert ordered.extra_s == pytest.approx(sorted(surplus))
    # Intervals grow by one ratio here, and so do the parts of one that lacks a pulse.
    assert ordered.times_s == pytest.approx(true, abs=1e-9)
    assert ordered.put_in.sum() == len(lost)
    assert not ordered.gap_after.any()


def test_missing_and_extra_pulses_are_told_and_do_no_harm():
    capture = capture_of(steady(3000.0), 2.0, 8000.0)
    volts = capture.channels["REF"].volts(0, 16_000)
    times = np.arange(16_000) / 8000.0
    turn = np.floor(steady(3000.0)(times) + 0.2)
    volts[turn == 40] = -4.0  # one lost
    volts[9000:9004] = -12.0  # one too many
    broken = Capture("broken", {**capture.channels, "REF": reference_of(volts)})
    table = revolution_table(broken, setup_of(), broken.span)
    assert len(table) == len(revolution_table(capture, setup_of(), capture.span))
    assert table.repaired.sum() == 2
    assert table.speed_rpm == pytest.approx(np.full(len(table), 3000.0), rel=0.005)
    text = " ".join(table.notices)
    assert "1 missing pulse in REF" in text
    assert "1 extra pulse in REF" in text


def test_events_per_turn():
    # Four marks a turn: every fourth event starts a turn.
    times = np.arange(16_000) / 8000.0
    volts = pulses(4.0 * (0.1 + 20.0 * times), edge_turns=0.05, width_turns=0.3)
    capture = Capture("marks", {"REF": reference_of(volts)})
    setup = setup_of(phase_reference={"channel": "REF", "events_per_turn": 4})
    found = find_turns(capture, setup, capture.span)
    assert found.speed_rpm == pytest.approx(np.full(len(found), 1200.0), rel=1e-3)


def test_angle_follows_constant_acceleration():
    # Turn k of a shaft with constant acceleration from rest is at t = sqrt(2k/a).
    times = np.sqrt(2.0 * np.arange(20, 60) / 5.0)
    angle = ShaftAngle(times)
    between = np.linspace(times[2], times[-3], 1000)
    exact = 5.0 * between**2 / 2.0 - 20.0
    assert np.abs(angle.turns_at(between) - exact).max() < 2e-5


def test_a_step_in_acceleration_disturbs_its_neighbours_only():
    # 10 turns a second, then a ramp of 4 turns/s² from the 30th turn on.
    turn = np.arange(80)
    steady_time = turn / 10.0
    ramp_time = 3.0 + (np.sqrt(100.0 + 8.0 * np.maximum(turn - 30, 0)) - 10.0) / 4.0
    times = np.where(turn <= 30, steady_time, ramp_time)
    angle = ShaftAngle(times)
    between = np.linspace(times[2], times[-3], 5000)
    late = between - 3.0
    exact = np.where(late < 0, 10.0 * between, 30.0 + 10.0 * late + 2.0 * late**2)
    error = np.abs(angle.turns_at(between) - exact)
    assert error.max() < 0.003  # of a turn, next to the step
    far = (between < times[28]) | (between > times[32])
    assert error[far].max() < 2e-5


def test_jitter_of_sampling_is_smoothed_and_no_more():
    random = np.random.default_rng(5)
    interval = 1.0 / 5000.0
    true = np.arange(400) / 90.0
    seen = true + interval * (random.random(400) - 0.5)
    better = smoothed(seen, interval)
    assert np.std(better - true) < 0.6 * np.std(seen - true)
    assert np.abs(better - seen).max() <= interval / 2.0 * (1.0 + 1e-9)


def test_fast_ramp_revolution_by_revolution():
    # 420 to 8800 r/min in 22 s with an edge steeper than a sample; bounds: the figures to reach.
    path = ramp(420.0, 8800.0, 22.0)
    capture = capture_of(path, 22.0, 25_600.0, edge_turns=0.002)
    table = revolution_table(capture, setup_of(), capture.span)
    middle = (table.start_s + table.end_s) / 2.0
    speed = 420.0 + (8800.0 - 420.0) / 22.0 * middle
    assert np.percentile(np.abs(table.speed_rpm / speed - 1.0), 99) < 0.002
    for name, truth in (("X", X), ("Y", Y)):
        for order, expected in truth.orders.items():
            ratio = table.probes[name].vectors[order] / vector_from(*expected)
            amplitude = np.abs(np.abs(ratio) - 1.0)
            lag = np.abs(np.degrees(np.angle(ratio)))
            assert np.percentile(amplitude, 99) < 0.01
            assert np.percentile(lag, 99) < 1.0
            assert np.median(amplitude) < 0.001
            assert np.median(lag) < 0.15


def test_turns_around_a_moment():
    capture = capture_of(steady(3000.0), 4.0, 8000.0)
    for count in (1, 2, 8, 32):
        turns = turns_around(capture, setup_of(), 2.0, count)
        assert len(turns) == count
        middle = (turns.start_s[0] + turns.end_s[-1]) / 2.0
        assert abs(middle - 2.0) <= 0.0101  # half a turn
    at_the_end = turns_around(capture, setup_of(), 4.0, 8)
    assert len(at_the_end) == 8
    slow = capture_of(steady(60.0), 12.0, 2000.0)
    assert len(turns_around(slow, setup_of(), 6.0, 8)) == 8


@pytest.mark.parametrize("guess_s", [0.001, 0.02, 0.3])
def test_a_guess_at_a_turn_changes_no_turn(guess_s):
    capture = capture_of(ramp(1200.0, 3600.0, 4.0), 4.0, 8000.0)
    for moment in (0.0, 1.3, 4.0):
        for count in (1, 8, 33):
            known = turns_around(capture, setup_of(), moment, count)
            guessed = turns_around(capture, setup_of(), moment, count, turn_s=guess_s)
            np.testing.assert_allclose(guessed.start_s, known.start_s, rtol=0.0, atol=1e-9)
            np.testing.assert_allclose(guessed.end_s, known.end_s, rtol=0.0, atol=1e-9)


def test_no_pulses_fall_back_to_blocks_and_say_so():
    capture = capture_of(steady(3000.0), 1.0, 8000.0)
    random = np.random.default_rng(1)
    flat = reference_of(-8.0 + 0.01 * random.standard_normal(8000))
    table = revolution_table(
        Capture("flat", {**capture.channels, "REF": flat}), setup_of(), capture.span
    )
    assert table.kind == "blocks"
    assert len(table) == 10
    assert "no pulses" in table.notices[0]


def test_the_table_does_not_depend_on_the_span_it_is_asked_in():
    # The moment's short read and the whole pass must give the same numbers.
    capture = capture_of(ramp(1000.0, 3000.0, 6.0), 6.0, 8000.0, edge_turns=0.002)
    whole = revolution_table(capture, setup_of(), capture.span)
    part = revolution_table(capture, setup_of(), TimeSpan(2.0, 3.0))
    first = int(np.searchsorted(whole.start_s, part.start_s[0] - 1e-6))
    rows = slice(first, first + len(part))
    assert part.start_s == pytest.approx(whole.start_s[rows], abs=1e-12)
    assert part.probes["Y"].vectors[2] == pytest.approx(whole.probes["Y"].vectors[2][rows])
    assert Y.orders[2][0] == pytest.approx(np.abs(part.probes["Y"].vectors[2]), rel=0.01)


class Told:
    """Writes down what it is told, and stops the job at a share."""

    def __init__(self, stop_at: float = 2.0) -> None:
        self.shares: list[float] = []
        self._stop_at = stop_at

    def report(self, fraction: float, what: str = "") -> None:
        self.shares.append(fraction)
        if fraction >= self._stop_at:
            raise JobCancelled


def test_a_long_search_tells_how_far_it_is_and_can_be_stopped():
    capture = capture_of(steady(3000.0), 60.0, 20_480.0)
    setup = setup_of()
    told = Told()
    assert len(find_turns(capture, setup, capture.span, progress=told)) > 2990
    assert len(told.shares) >= 4
    assert all(a < b for a, b in pairwise(told.shares))
    assert told.shares[-1] < 1.0
    with pytest.raises(JobCancelled):
        find_turns(capture, setup, capture.span, progress=Told(stop_at=0.5))


def test_the_table_s_progress_goes_on_where_the_search_ended():
    told = Told()
    capture = capture_of(steady(3000.0), 60.0, 20_480.0)
    revolution_table(capture, setup_of(), capture.span, progress=told)
    assert all(a <= b for a, b in pairwise(told.shares))
    assert told.shares[-1] == 1.0
