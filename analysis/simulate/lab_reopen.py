"""From a recipe that the Lab saved back to its state."""

from __future__ import annotations

import numpy as np

from analysis.model.setup import Rotation

from .lab_recipe import recipe_of
from .lab_state import ORDERS, LabProbe, LabState, Precession, SurfaceMark
from .recipe import Recipe
from .recipe_parts import ChannelRecipe, Component
from .scene import Scene

_SAME_UM = 1e-6


def state_of(recipe: Recipe) -> LabState:
    """The state that a recipe of the Lab was made of.

    Forward 2X from asymmetry comes back as a forward 2X, which is the same motion.

    Raises:
        ValueError: when the recipe is none of the Lab, or more than a state can say; one sentence.
    """
    try:
        state = _state(recipe)
    except (IndexError, ValueError, TypeError) as error:
        raise ValueError(f"this recipe is none of the Lab ({error})") from error
    _must_be_the_same(recipe, state)
    return state


def _state(recipe: Recipe) -> LabState:
    setup, speed, plane = recipe.setup, recipe.speed, recipe.plane[0]
    if speed is None or len(speed.points) != 1:
        raise ValueError("its speed is not constant")
    rotation: Rotation = speed.rotation or setup.machine.rotation
    first, second = (
        LabProbe(probe.name, probe.angle_deg or 0.0, probe.rest_gap_um or 0.0)
        for probe in (setup.probe[0], setup.probe[1])
    )
    bare = LabState(
        probes=(first, second),
        swapped=recipe.channel[0].true_angle_deg is not None,
        rotation=rotation,
        rotation_wrong=rotation != setup.machine.rotation,
        speed_rpm=speed.points[0][1],
    )
    lines = [_line(part) for part in plane.component]
    free = [line for line in lines if line.order not in ORDERS]
    if len(free) > 1:
        raise ValueError("it has more than one free ratio")
    return LabState(
        motions=tuple(line for line in lines if line.order in ORDERS),
        whirl=free[0] if free else None,
        preload=plane.preload,
        stop=plane.stop,
        surface=_surface(bare, recipe.channel[0]),
        noise_um_rms=recipe.channel[0].noise_um_rms,
        probes=bare.probes,
        swapped=bare.swapped,
        rotation=bare.rotation,
        rotation_wrong=bare.rotation_wrong,
        speed_rpm=bare.speed_rpm,
        clearance_um=setup.plane[0].clearance_um or 0.0,
        seed=recipe.seed,
        title=recipe.title,
    )


def _line(part: Component) -> Precession:
    if part.order is None or part.over_time or part.over_speed or part.growth:
        raise ValueError("a line of it comes and goes, or has a frequency of its own")
    return Precession(
        part.order,
        part.forward_um_pp,
        part.forward_at_deg,
        part.backward_um_pp,
        part.backward_at_deg,
    )


def _surface(state: LabState, channel: ChannelRecipe) -> SurfaceMark:
    """The first probe's runout, turned back to where it lies on the shaft."""
    at_no_lag = state.lag_of(0, 0.0)

    def at_deg(lag_deg: float) -> float:
        return state.sign * (at_no_lag - lag_deg) % 360.0

    surface = SurfaceMark()
    if channel.runout:
        (once,) = channel.runout
        surface = SurfaceMark(once.um_pp, at_deg(once.lag_deg))
    if channel.scratch:
        (dent,) = channel.scratch
        surface = SurfaceMark(
            surface.um_pp, surface.at_deg, dent.depth_um, at_deg(dent.lag_deg), dent.width_deg
        )
    return surface


def _must_be_the_same(recipe: Recipe, state: LabState) -> None:
    """What the state cannot say must not be lost in silence: the probes must see the same."""
    ours = recipe_of(state)
    if ours.setup.probe != recipe.setup.probe or ours.setup.plane != recipe.setup.plane:
        raise ValueError("this recipe is none of the Lab (its probes are others)")
    times = np.arange(997, dtype=np.float64) * (60.0 / state.speed_rpm * 0.0371)
    theirs, own = Scene(recipe), Scene(ours)
    for probe in state.probes:
        apart = np.abs(theirs.gap_um(probe.name, times) - own.gap_um(probe.name, times))
        if float(apart.max()) > _SAME_UM:
            raise ValueError("this recipe says more than the Lab can show")
