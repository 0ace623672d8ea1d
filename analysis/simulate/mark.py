"""What the phase-reference probe sees: a mark on the shaft, once or several times a turn."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from analysis.model.setup import PhaseReference

from .recipe_parts import Reference

Floats = NDArray[np.float64]


class ShaftMark:
    """Voltage of the phase reference against the shaft angle.

    The probe's spot runs over an edge in `transition_deg`, with a raised cosine between the two
    levels, so that the edge named in the setup crosses their middle exactly at θ = 0.
    """

    def __init__(self, reference: Reference, setup: PhaseReference) -> None:
        self._reference = reference
        self._marks_per_turn = setup.events_per_turn
        # Going onto the mark, volts fall when the mark is the more negative level.
        onto_falls = reference.mark_v < reference.shaft_v
        self._leading = onto_falls == (setup.edge == "falling")

    def volts(self, turns: Floats) -> Floats:
        """Noise-free voltage at shaft angles in turns."""
        share = self._coverage(turns * self._marks_per_turn, self._reference.missing_marks)
        for at in self._reference.extra_at_turns:
            share = np.maximum(share, self._single(turns - at))
        return self._reference.shaft_v + share * (self._reference.mark_v - self._reference.shaft_v)

    def _coverage(self, cycles: Floats, missing: tuple[int, ...]) -> Floats:
        number = np.rint(cycles)
        # A mark lies partly in the half cycle before its event, partly in the one after.
        share = np.zeros_like(cycles)
        for shift in (-1.0, 0.0, 1.0):
            near = self._single((cycles - number - shift) / self._marks_per_turn)
            if missing:
                near[np.isin(number + shift, missing)] = 0.0
            share = np.maximum(share, near)
        return share

    def _single(self, turns: Floats) -> Floats:
        """How far one mark at angle 0 covers the spot, 0 to 1."""
        degrees = turns * 360.0
        width, transition = self._reference.width_deg, self._reference.transition_deg
        begin, end = (0.0, width) if self._leading else (-width, 0.0)
        rise = np.clip((degrees - begin) / transition + 0.5, 0.0, 1.0)
        fall = np.clip((end - degrees) / transition + 0.5, 0.0, 1.0)
        covered = np.minimum(rise, fall)
        out: Floats = (1.0 - np.cos(np.pi * covered)) / 2.0
        return out
