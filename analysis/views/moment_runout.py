"""Runout taken off what the Moment page draws: waveforms, the orbit, and its ellipses.

Readings stay as measured: limits and protection see the probe's signal with its runout.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field

from analysis.model.response_results import Runout
from analysis.model.results import Ellipse, ProbeReading
from analysis.model.setup import Probe, Rotation
from analysis.rotor.orbit import ellipse
from analysis.rotor.response.runout import RunoutAt, order_vector, runout_at
from analysis.rotor.turns import Turns


@dataclass(frozen=True, eq=False)
class RunoutOff:
    """Waves by probe. `around` are the revolutions of the orbit, `shown` those of the waveforms."""

    waves: Mapping[str, Runout] = field(default_factory=dict)
    around: Turns | None = None
    shown: Turns | None = None

    def of_orbit(self, pair: tuple[Probe, Probe]) -> tuple[RunoutAt | None, RunoutAt | None]:
        """What is taken off each probe of a plane."""
        return self._at(pair[0].name, self.around), self._at(pair[1].name, self.around)

    def of_waveform(self, probe: str) -> RunoutAt | None:
        """What is taken off a probe's waveform."""
        return self._at(probe, self.shown)

    def ellipses(
        self,
        pair: tuple[Probe, Probe],
        readings: Mapping[str, ProbeReading],
        orbits: Mapping[int, Ellipse],
        rotation: Rotation,
    ) -> dict[int, Ellipse]:
        """The ellipses of a plane without the runout of their orders."""
        first, second = pair
        if not {first.name, second.name} & set(self.waves):
            return dict(orbits)
        assert first.angle_deg is not None
        assert second.angle_deg is not None
        return {
            order: ellipse(
                order,
                self._vector(first.name, order, readings),
                self._vector(second.name, order, readings),
                first.angle_deg,
                second.angle_deg,
                rotation,
            )
            for order in orbits
        }

    def _vector(self, probe: str, order: int, readings: Mapping[str, ProbeReading]) -> complex:
        measured = readings[probe].vectors[order].vector
        wave = self.waves.get(probe)
        return measured if wave is None else measured - order_vector(wave, order)

    def _at(self, probe: str, turns: Turns | None) -> RunoutAt | None:
        wave = self.waves.get(probe)
        return None if wave is None or turns is None else runout_at(wave, turns)
