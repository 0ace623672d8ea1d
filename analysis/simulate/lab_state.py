"""What the Lab's controls say: one frozen state, checked."""

from __future__ import annotations

import math
from dataclasses import dataclass

from analysis.model.setup import Rotation
from analysis.rotor.orbit import NEAREST_PARALLEL_DEG, degrees_from_parallel

from .recipe_parts import Preload, Stop

ORDERS = tuple(quarter / 4.0 for quarter in range(1, 17))
"""Orders that `LabState.motions` may have; anything between goes into `LabState.whirl`."""

LINEAR_RANGE_UM = (250.0, 2280.0)
SCALE_FACTOR_MV_PER_UM = 7.874
"""Of the Lab's probes. 200 mV/mil, common practice."""

_MOST_UM = 5000.0
_SPEEDS_RPM = (60.0, 60_000.0)


@dataclass(frozen=True)
class Precession:
    """Circles of one order, with the rotation and against it.

    Each is a diameter (µm p-p) and the direction it points to at the phase-reference event, degrees
    counter-clockwise from +x in the view from the driver end.
    """

    order: float
    forward_um_pp: float = 0.0
    forward_at_deg: float = 0.0
    backward_um_pp: float = 0.0
    backward_at_deg: float = 0.0

    @property
    def is_still(self) -> bool:
        """Whether nothing moves at this order."""
        return self.forward_um_pp == 0.0 and self.backward_um_pp == 0.0


@dataclass(frozen=True)
class SurfaceMark:
    """Runout of the shaft's surface, whatever the shaft does; directions as in `Precession`.

    `um_pp` is an eccentric track, once per turn, with its high spot at `at_deg` at the event.
    `scratch_depth_um` is a dent at `scratch_at_deg`, `scratch_width_deg` wide.
    """

    um_pp: float = 0.0
    at_deg: float = 0.0
    scratch_depth_um: float = 0.0
    scratch_at_deg: float = 0.0
    scratch_width_deg: float = 12.0


@dataclass(frozen=True)
class LabProbe:
    """A probe: its angle (from 12 o'clock, clockwise) and its gap with the shaft in the middle."""

    name: str
    angle_deg: float
    rest_gap_um: float = 1250.0

    @property
    def channel(self) -> str:
        """Name of its channel in a saved capture."""
        return self.name.replace("-", "_")


@dataclass(frozen=True)
class LabState:
    """Everything that an orbit of the Lab is made of.

    Args:
        motions: forward and backward circles, of orders out of `ORDERS`.
        whirl: one more line at any ratio below 1 of running speed.
        asymmetry_um_pp: forward circle at twice the running speed, as a shaft of two stiffnesses
            under a constant load makes it; `asymmetry_at_deg` is its direction at the event.
        preload: flattens and bends the orbit.
        stop: a wall on one side; a picture of a rub.
        surface: runout of the track under the probes.
        noise_um_rms: white noise of each probe.
        probes: the two probes, as the setup has them.
        swapped: whether their cables are swapped, so that each channel carries the other's signal.
        rotation: how the shaft turns in truth, seen from the driver end.
        rotation_wrong: whether the setup says the opposite.
        speed_rpm: running speed, r/min, constant.
        clearance_um: diametral bearing clearance.
        seed: of the noise.
        title: of a saved recipe and capture.

    Raises:
        ValueError: for what cannot be; one sentence.
    """

    motions: tuple[Precession, ...] = (Precession(1.0, 60.0),)
    whirl: Precession | None = None
    asymmetry_um_pp: float = 0.0
    asymmetry_at_deg: float = 0.0
    preload: Preload | None = None
    stop: Stop | None = None
    surface: SurfaceMark = SurfaceMark()
    noise_um_rms: float = 0.0
    probes: tuple[LabProbe, LabProbe] = (LabProbe("LAB-X", 45.0), LabProbe("LAB-Y", -45.0))
    swapped: bool = False
    rotation: Rotation = "ccw"
    rotation_wrong: bool = False
    speed_rpm: float = 3000.0
    clearance_um: float = 240.0
    seed: int = 1
    title: str = "A shaft in the Lab"

    def __post_init__(self) -> None:
        self._check_lines()
        self._check_recording()

    @property
    def sign(self) -> float:
        """+1 when the shaft turns counter-clockwise in truth, else -1."""
        return 1.0 if self.rotation == "ccw" else -1.0

    @property
    def rotation_set(self) -> Rotation:
        """The rotation that the setup says."""
        if not self.rotation_wrong:
            return self.rotation
        return "cw" if self.rotation == "ccw" else "ccw"

    @property
    def lines(self) -> tuple[Precession, ...]:
        """Every line that moves, the whirl and the asymmetry among them."""
        lines = list(self.motions)
        if self.whirl is not None:
            lines.append(self.whirl)
        lines.append(Precession(2.0, self.asymmetry_um_pp, self.asymmetry_at_deg))
        return tuple(line for line in lines if not line.is_still)

    @property
    def seen_from_deg(self) -> tuple[float, float]:
        """Angles that the signals of the two channels truly come from."""
        first, second = (probe.angle_deg for probe in self.probes)
        return (second, first) if self.swapped else (first, second)

    @property
    def true_rest_gaps_um(self) -> tuple[float, float]:
        """Gaps that the signals of the two channels truly start from."""
        first, second = (probe.rest_gap_um for probe in self.probes)
        return (second, first) if self.swapped else (first, second)

    def lag_of(self, channel: int, at_deg: float) -> float:
        """Shaft angle, degrees, at which a mark of the surface passes the probe of a channel.

        `at_deg` is where the mark points to at the event.
        """
        probe_at_deg = 90.0 - self.seen_from_deg[channel]
        return (self.sign * (probe_at_deg - at_deg)) % 360.0

    def _check_lines(self) -> None:
        lines = [*self.motions, *((self.whirl,) if self.whirl else ())]
        for line in self.motions:
            _must(line.order in ORDERS, f"order {line.order:g} is none of 0.25, 0.5 … 4")
        if self.whirl is not None:
            _must(0.0 < self.whirl.order < 1.0, "the whirl's ratio must lie between 0 and 1")
        for line in lines:
            for amplitude in (line.forward_um_pp, line.backward_um_pp):
                _must(0.0 <= amplitude <= _MOST_UM, f"amplitudes go from 0 to {_MOST_UM:g} µm p-p")
            for angle in (line.forward_at_deg, line.backward_at_deg):
                _must(math.isfinite(angle), "directions must be finite")
        _must(0.0 <= self.asymmetry_um_pp <= _MOST_UM, "the asymmetry must be 0 to 5000 µm p-p")
        _must(math.isfinite(self.asymmetry_at_deg), "directions must be finite")
        low, high = _SPEEDS_RPM
        _must(low <= self.speed_rpm <= high, f"speeds go from {low:g} to {high:g} r/min")

    def _check_recording(self) -> None:
        surface = self.surface
        _must(0.0 <= surface.um_pp <= _MOST_UM, "runout must be 0 to 5000 µm p-p")
        _must(0.0 <= surface.scratch_depth_um <= _MOST_UM, "a scratch is 0 to 5000 µm deep")
        _must(0.0 < surface.scratch_width_deg <= 360.0, "a scratch is up to 360° wide")
        marks = (surface.at_deg, surface.scratch_at_deg)
        _must(all(math.isfinite(angle) for angle in marks), "directions must be finite")
        _must(0.0 <= self.noise_um_rms <= _MOST_UM, "noise must be 0 to 5000 µm rms")
        _must(0.0 < self.clearance_um <= 1e5, "the clearance must be above 0")
        _must(self.seed >= 0, "the seed must not be negative")
        first, second = self.probes
        _must(bool(first.name and second.name), "probes need names")
        _must(first.channel != second.channel, "the probes need names that differ")
        for probe in self.probes:
            _must(0.0 <= probe.rest_gap_um <= _MOST_UM, "gaps go from 0 to 5000 µm")
            _must(math.isfinite(probe.angle_deg), "probe angles must be finite")
        apart = degrees_from_parallel(first.angle_deg, second.angle_deg)
        _must(
            apart >= NEAREST_PARALLEL_DEG,
            f"the probes are closer than {NEAREST_PARALLEL_DEG:g}° to parallel",
        )


def _must(holds: bool, otherwise: str) -> None:
    if not holds:
        raise ValueError(otherwise)
