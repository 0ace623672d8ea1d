"""From a state of the Lab to a recipe, so that it can be saved, and opened on the other pages."""

from __future__ import annotations

import math
from typing import Any

from analysis.model.setup import Limit, Probe

from .lab_state import LINEAR_RANGE_UM, SCALE_FACTOR_MV_PER_UM, LabState
from .recipe import Recipe
from .recipe_parts import ChannelRecipe

PLANE = "Lab"
FIRST_EVENT_TURNS = 0.5
"""Turns of the shaft from the capture's start to the event at θ = 0."""

_SAMPLES_PER_TURN = 256.0
_SLOWEST_RATE_HZ = 2048.0
_LEAST_TURNS = 66
_LEAST_SECONDS = 4.0

_BEND_NEAR = ((0.0, -1.40), (60.0, -1.45), (120.0, -1.55), (180.0, -1.72))
_BEND_FAR = ((2400.0, -18.65), (2550.0, -19.25), (2750.0, -19.65), (3000.0, -19.85))
"""Beyond the linear range a probe gives less and less for each µm: common practice, the figures
invented."""


def true_curve() -> tuple[tuple[float, float], ...]:
    """What a probe of the Lab does: the setup's line inside its linear range, and bent outside."""
    line = tuple((gap, -gap * SCALE_FACTOR_MV_PER_UM / 1000.0) for gap in LINEAR_RANGE_UM)
    return (*_BEND_NEAR, *line, *_BEND_FAR)


def recipe_of(
    state: LabState, *, duration_s: float | None = None, limits: tuple[Limit, ...] = ()
) -> Recipe:
    """The recipe of a state; `simulate` makes a capture of it.

    The shaft passes θ = 0 half a turn after the start.

    Args:
        state: the state.
        duration_s: length of the capture; a few seconds and no less than some sixty turns when not
            given.
        limits: limits for the capture's setup.

    Raises:
        ValueError: (pydantic's) when the recipe would be none, as with too many samples.
    """
    turn_s = 60.0 / state.speed_rpm
    if duration_s is None:
        duration_s = max(_LEAST_SECONDS, _LEAST_TURNS * turn_s)
    rate = 2.0 ** math.ceil(math.log2(max(_SAMPLES_PER_TURN / turn_s, _SLOWEST_RATE_HZ)))
    return Recipe.model_validate(
        {
            "title": state.title,
            "notes": "Made in the Lab: an invented shaft, with its truth known.",
            "duration_s": duration_s,
            "seed": state.seed,
            "speed": {
                "points": ((0.0, state.speed_rpm),),
                "start_angle_deg": -360.0 * FIRST_EVENT_TURNS,
                "rotation": state.rotation if state.rotation_wrong else None,
            },
            "reference": {
                "sample_rate_hz": rate,
                "type": "float32",
                "width_deg": 30.0,
                "transition_deg": 12.0,
            },
            "plane": (_plane(state),),
            "channel": tuple(_channel(state, place, rate) for place in (0, 1)),
            "setup": _setup(state, limits),
        }
    )


def lab_probes(state: LabState) -> tuple[Probe, Probe]:
    """The two probes as the setup describes them."""
    first, second = (
        Probe(
            name=probe.name,
            channel=probe.channel,
            angle_deg=probe.angle_deg,
            scale_factor_mv_per_um=SCALE_FACTOR_MV_PER_UM,
            linear_range_um=LINEAR_RANGE_UM,
            rest_gap_um=probe.rest_gap_um,
            fault_v=(-22.0, -0.5),
        )
        for probe in state.probes
    )
    return first, second


def _plane(state: LabState) -> dict[str, Any]:
    return {
        "name": PLANE,
        "component": tuple(
            {
                "order": line.order,
                "forward_um_pp": line.forward_um_pp,
                "forward_at_deg": line.forward_at_deg,
                "backward_um_pp": line.backward_um_pp,
                "backward_at_deg": line.backward_at_deg,
            }
            for line in state.lines
        ),
        "preload": state.preload,
        "stop": state.stop,
    }


def _channel(state: LabState, place: int, rate: float) -> ChannelRecipe:
    surface = state.surface
    own: dict[str, Any] = {}
    if state.swapped:
        own["true_angle_deg"] = state.seen_from_deg[place]
        own["rest_gap_um"] = state.true_rest_gaps_um[place]
    if surface.um_pp:
        lag = state.lag_of(place, surface.at_deg)
        own["runout"] = ({"order": 1, "um_pp": surface.um_pp, "lag_deg": lag},)
    if surface.scratch_depth_um:
        scratch = {
            "lag_deg": state.lag_of(place, surface.scratch_at_deg),
            "depth_um": surface.scratch_depth_um,
            "width_deg": surface.scratch_width_deg,
        }
        own["scratch"] = (scratch,)
    return ChannelRecipe.model_validate(
        {
            "probe": state.probes[place].name,
            "sample_rate_hz": rate,
            "type": "float32",
            "noise_um_rms": state.noise_um_rms,
            "curve": true_curve(),
            **own,
        }
    )


def _setup(state: LabState, limits: tuple[Limit, ...]) -> dict[str, Any]:
    return {
        "machine": {"title": state.title, "rotation": state.rotation_set},
        "phase_reference": {"channel": "REF"},
        "probe": lab_probes(state),
        "plane": (
            {
                "name": PLANE,
                "probes": tuple(probe.name for probe in state.probes),
                "clearance_um": state.clearance_um,
                "rest": "centre",
            },
        ),
        "limit": limits,
    }
