"""A simple rotor: a disc on a massless flexible shaft, on two equal flexible supports.

In each of the two directions it has the disc and the journal, so that shaft and supports bend in
series. Source of the disc on a shaft: Jeffcott 1919; on flexible, anisotropic, cross-coupled
supports: Friswell, Penny, Garvey, Lees, *Dynamics of Rotating Machines*, 2010, chapters 3, 5 and 6;
of the fluid's share: Muszynska, *Rotordynamics*, 2005 (all from memory). Small linear motion, no
gyroscopic moments (the disc sits in the middle). SI inside (m, N, kg, rad/s); µm and r/min outside.
"""

from __future__ import annotations

import cmath
import math
from dataclasses import dataclass, fields
from itertools import pairwise
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from analysis.model.results import Complexes, Floats
from analysis.model.setup import Rotation

Station = Literal["disc", "journal"]
Matrix = NDArray[np.float64]

UM = 1e-6
RPM = 2.0 * math.pi / 60.0


@dataclass(frozen=True)
class Rotor:
    """Figures of a rotor. Directions are degrees ccw from +x, at θ = 0 for what turns.

    Args:
        mass_kg: of the disc.
        shaft_n_per_m: stiffness of the shaft between the supports.
        disc_ns_per_m: damping on the disc (of what it runs in).
        support_n_per_m: stiffness of both supports together, in x and in y.
        support_ns_per_m: their damping, in x and in y.
        cross_n_per_m: cross-coupled stiffness that drives the shaft on in the sense of rotation.
        fluid_ratio: share of the shaft's speed that the fluid in the bearings goes round with; it
            makes cross-coupling of `ratio · damping · speed`.
        eccentricity_um: of the mass centre of the disc, towards `eccentricity_at_deg`.
        bow_um: of the shaft without any force, at the disc, towards `bow_at_deg`.
        load_n: constant force on the disc, towards `load_at_deg`.
        rotation: seen from the driver end.

    Raises:
        ValueError: for what no rotor can be; one sentence.
    """

    mass_kg: float = 60.0
    shaft_n_per_m: float = 9e6
    disc_ns_per_m: float = 250.0
    support_n_per_m: tuple[float, float] = (13e6, 20e6)
    support_ns_per_m: tuple[float, float] = (30e3, 30e3)
    cross_n_per_m: float = 0.0
    fluid_ratio: float = 0.0
    eccentricity_um: float = 16.0
    eccentricity_at_deg: float = 0.0
    bow_um: float = 0.0
    bow_at_deg: float = 0.0
    load_n: float = 600.0
    load_at_deg: float = -90.0
    rotation: Rotation = "ccw"

    def __post_init__(self) -> None:
        for field in fields(self):
            value = getattr(self, field.name)
            numbers = value if isinstance(value, tuple) else (value,)
            if field.name != "rotation" and not all(math.isfinite(n) for n in numbers):
                raise ValueError(f"{field.name} must be finite")
        positive = (self.mass_kg, self.shaft_n_per_m, *self.support_n_per_m, *self.support_ns_per_m)
        if min(positive) <= 0.0:
            raise ValueError(
                "mass, stiffness of shaft and supports, and damping of supports must be above 0"
            )
        if min(self.disc_ns_per_m, self.eccentricity_um, self.bow_um, self.load_n) < 0.0:
            raise ValueError("damping, eccentricity, bow and load must not be negative")
        if not 0.0 <= self.fluid_ratio <= 1.0:
            raise ValueError("the fluid's ratio lies between 0 and 1")

    @property
    def sign(self) -> float:
        """+1 when the shaft turns counter-clockwise, else -1."""
        return 1.0 if self.rotation == "ccw" else -1.0

    def support_stiffness(self, speed_rad_s: float) -> Matrix:
        """Stiffness of the supports at a speed, N/m, shape (2, 2)."""
        (kx, ky), (cx, cy) = self.support_n_per_m, self.support_ns_per_m
        carried = self.fluid_ratio * speed_rad_s
        towards_x = self.sign * (self.cross_n_per_m + carried * cx)
        towards_y = self.sign * (self.cross_n_per_m + carried * cy)
        return np.array([[kx, towards_x], [-towards_y, ky]])

    def turning(self, length_um: float, at_deg: float) -> Complexes:
        """A vector that turns with the shaft, as phasors of x and y, m; shape (2,)."""
        along = length_um * UM * cmath.exp(1j * self.sign * math.radians(at_deg))
        return np.array([along, -1j * self.sign * along])


@dataclass(frozen=True, eq=False)
class SteadyResponse:
    """1X at constant speed, at each of the speeds asked for; arrays of shape (n,).

    `x`, `y` are phasors: `x(θ) = Re[x exp(jθ)]`, µm zero to peak, so that the lag is `-arg`.
    `forward`, `backward` are where the two circles point to at θ = 0, µm zero to peak.
    `mean` is the mean position that the constant load makes, `x + jy`, µm.
    """

    speed_rpm: Floats
    x: Complexes
    y: Complexes
    forward: Complexes
    backward: Complexes
    mean: Complexes

    def probe_vector(self, angle_deg: float) -> Complexes:
        """What a probe at an angle (from 12 o'clock, clockwise) reads: `A exp(-jφ)`, µm p-p."""
        angle = math.radians(angle_deg)
        out: Complexes = 2.0 * (math.sin(angle) * self.x + math.cos(angle) * self.y)
        return out


@dataclass(frozen=True)
class Mode:
    """A free vibration at a speed.

    `growth_per_s` is the real part of the eigenvalue (above 0 it grows by itself), `share_forward`
    is `(|F| - |B|) / (|F| + |B|)` of its shape at the disc: 1 a forward circle, -1 a backward one,
    0 a line. `circles` are where its forward and backward circle point to at some instant, with
    radii that add up to 1.
    """

    frequency_rpm: float
    damping_ratio: float
    growth_per_s: float
    share_forward: float
    circles: tuple[complex, complex]

    def place(self, angle: float, sign: float) -> complex:
        """Where the disc is, `x + jy`, an angle (radians of the vibration) later.

        `sign` is that of the rotor: forward runs with it.
        """
        forward, backward = self.circles
        return forward * cmath.exp(1j * sign * angle) + backward * cmath.exp(-1j * sign * angle)


def steady_response(rotor: Rotor, speeds_rpm: Floats, station: Station = "disc") -> SteadyResponse:
    """Response to unbalance and bow, and the mean position, at constant speeds.

    It exists above the threshold of stability, too, but no shaft stays there.
    """
    speeds_rpm = np.asarray(speeds_rpm, dtype=np.float64)
    speed = speeds_rpm[:, None, None] * RPM
    at_rest = _series_stiffness(rotor, 0.0)
    # The supports' stiffness goes straight with speed.
    still = at_rest + speed * (_series_stiffness(rotor, 1.0) - at_rest)
    inertia = np.diag([rotor.mass_kg, rotor.mass_kg, 0.0, 0.0])
    damping = np.diag([rotor.disc_ns_per_m, rotor.disc_ns_per_m, *rotor.support_ns_per_m])
    bow = rotor.shaft_n_per_m * rotor.turning(rotor.bow_um, rotor.bow_at_deg)
    heavy = rotor.mass_kg * rotor.turning(rotor.eccentricity_um, rotor.eccentricity_at_deg)
    force = np.concatenate([bow, -bow]) + speed[:, 0] ** 2 * np.concatenate([heavy, 0.0 * heavy])
    at = slice(0, 2) if station == "disc" else slice(2, 4)
    moved = np.linalg.solve(still - speed**2 * inertia + 1j * speed * damping, force[:, :, None])
    sagged = np.linalg.solve(still, np.broadcast_to(_load(rotor), force.shape)[:, :, None])
    x, y = np.asarray(moved[:, at, 0].T / UM, dtype=np.complex128)
    mean_x, mean_y = sagged[:, at, 0].T / UM
    forward, backward = _circles(x, y, rotor.sign)
    return SteadyResponse(speeds_rpm, x, y, forward, backward, mean_x + 1j * mean_y)


def _series_stiffness(rotor: Rotor, speed_rad_s: float) -> Matrix:
    """Of shaft and supports in series: disc x, y, journal x, y; N/m, shape (4, 4)."""
    shaft = rotor.shaft_n_per_m * np.eye(2)
    return np.block([[shaft, -shaft], [-shaft, shaft + rotor.support_stiffness(speed_rad_s)]])


def _load(rotor: Rotor) -> Floats:
    at = math.radians(rotor.load_at_deg)
    return np.array([rotor.load_n * math.cos(at), rotor.load_n * math.sin(at), 0.0, 0.0])


def _circles(x: Complexes, y: Complexes, sign: float) -> tuple[Complexes, Complexes]:
    counter_clockwise, clockwise = (x + 1j * y) / 2.0, (x - 1j * y).conj() / 2.0
    return (counter_clockwise, clockwise) if sign > 0 else (clockwise, counter_clockwise)


def system_matrix(rotor: Rotor, speed_rad_s: float) -> Matrix:
    """`z' = A z` of the free rotor, with `z` the disc's place and velocity and the journal's place.

    Shape (6, 6), SI. The journal has no mass: its velocity follows from the forces on it.
    """
    one, none = np.eye(2), np.zeros((2, 2))
    shaft = rotor.shaft_n_per_m
    over_mass = one / rotor.mass_kg
    over_damping = np.diag(1.0 / np.array(rotor.support_ns_per_m))
    supports = shaft * one + rotor.support_stiffness(speed_rad_s)
    return np.block(
        [
            [none, one, none],
            [-shaft * over_mass, -rotor.disc_ns_per_m * over_mass, shaft * over_mass],
            [shaft * over_damping, none, -over_damping @ supports],
        ]
    )


def modes(rotor: Rotor, speed_rpm: float) -> tuple[Mode, ...]:
    """The vibrations that the rotor has by itself at a speed, the slowest first.

    What dies out without swinging is left out.
    """
    values, shapes = np.linalg.eig(system_matrix(rotor, speed_rpm * RPM))
    found = []
    for value, shape in zip(values, shapes.T, strict=True):
        if value.imag <= 1e-9 * abs(value):
            continue
        circles = [complex(c[0]) for c in _circles(shape[:1], shape[1:2], rotor.sign)]
        forward, backward = map(abs, circles)
        size = forward + backward
        found.append(
            Mode(
                frequency_rpm=float(value.imag / RPM),
                damping_ratio=float(-value.real / abs(value)),
                growth_per_s=float(value.real),
                share_forward=(forward - backward) / size,
                circles=(circles[0] / size, circles[1] / size),
            )
        )
    return tuple(sorted(found, key=lambda mode: mode.frequency_rpm))


def fastest_growth(rotor: Rotor, speed_rpm: float) -> float:
    """Largest real part of the eigenvalues, 1/s: above 0 the rotor is unstable."""
    return float(np.linalg.eigvals(system_matrix(rotor, speed_rpm * RPM)).real.max())


def stability_threshold(
    rotor: Rotor, highest_rpm: float = 30_000.0, looks: int = 300
) -> float | None:
    """The lowest speed above which the rotor whirls by itself, r/min.

    0 when it does at rest already; `None` when it does at no speed looked at (`looks` of them up to
    `highest_rpm`).
    """
    from scipy.optimize import brentq

    speeds = np.linspace(0.0, highest_rpm, looks)
    before = fastest_growth(rotor, 0.0)
    if before > 0.0:
        return 0.0
    for low, high in pairwise(speeds.tolist()):
        if fastest_growth(rotor, high) > 0.0:
            return float(brentq(lambda speed: fastest_growth(rotor, speed), low, high, xtol=1e-6))
    return None
