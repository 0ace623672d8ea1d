"""The exact truth of a state's saved capture."""

from __future__ import annotations

from collections.abc import Mapping

import numpy as np

from .chain import volts_seen
from .lab_readings import LabReading, reading_of
from .lab_recipe import FIRST_EVENT_TURNS, lab_probes, recipe_of
from .lab_state import LINEAR_RANGE_UM, LabState
from .scene import Scene


def exact_readings(state: LabState, turns: int, points: int = 2048) -> Mapping[str, LabReading]:
    """What the program must measure over the first whole turns of the state's saved capture.

    By fine sampling of the recipe itself, so that it knows nothing of `compose`.

    Args:
        state: the state.
        turns: whole turns from the first event.
        points: points of a turn.
    """
    recipe = recipe_of(state)
    scene = Scene(recipe)
    cycles = np.arange(turns * points + 1) / points + FIRST_EVENT_TURNS
    times = cycles * (60.0 / state.speed_rpm)
    out = {}
    for probe in lab_probes(state):
        volts = volts_seen(scene.gap_um(probe.name, times), scene.channel(probe.name), probe)
        gap = probe.point.gap_um + (probe.point.volts - volts) / probe.scale_factor_v_per_um
        out[probe.name] = reading_of(gap, turns, LINEAR_RANGE_UM)
    return out
