"""What the shaft does in a plane: mean path, unbalance response, precessions."""

from __future__ import annotations

import math

import numpy as np
from numpy.typing import NDArray

from analysis.model.setup import Plane, Rest, Rotation

from .constraint import constrained
from .curve import Curve
from .recipe_parts import Component, Growth, Line, PlaneMotion, Response, Unbalance
from .speed import ShaftSpeed, cycle_of

Floats = NDArray[np.float64]
Complexes = NDArray[np.complex128]

TOWARDS_REST: dict[Rest, complex] = {
    "bottom": -1j,
    "top": 1j,
    "left": -1.0 + 0j,
    "right": 1.0 + 0j,
    "centre": 0j,
}
"""Where the shaft rests in the clearance circle, as `x + jy`."""


def turn_sign(rotation: Rotation) -> float:
    """+1 when the shaft turns counter-clockwise in the view from the driver end, else -1."""
    return 1.0 if rotation == "ccw" else -1.0


def jeffcott(rpm: Floats, natural_rpm: float, damping_ratio: float) -> Complexes:
    """Response to unbalance over the mass offset, `r² / (1 - r² + 2jζr)`; the lag is `-arg`.

    Source: Jeffcott 1919; Friswell et al., *Dynamics of Rotating Machines*, chapter 6.
    """
    r = rpm / natural_rpm
    stiffness_and_damping: Complexes = (1.0 - r * r) + 2j * damping_ratio * r
    return r * r / stiffness_and_damping


def growth_share(growth: Growth, time_s: Floats) -> Floats:
    """Share of the limit cycle's amplitude at capture times (see `Growth`)."""
    since = np.maximum(time_s - growth.onset_s, 0.0) / growth.time_constant_s
    start = 1.0 / growth.start_share**2 - 1.0
    share = 1.0 / np.sqrt(1.0 + start * np.exp(-2.0 * since))
    share[time_s < growth.onset_s] = 0.0
    if growth.end_s is not None:
        after = np.maximum(time_s - growth.end_s, 0.0) / growth.time_constant_s
        share *= np.exp(-after)
    return share


class LineCourse:
    """How a line of a motion comes and goes, and where in its cycle it is."""

    def __init__(self, line: Line) -> None:
        self._line = line
        self._over_time = Curve(line.over_time) if line.over_time else None
        self._over_speed = Curve(line.over_speed) if line.over_speed else None

    def factor(self, time_s: Floats, speed: ShaftSpeed | None) -> Floats:
        """What the line's amplitude is multiplied by at capture times."""
        factor = np.ones_like(time_s)
        if self._over_time is not None:
            factor *= self._over_time(time_s)
        if self._over_speed is not None and speed is not None:
            factor *= self._over_speed(speed.rpm(time_s))
        if self._line.growth is not None:
            factor *= growth_share(self._line.growth, time_s)
        return factor

    def cycle(self, time_s: Floats, speed: ShaftSpeed | None) -> Floats:
        """`nθ`, or `2πft` for a line with a frequency, radians within one cycle."""
        if self._line.order is None:
            assert self._line.frequency_hz is not None
            return cycle_of(time_s, self._line.frequency_hz)
        assert speed is not None
        return cycle_of(speed.turns(time_s), self._line.order)


class ShaftInPlane:
    """Displacement of the shaft in one plane, `x + jy` in µm, x right and y up.

    Args:
        motion: what the recipe asks for.
        plane: the plane in the setup.
        rotation: how the shaft turns in truth, seen from the driver end.
        speed: the shaft's speed, when the recipe has one.
    """

    def __init__(
        self, motion: PlaneMotion, plane: Plane, rotation: Rotation, speed: ShaftSpeed | None
    ) -> None:
        self._sign = turn_sign(rotation)
        self._speed = speed
        self._towards_rest = TOWARDS_REST[plane.rest]
        self._radius = (plane.clearance_um or 0.0) / 2.0
        self._unbalance = motion.unbalance
        self._components = [(part, LineCourse(part)) for part in motion.component]
        self._responses = [(part, _ResponseCurves(part)) for part in motion.response]
        self._preload, self._stop = motion.preload, motion.stop
        ratio = motion.eccentricity_ratio
        self._ratio = Curve(ratio) if ratio else None
        self._moved_x = Curve(motion.moved_x_um) if motion.moved_x_um else None
        self._moved_y = Curve(motion.moved_y_um) if motion.moved_y_um else None

    def mean_from_rest(self, time_s: Floats) -> Complexes:
        """Mean position counted from rest, µm.

        With an eccentricity ratio the journal sits on the short-bearing locus,
        `tan(attitude) = π sqrt(1 - ε²) / (4ε)`, turned from the load in the direction of rotation.
        Source: Ocvirk; Friswell et al., *Dynamics of Rotating Machines*, 5.5.
        """
        position: Complexes = np.zeros(time_s.shape, dtype=np.complex128)
        if self._ratio is not None and self._speed is not None:
            ratio = self._ratio(self._speed.rpm(time_s))
            attitude = np.arctan2(np.pi * np.sqrt(np.maximum(1.0 - ratio**2, 0.0)), 4.0 * ratio)
            load = self._towards_rest if self._towards_rest else -1j
            journal = ratio * load * np.exp(1j * self._sign * attitude)
            position += self._radius * (journal - self._towards_rest)
        if self._moved_x is not None:
            position += self._moved_x(time_s)
        if self._moved_y is not None:
            position += 1j * self._moved_y(time_s)
        return position

    @property
    def is_free(self) -> bool:
        """Whether the motion is the plain sum of its lines: neither preload nor stop."""
        return self._preload is None and self._stop is None

    def circles(self, time_s: Floats, order: float | None = None) -> list[Circles]:
        """The forward and backward circles of all lines, or of those of one order.

        Of the free motion: a preload or a stop changes them.
        """
        out: list[Circles] = []
        for part, course in self._components:
            if order is None or part.order == order:
                out.append(self._component(part, course, time_s))
        if self._speed is not None and order in (None, 1.0):
            out += [self._response(part, time_s) for part in self._unbalance]
        if self._speed is not None:
            for response, curves in self._responses:
                if order is None or response.order == order:
                    cycle = cycle_of(self._speed.turns(time_s), response.order)
                    out.append(Circles(cycle, *curves(self._speed.rpm(time_s))))
        return out

    def vibration(self, time_s: Floats) -> Complexes:
        """Motion about the mean position, µm; about that of the free motion under a constraint."""
        total: Complexes = np.zeros(time_s.shape, dtype=np.complex128)
        for circles in self.circles(time_s):
            turning = np.exp(1j * self._sign * circles.cycle)
            total += circles.forward * turning
            total += circles.backward * turning.conj()
        return constrained(total, self._preload, self._stop, self._sign)

    def _component(self, part: Component, course: LineCourse, time_s: Floats) -> Circles:
        factor = course.factor(time_s, self._speed) / 2.0
        forward = part.forward_um_pp * np.exp(1j * math.radians(part.forward_at_deg))
        backward = part.backward_um_pp * np.exp(1j * math.radians(part.backward_at_deg))
        cycle = course.cycle(time_s, self._speed)
        return Circles(cycle, factor * forward, factor * backward)

    def _response(self, part: Unbalance, time_s: Floats) -> Circles:
        assert self._speed is not None
        rpm = self._speed.rpm(time_s)
        first, second = (
            jeffcott(rpm, natural, damping)
            for natural, damping in zip(part.natural_rpm, part.damping_ratio, strict=True)
        )
        # Along the principal directions: p = Re[e H1 exp(j(θ-β))], q = ±Re[-j e H2 exp(j(θ-β))].
        # p + jq, taken apart into what turns with θ and against it, with the shaft turning ccw:
        # (H1 + H2)/2 and conj(H1 - H2)/2. Seen in a mirror when it turns cw.
        lag = np.exp(-1j * math.radians(part.lag_deg))
        forward = part.offset_um * (first + second) / 2.0 * lag
        backward = (part.offset_um * (first - second) / 2.0 * lag).conj()
        if self._sign < 0:
            forward, backward = forward.conj(), backward.conj()
        axis = np.exp(1j * math.radians(part.axis_deg))
        return Circles(cycle_of(self._speed.turns(time_s), 1.0), axis * forward, axis * backward)


class _ResponseCurves:
    """Forward and backward circles, complex µm zero to peak, against speed."""

    def __init__(self, response: Response) -> None:
        self._curves = [
            Curve([(row[0], row[place]) for row in response.table]) for place in (1, 2, 3, 4)
        ]

    def __call__(self, rpm: Floats) -> tuple[Complexes, Complexes]:
        forward_x, forward_y, backward_x, backward_y = (curve(rpm) for curve in self._curves)
        return forward_x + 1j * forward_y, backward_x + 1j * backward_y


class Circles:
    """One line: `d = forward exp(±jc) + backward exp(∓jc)`, upper sign for ccw rotation.

    `cycle` is `c` in radians; `forward` and `backward` are complex, µm zero to peak, pointing where
    the circles point to at `c = 0`.
    """

    def __init__(self, cycle: Floats, forward: Complexes, backward: Complexes) -> None:
        self.cycle = cycle
        self.forward = forward
        self.backward = backward
