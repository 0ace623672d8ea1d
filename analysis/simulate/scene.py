"""Everything a recipe sets in motion, as functions of time: what the probes would see."""

from __future__ import annotations

import math

import numpy as np
from numpy.typing import NDArray

from analysis.model.setup import Probe

from .recipe import Recipe
from .recipe_parts import ChannelRecipe
from .scratch import scratch_um, scratch_vector
from .shaft import ShaftInPlane, turn_sign
from .speed import ShaftSpeed, cycle_of
from .target import StraightMotion

Floats = NDArray[np.float64]
Complexes = NDArray[np.complex128]


class Scene:
    """The motion behind the channels of a recipe, free of noise and of the recorder.

    Displacements `s` are µm, positive towards the probe (contract, section 1), so that the gap is
    the rest gap minus what the shaft moved towards the probe.
    """

    def __init__(self, recipe: Recipe) -> None:
        self.recipe = recipe
        self.speed = ShaftSpeed(recipe.speed) if recipe.speed else None
        true_rotation = recipe.speed.rotation if recipe.speed else None
        self.rotation = true_rotation or recipe.setup.machine.rotation
        self.sign = turn_sign(self.rotation)
        self._channels = {channel.probe: channel for channel in recipe.channel}
        planes = {plane.name: plane for plane in recipe.setup.plane}
        self.shafts: dict[str, ShaftInPlane] = {}
        self._shaft_of: dict[str, ShaftInPlane] = {}
        for motion in recipe.plane:
            plane = planes[motion.name]
            shaft = ShaftInPlane(motion, plane, self.rotation, self.speed)
            self.shafts[motion.name] = shaft
            self._shaft_of.update(dict.fromkeys(plane.probes, shaft))
        self._target_of: dict[str, StraightMotion] = {}
        for target in recipe.target:
            self._target_of.update(dict.fromkeys(target.probes, StraightMotion(target, self.speed)))

    def channel(self, probe: str) -> ChannelRecipe:
        """How the probe's channel is recorded."""
        return self._channels[probe]

    def mean_gap_um(self, probe: str, time_s: Floats) -> Floats:
        """Gap without vibration and runout, µm."""
        gap = np.full(time_s.shape, self._rest_gap_um(probe))
        if probe in self._shaft_of:
            gap -= self._towards(probe, self._shaft_of[probe].mean_from_rest(time_s))
        if probe in self._target_of:
            gap -= self._target_of[probe].mean(time_s)
        return gap

    def gap_um(self, probe: str, time_s: Floats) -> Floats:
        """The gap that the probe sees: mean, vibration and runout, µm."""
        gap = self.mean_gap_um(probe, time_s)
        if probe in self._shaft_of:
            gap -= self._towards(probe, self._shaft_of[probe].vibration(time_s))
        if probe in self._target_of:
            gap -= self._target_of[probe].vibration(time_s)
        for runout in self._channels[probe].runout:
            assert self.speed is not None  # the recipe's own check saw to it
            cycle = cycle_of(self.speed.turns(time_s), runout.order)
            gap -= (runout.um_pp / 2.0) * np.cos(cycle - math.radians(runout.lag_deg))
        for scratch in self._channels[probe].scratch:
            assert self.speed is not None
            gap += scratch_um(scratch, self.speed.turns(time_s))
        return gap

    def vector(self, probe: str, order: float, time_s: Floats) -> Complexes:
        """The probe's vector `A exp(-jφ)` of an order, µm p-p, runout and scratches included.

        Raises:
            ValueError: under a preload or a stop, which leave no closed form.
        """
        total: Complexes = np.zeros(time_s.shape, dtype=np.complex128)
        if probe in self._shaft_of:
            if not self._shaft_of[probe].is_free:
                raise ValueError("a preload or a stop has no vectors in closed form")
            # s = Re[conj(p) d] with p the direction to the probe; the part with exp(+jnθ) is twice
            # what a p-p vector halves again.
            direction = self._direction(probe)
            for circles in self._shaft_of[probe].circles(time_s, order):
                forward, backward = circles.forward, circles.backward
                if self.sign < 0:
                    forward, backward = backward, forward
                total += 2.0 * (direction.conjugate() * forward + direction * backward.conj())
        if probe in self._target_of:
            total += self._target_of[probe].vector(time_s, order)
        for runout in self._channels[probe].runout:
            if runout.order == order:
                total += runout.um_pp * np.exp(-1j * math.radians(runout.lag_deg))
        for scratch in self._channels[probe].scratch:
            total += scratch_vector(scratch, order)
        return total

    def setup_probe(self, probe: str) -> Probe:
        """The probe as the setup describes it."""
        return self.recipe.setup.probe_named(probe)

    def _rest_gap_um(self, probe: str) -> float:
        own = self._channels[probe].rest_gap_um
        gap = own if own is not None else self.setup_probe(probe).rest_gap_um
        assert gap is not None  # the recipe's own check saw to it
        return gap

    def _direction(self, probe: str) -> complex:
        own = self._channels[probe].true_angle_deg if probe in self._channels else None
        if own is not None:
            return complex(math.sin(math.radians(own)), math.cos(math.radians(own)))
        x, y = self.setup_probe(probe).direction
        return complex(x, y)

    def _towards(self, probe: str, displacement: Complexes) -> Floats:
        out: Floats = (self._direction(probe).conjugate() * displacement).real
        return out
