"""The alarm task: two captures, one that must set the alarm and one that must not."""

from __future__ import annotations

from functools import lru_cache
from typing import Any

import numpy as np

from analysis.model.replay_results import MonitorSeries
from analysis.model.setup import Limit
from analysis.protection.monitor import monitor_series
from analysis.protection.replay import replay
from analysis.rotor.revolutions import revolution_table

from .lab_recipe import recipe_of
from .lab_state import LabState
from .recipe import Recipe
from .task_parts import Answer, Verdict, number_of

DURATION_S = 16.0
_RISE_S = 0.3


def alarm_recipes(seed: int, state: LabState) -> tuple[Recipe, Recipe]:
    """A bump that passes, and a rise that stays, at a height and for a time out of the seed.

    Sometimes the bump is higher than what stays, so that only a delay tells them apart; sometimes
    it is lower.
    """
    random = np.random.default_rng([seed, 99])
    bump_s, stays_s = float(random.uniform(0.8, 2.0)), float(random.uniform(5.0, 7.0))
    stays = float(random.uniform(1.6, 2.0))
    bump = stays * float(random.choice([1.3, 0.72]))
    return (
        _recipe(state, bump, 5.0, bump_s, "Task: a bump that passes"),
        _recipe(state, stays, 5.0, stays_s, "Task: a rise that stays"),
    )


def _recipe(state: LabState, height: float, from_s: float, length_s: float, title: str) -> Recipe:
    course = (
        (from_s, 1.0),
        (from_s + _RISE_S, height),
        (from_s + _RISE_S + length_s, height),
        (from_s + 2.0 * _RISE_S + length_s, 1.0),
    )
    content: dict[str, Any] = recipe_of(state, duration_s=DURATION_S).model_dump()
    content["title"] = title
    for plane in content["plane"]:
        for component in plane["component"]:
            component["over_time"] = course
    return Recipe.model_validate(content)


@lru_cache(maxsize=4)
def _series(recipe: Recipe) -> MonitorSeries:
    # Here and not above: it loads libraries that nobody needs before the first answer.
    from .synthesis import simulate

    capture = simulate(recipe)
    table = revolution_table(capture, recipe.setup, capture.span)
    return monitor_series(capture, recipe.setup, table)


def alarm_verdict(recipes: tuple[Recipe, ...], probe: str, answer: Answer) -> Verdict:
    """Replay both captures with the alarm of the answer (`above_um`, `delay_s`)."""
    above, delay = number_of(answer, "above_um"), number_of(answer, "delay_s")
    assert above is not None
    assert delay is not None
    if above <= 0.0 or delay < 0.0 or delay > DURATION_S:
        return Verdict(False, "The level must be above 0, the delay from 0 to a few seconds.")
    limit = Limit(
        probes=(probe,), measure="peak_to_peak", level="alarm", above=above, delay_s=delay
    )
    sets = []
    for recipe in recipes:
        setup = recipe.setup.model_copy(update={"limit": (limit,)})
        events = replay(_series(recipe), setup).events
        sets.append(next((event.time_s for event in events if event.event == "set"), None))
    passes, stays = sets
    if stays is None:
        return Verdict(False, "The rise that stays does not set it: lower the level or the delay.")
    if stays < 5.0:
        return Verdict(False, "It is set by the ordinary vibration already: raise the level.")
    if passes is not None:
        return Verdict(
            False, f"The bump sets it at {passes:.1f} s: raise the level or make the delay longer."
        )
    return Verdict(True, f"Right: the bump passes, and what stays sets it at {stays:.1f} s.")
