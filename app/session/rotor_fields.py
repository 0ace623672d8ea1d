"""The numbers of the Lab's rotor, one by one, in units that a reader thinks in."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, Final

if TYPE_CHECKING:
    from analysis.simulate.rotor_model import Rotor


@dataclass(frozen=True)
class RotorField:
    """One number of a rotor, as `LabField` is one of a state; `kind` is the unit shown."""

    key: str
    name: str
    kind: str
    least: float
    most: float
    step: float
    tip: str
    get: Callable[[Rotor], float]
    put: Callable[[Rotor, float], Rotor]
    lowest: float = 0.0
    furthest: float = 1e6


def _plain(
    key: str,
    name: str,
    kind: str,
    ends: tuple[float, float, float],
    tip: str,
    per: float = 1.0,
    lowest: float = 0.0,
    furthest: float = 1e6,
) -> RotorField:
    """A field of the rotor; `per` turns the unit shown into that of the rotor."""
    least, most, step = ends
    return RotorField(
        key,
        name,
        kind,
        least,
        most,
        step,
        tip,
        lambda rotor: float(getattr(rotor, key)) / per,
        lambda rotor, value: replace(rotor, **{key: value * per}),
        lowest,
        furthest,
    )


def _support(place: int, name: str, way: str) -> RotorField:
    def put(rotor: Rotor, value: float) -> Rotor:
        pair = list(rotor.support_n_per_m)
        pair[place] = value * 1e6
        return replace(rotor, support_n_per_m=(pair[0], pair[1]))

    return RotorField(
        f"support_{way}",
        name,
        "MN_per_m",
        1.0,
        80.0,
        0.5,
        f"Stiffness of both supports together, {way}; unlike ones make ellipses",
        lambda rotor: rotor.support_n_per_m[place] / 1e6,
        put,
        0.01,
        1e4,
    )


def _damping() -> RotorField:
    return RotorField(
        "support_damping",
        "damping",
        "kNs_per_m",
        2.0,
        120.0,
        1.0,
        "Damping of both supports together, the same in both directions",
        lambda rotor: rotor.support_ns_per_m[0] / 1e3,
        lambda rotor, value: replace(rotor, support_ns_per_m=(value * 1e3, value * 1e3)),
        0.01,
        1e5,
    )


_AROUND: Final = (-180.0, 180.0, 1.0)
_WHERE = "degrees counter-clockwise from the right, at the event"

ROTOR_FIELDS: Final = (
    (
        "Rotor",
        (
            _plain("mass_kg", "mass", "kg", (10.0, 200.0, 1.0), "Mass of the disc", 1.0, 0.01),
            _plain(
                "shaft_n_per_m",
                "shaft",
                "MN_per_m",
                (1.0, 40.0, 0.25),
                "Stiffness of the shaft between its supports",
                1e6,
                0.01,
            ),
        ),
    ),
    (
        "Supports",
        (
            _support(0, "stiffness x", "horizontal"),
            _support(1, "stiffness y", "vertical"),
            _damping(),
            _plain(
                "cross_n_per_m",
                "cross-coupling",
                "MN_per_m",
                (0.0, 20.0, 0.1),
                "Stiffness that drives the shaft on in the sense of rotation",
                1e6,
                -1e4,
                1e4,
            ),
            _plain(
                "fluid_ratio",
                "fluid ratio",
                "share",
                (0.0, 0.6, 0.01),
                "Share of the speed that the fluid in the bearings goes round with",
                1.0,
                0.0,
                1.0,
            ),
        ),
    ),
    (
        "Forces",
        (
            _plain(
                "eccentricity_um",
                "unbalance",
                "um",
                (0.0, 60.0, 0.5),
                "Distance of the mass centre from the shaft's centre",
            ),
            _plain("eccentricity_at_deg", "towards", "deg", _AROUND, _WHERE, 1.0, -360.0, 360.0),
            _plain(
                "bow_um", "bow", "um", (0.0, 60.0, 0.5), "How far the shaft is bent without a force"
            ),
            _plain("bow_at_deg", "towards", "deg", _AROUND, _WHERE, 1.0, -360.0, 360.0),
            _plain(
                "load_n", "load", "N", (0.0, 5000.0, 50.0), "Constant force on the disc", 1.0, 0.0
            ),
            _plain(
                "load_at_deg",
                "towards",
                "deg",
                _AROUND,
                "Direction of the load, degrees counter-clockwise from the right; -90 is down",
                1.0,
                -360.0,
                360.0,
            ),
        ),
    ),
)
