"""Tasks: what the program measures answers them, and the usual mistakes do not."""

from __future__ import annotations

import math

import numpy as np
import pytest

from analysis.rotor.vectors import amplitude_and_lag
from analysis.simulate.recipe_write import recipe_to_toml
from analysis.simulate.tasks import KINDS, Task, check_answer, make_task
from tests.analysis.lab_states import measured

SEEDS = range(12)


def first_order(task: Task, place: int, folder) -> complex:
    state = task.states[place]
    return measured(state, folder, turns=8).probes[state.probes[0].name].vectors[1].vector


@pytest.mark.parametrize("kind", KINDS)
def test_every_try_differs_and_can_be_made_again(kind):
    tasks = [make_task(kind, seed) for seed in SEEDS]
    assert len({task.states for task in tasks}) == len(tasks)
    assert make_task(kind, 3) == tasks[3]
    for task in tasks:
        assert task.title == KINDS[kind]
        assert task.question.endswith("." if kind == "alarm" else "?")
        assert task.asks
        assert all(recipe_to_toml(recipe) for recipe in task.recipes)


@pytest.mark.parametrize("seed", SEEDS)
def test_phase_lag(seed, tmp_path):
    task = make_task("phase_lag", seed)
    _, lag = amplitude_and_lag(first_order(task, 0, tmp_path))
    assert check_answer(task, {"lag_deg": lag}).right
    assert check_answer(task, {"lag_deg": f"{lag:.1f}".replace(".", ",")}).right
    assert check_answer(task, {"lag_deg": lag - 360.0}).right
    assert not check_answer(task, {"lag_deg": lag + 10.0}).right
    assert "negative peak" in check_answer(task, {"lag_deg": lag + 180.0}).words
    lead = check_answer(task, {"lag_deg": -lag})
    # Close to 0° and 180° a lead is the same.
    if min(lag % 180.0, 180.0 - lag % 180.0) > 8.0:
        assert not lead.right
        # Close to 90° and 270° it is the negative peak as well.
        assert "lead" in lead.words or abs(lag % 180.0 - 90.0) < 6.0


@pytest.mark.parametrize("seed", SEEDS)
def test_precession(seed, tmp_path):
    task = make_task("precession", seed)
    true = measured(task.states[0], tmp_path, turns=8).planes["Lab"].orbits[1].precession
    other = {"forward": "backward", "backward": "forward"}[true]
    assert check_answer(task, {"precession": true}).right
    assert not check_answer(task, {"precession": other}).right


def test_both_precessions_come_up_and_every_plane():
    ways = {
        check_answer(make_task("precession", seed), {"precession": "forward"}).right
        for seed in range(30)
    }
    assert ways == {True, False}
    planes = {
        plane
        for seed in range(30)
        for plane in "ABC"
        if check_answer(make_task("swapped", seed), {"plane": plane}).right
    }
    assert planes == {"A", "B", "C"}


@pytest.mark.parametrize("seed", SEEDS)
def test_swapped(seed, tmp_path):
    task = make_task("swapped", seed)
    ways = [
        measured(state, tmp_path, turns=8).planes["Lab"].orbits[1].precession
        for state in task.states
    ]
    assert sorted(ways) == ["backward", "forward", "forward"]
    for plane, way in zip("ABC", ways, strict=True):
        assert check_answer(task, {"plane": plane}).right is (way == "backward")


@pytest.mark.parametrize("seed", SEEDS)
def test_slow_roll(seed, tmp_path):
    task = make_task("slow_roll", seed)
    slow, running = (first_order(task, place, tmp_path) for place in (0, 1))
    amplitude, lag = amplitude_and_lag(running - slow)
    assert check_answer(task, {"um_pp": amplitude, "lag_deg": lag}).right
    assert not check_answer(task, {"um_pp": amplitude, "lag_deg": lag + 12.0}).right
    assert not check_answer(task, {"um_pp": amplitude + 8.0, "lag_deg": lag}).right
    wrong = amplitude_and_lag(running)
    if abs(wrong[0] - amplitude) > 4.0:
        verdict = check_answer(task, {"um_pp": wrong[0], "lag_deg": wrong[1]})
        assert not verdict.right
        assert "still in it" in verdict.words


@pytest.mark.parametrize("seed", range(4))
def test_alarm(seed):
    task = make_task("alarm", seed)
    passes, stays = (_highest(recipe) for recipe in task.recipes)
    # A delay longer than any bump, with a level between what is always there and what stays.
    between = (stays + _highest(task.recipes[1], 4.0)) / 2.0
    right = check_answer(task, {"above_um": between, "delay_s": 3.5})
    assert right.right, right.words
    assert "does not set" in check_answer(task, {"above_um": 3.0 * stays, "delay_s": 1.0}).words
    assert "does not set" in check_answer(task, {"above_um": between, "delay_s": 12.0}).words
    assert "ordinary" in check_answer(task, {"above_um": 1.0, "delay_s": 1.0}).words
    at_once = check_answer(task, {"above_um": 0.97 * min(passes, stays), "delay_s": 0.0})
    assert not at_once.right
    assert "bump" in at_once.words
    if passes < stays:
        high = check_answer(task, {"above_um": (passes + stays) / 2.0, "delay_s": 0.0})
        assert high.right, high.words


def _highest(recipe, until_s: float = 16.0) -> float:
    """Largest p-p of the first probe, from the recipe's own numbers."""
    from analysis.simulate.scene import Scene

    gap = Scene(recipe).gap_um(recipe.setup.probe[0].name, np.arange(0.0, until_s, 1.0 / 3000.0))
    return float(gap.max() - gap.min())


def test_both_kinds_of_bump_come_up():
    higher = {
        _highest(recipes[0]) > _highest(recipes[1])
        for recipes in (make_task("alarm", seed).recipes for seed in range(8))
    }
    assert higher == {True, False}


@pytest.mark.parametrize("kind", KINDS)
@pytest.mark.parametrize("value", ["", "abc", "nan", math.inf, None])
def test_odd_answers_are_wrong_and_no_more(kind, value):
    task = make_task(kind, 1)
    answer = {} if value is None else {ask.name: value for ask in task.asks}
    verdict = check_answer(task, answer)
    assert not verdict.right
    assert verdict.words.endswith(".")
