"""The logic of one limit, against a plain second formulation that goes tick by tick."""

from __future__ import annotations

import time

import numpy as np
import pytest
from hypothesis import example, given, settings
from hypothesis import strategies as st

from analysis.protection.limit_logic import (
    STATES,
    Change,
    delay_ticks,
    limit_course,
    runs_of,
    tick_at,
)


def plain(
    beyond: list[float], delay: int, hysteresis: float, latching: bool, resets: list[int]
) -> tuple[list[Change], list[str]]:
    """The contract's words, one tick after the other, with two counters and a state."""
    state, met_for, clear_for = "normal", 0, 0
    changes: list[Change] = []
    states = []
    for tick, value in enumerate(beyond):
        void = value != value
        met = not void and value >= 0.0
        clear = void or (not met and value < -hysteresis)
        met_for = met_for + 1 if met else 0
        clear_for = clear_for + 1 if clear else 0
        if state == "normal" and met_for > delay:
            state = "set"
            changes.append(Change(tick, "set"))
        elif state == "set" and not latching and clear_for > delay:
            state = "normal"
            changes.append(Change(tick, "cleared"))
        elif state == "set" and latching and clear:
            state = "held"
            changes.append(Change(tick, "held"))
        elif state == "held" and met_for > delay:
            state = "set"
        shown = state
        if state == "normal":
            shown = "void" if void else "waiting" if met else "normal"
        states.append(shown)
        for number, reset in enumerate(resets):
            if reset == tick and state == "held" and clear:
                state = "normal"
                changes.append(Change(tick, "reset", number))
    return changes, states


beyonds = st.lists(
    st.sampled_from([-9.0, -2.0, -1.0, 0.0, 3.0, float("nan"), float("inf")]), max_size=60
)
# Longer stretches too, or delays would seldom pass.
stretches = st.lists(
    st.tuples(st.sampled_from([-9.0, -1.0, 0.0, 3.0, float("nan")]), st.integers(1, 12)),
    max_size=12,
).map(lambda parts: [value for value, count in parts for _ in range(count)])


@settings(max_examples=1500, deadline=None)
@given(
    beyond=beyonds | stretches,
    delay=st.integers(0, 7),
    hysteresis=st.sampled_from([0.0, 1.5, 2.0]),
    latching=st.booleans(),
    resets=st.lists(st.integers(-2, 70), max_size=5).map(sorted),
)
@example(beyond=[3.0] * 3 + [-9.0] * 2, delay=2, hysteresis=0.0, latching=True, resets=[3, 3])
@example(beyond=[], delay=0, hysteresis=0.0, latching=True, resets=[0])
def test_runs_and_ticks_agree(
    beyond: list[float], delay: int, hysteresis: float, latching: bool, resets: list[int]
) -> None:
    course = limit_course(
        np.array(beyond, dtype=float),
        delay=delay,
        hysteresis_um=hysteresis,
        latching=latching,
        resets=resets,
    )
    changes, states = plain(beyond, delay, hysteresis, latching, resets)
    assert list(course.changes) == changes
    assert [STATES[code] for code in course.codes] == states


@pytest.mark.parametrize(
    ("delay_s", "ticks"), [(0.0, 0), (0.1, 1), (0.3, 3), (0.7, 7), (1.05, 11), (2.0, 20), (3.3, 33)]
)
def test_delays_are_whole_ticks(delay_s: float, ticks: int) -> None:
    assert delay_ticks(delay_s) == ticks
    assert delay_ticks(delay_s + 1e-12) == ticks


def test_a_time_on_a_tick_is_that_tick() -> None:
    for origin in (0.0, 0.1, 17.3):
        for tick in range(3000):
            # k*0.1 and k/10 differ in the last digit: both are tick k.
            assert tick_at(origin + tick * 0.1, origin) == tick
            assert tick_at(origin + tick / 10.0, origin) == tick
            assert tick_at(origin + tick / 10.0 + 0.05, origin) == tick


def test_runs() -> None:
    runs = runs_of(np.array([True, False, True, True, False, True]))
    assert runs.first.tolist() == [0, 2, 5]
    assert runs.last.tolist() == [0, 3, 5]


def test_work_grows_with_runs_and_not_with_ticks() -> None:
    """A condition that flickers at every second tick is the worst case, and stays harmless."""
    flicker = np.tile([1.0, -1.0], 60_000)
    begin = time.perf_counter()
    course = limit_course(flicker, delay=0, latching=False)
    assert time.perf_counter() - begin < 5.0
    assert len(course.changes) == len(flicker)
