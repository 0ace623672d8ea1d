"""Captured proof tests: a good one passes, and a wrong monitor is found at the step that shows it.

The monitor's settings are those that the capture is replayed through; the steps are written for
the settings that ought to be in it.
"""

from __future__ import annotations

from dataclasses import replace

import pytest

from analysis.model.proof import ProofStep, StepResult
from analysis.model.setup import Setup
from analysis.protection.proof_plan import Group, Phase
from analysis.protection.proof_test import check_capture, proof_steps
from analysis.protection.proof_values import Motion

from .proof_capture import ALARM, TRIP, Doing, captured, doings, limit, setup_with, thrust_setup

RIGHT = setup_with(ALARM, TRIP)
BY_HAND = ("prepare", "finish")


def checked(monitor: Setup, specified: Setup = RIGHT, change=lambda doing: doing):
    steps = proof_steps(specified)
    return steps, check_capture(steps, captured(doings(specified), monitor, change=change))


def bad(steps: tuple[ProofStep, ...], results: tuple[StepResult, ...]) -> dict[tuple, str]:
    """What did not pass, by limit and kind."""
    return {
        (step.index, step.kind): result.result
        for step, result in zip(steps, results, strict=True)
        if result.result != "pass" and step.kind not in BY_HAND
    }


def test_a_good_one_passes_step_by_step() -> None:
    steps, results = checked(RIGHT)
    assert bad(steps, results) == {}
    assert [r.number for r in results] == [s.number for s in steps]
    hand = [r.result for s, r in zip(steps, results, strict=True) if s.kind in BY_HAND]
    assert hand == ["not done", "not done"]
    found = [r.start_s for s, r in zip(steps, results, strict=True) if s.kind == "beyond"]
    assert found == sorted(found)


def test_the_steps_are_found_where_they_were_done() -> None:
    """The tester keeps a list: each stretch that was found lies within the one that was made."""
    made: list[tuple[str, float, float]] = []
    at = 0.5
    for doing in doings(RIGHT):
        made.append((doing.kind, at, at + doing.phase.length_s))
        at += doing.phase.length_s
    _, results = checked(RIGHT)
    for step, result in zip(proof_steps(RIGHT), results, strict=True):
        if step.kind in ("beyond", "near", "fault", "back", "reset"):
            assert result.start_s is not None
            # To the tick, and one for the window that a tick looks back at.
            assert any(
                kind == step.kind and begin - 0.15 <= result.start_s <= end + 0.15
                for kind, begin, end in made
            ), step


@pytest.mark.parametrize(
    ("trip", "first"),
    [
        (TRIP | {"delay_s": 0.4}, (1, "burst")),
        (TRIP | {"delay_s": 2.5}, (1, "beyond")),
        (TRIP | {"latching": False}, (1, "back")),
        (TRIP | {"above": 140.0}, (1, "beyond")),
        (TRIP | {"above": 110.0}, (1, "near")),
    ],
    ids=["delay too short", "delay too long", "no latch", "set too high", "set too low"],
)
def test_a_wrong_trip_fails_where_it_shows(trip: dict[str, object], first: tuple) -> None:
    steps, results = checked(setup_with(ALARM, trip))
    wrong = bad(steps, results)
    assert next(iter(wrong)) == first
    assert wrong[first] == "fail"
    assert not any(index == 0 for index, _ in wrong), "the alarm is right"


def test_a_missing_latch_is_told_at_both_steps() -> None:
    steps, results = checked(setup_with(ALARM, TRIP | {"latching": False}))
    assert bad(steps, results) == {(1, "back"): "fail", (1, "reset"): "fail"}
    (told,) = [
        r.remark for s, r in zip(steps, results, strict=True) if s.kind == "back" and s.index
    ]
    assert "no latch" in told


def test_a_latch_where_there_should_be_none() -> None:
    steps, results = checked(setup_with(ALARM | {"latching": True}, TRIP))
    assert bad(steps, results)[0, "back"] == "fail"


@pytest.mark.parametrize("kind", ["burst", "reset_present", "reset", "fault", "near"])
def test_what_was_not_done_is_not_found(kind: str) -> None:
    def without(doing: Doing) -> Doing | None:
        if doing.kind != kind:
            return doing
        # A fault that was not made leaves the time before and after it.
        return replace(doing, reset=False) if kind.startswith("reset") else None

    steps, results = checked(RIGHT, change=without)
    wrong = bad(steps, results)
    missed = [key for key in wrong if key[1] == kind]
    if kind == "near":
        # Between a burst and the next step the tester stays just inside as well.
        assert not missed
        return
    assert missed
    assert {wrong[key] for key in missed} == {"not found"}
    assert set(wrong.values()) == {"not found"}


def test_nothing_of_it_in_another_capture() -> None:
    still = Phase((("DE-X", Motion(40.0, 1250.0)),), 20.0)
    steps = proof_steps(RIGHT)
    results = check_capture(steps, captured([Doing("start", still, False)], RIGHT))
    kinds = {s.kind: r.result for s, r in zip(steps, results, strict=True) if s.index is not None}
    assert kinds.pop("start") == "pass"
    assert set(kinds.values()) == {"not found"}


def test_one_sweep_through_alarm_and_trip() -> None:
    """The way it is often done: up through both limits, back between them, reset, down."""
    levels = [(40.0, 4.0), (110.0, 4.0), (140.0, 4.0), (110.0, 4.0), (110.0, 3.0), (40.0, 4.0)]
    done = [
        Doing("sweep", Phase((("DE-X", Motion(um, 1250.0)),), seconds), place == 4)
        for place, (um, seconds) in enumerate(levels)
    ]
    steps = proof_steps(RIGHT)
    results = check_capture(steps, captured(done, RIGHT))
    kinds = {
        (s.index, s.kind): r.result for s, r in zip(steps, results, strict=True) if s.number > 1
    }
    for key in ((0, "start"), (0, "beyond"), (0, "back"), (1, "beyond"), (1, "back"), (1, "reset")):
        assert kinds[key] == "pass", key
    for key in ((0, "burst"), (1, "burst"), (1, "reset_present"), (None, "fault")):
        assert kinds[key] == "not found", key


def test_position_from_both_sides() -> None:
    setup = setup_with(limit("trip", "position", above=1500.0, below=1000.0))
    steps, results = checked(setup, setup)
    assert bad(steps, results) == {}
    sides = [step.side for step in steps if step.kind == "beyond"]
    assert sides == ["above", "below"]
    steps, results = checked(
        setup_with(limit("trip", "position", above=1500.0, below=900.0)), setup
    )
    wrong = [s.side for s, r in zip(steps, results, strict=True) if r.result == "fail"]
    assert wrong
    assert set(wrong) == {"below"}


def test_two_out_of_two() -> None:
    setup = thrust_setup()
    steps, results = checked(setup, setup)
    assert bad(steps, results) == {}
    assert {"one_short", "fault_vote"} <= {step.kind for step in steps}


def test_one_out_of_two_is_found_where_a_vote_is_missing() -> None:
    steps, results = checked(thrust_setup(votes=1), thrust_setup())
    wrong = bad(steps, results)
    assert next(iter(wrong)) == (0, "one_short")
    assert wrong[0, "one_short"] == "fail"


def test_a_probe_on_its_own() -> None:
    setup = setup_with(ALARM, TRIP)
    group = Group("limit", 1, "above", ("DE-X",))
    steps = proof_steps(setup, [1])
    results = check_capture(steps, captured(doings(setup, [group]), setup))
    wrong = bad(steps, results)
    assert set(wrong) == {(None, "start"), (None, "fault"), (None, "restore")}
    assert set(wrong.values()) == {"not found"}


def test_a_vibration_limit_that_acts_on_an_open_cable() -> None:
    """No replay does so; a p-p limit that sets in the stretch of the fault is told all the same."""
    steps = proof_steps(RIGHT)
    good = captured(doings(RIGHT), RIGHT)
    (opened,) = [event.time_s for event in good.events if event.event == "fault"]
    (example,) = [event for event in good.events if event.event == "set" and event.index == 1]
    acting = replace(good, events=(*good.events, replace(example, time_s=opened + 1.0)))
    wrong = bad(steps, check_capture(steps, acting))
    assert wrong == {(None, "fault"): "fail"}
