"""Mean shaft position in the bearing, from the gaps at rest."""

from __future__ import annotations

import math

import numpy as np

from analysis.model.results import Centreline
from analysis.model.setup import Plane, Probe, Rest, Rotation

from .orbit import shaft_displacement

_TOWARDS_REST: dict[Rest, tuple[float, float]] = {
    "bottom": (0.0, -1.0),
    "top": (0.0, 1.0),
    "left": (-1.0, 0.0),
    "right": (1.0, 0.0),
    "centre": (0.0, 0.0),
}


def centreline(
    gap1_um: float,
    gap2_um: float,
    probes: tuple[Probe, Probe],
    plane: Plane,
    rotation: Rotation,
) -> Centreline | None:
    """Where the shaft's mean position is, x right and y up, µm.

    With `plane.clearance_um` the position is counted from the bearing centre, taking the shaft to
    rest against the bearing at `plane.rest`; without it, from the rest position. The attitude angle
    runs from the direction of rest (the load) in the direction of rotation, 0 to 360 degrees; it
    and the eccentricity ratio need the clearance, the angle also a direction of rest.

    Source: attitude angle as in Friswell et al., *Dynamics of Rotating Machines*, 5.5.

    Returns:
        `None` when a rest gap is not known.
    """
    first, second = probes
    if first.rest_gap_um is None or second.rest_gap_um is None:
        return None
    assert first.angle_deg is not None
    assert second.angle_deg is not None
    moved_x, moved_y = shaft_displacement(
        np.array(first.rest_gap_um - gap1_um),
        np.array(second.rest_gap_um - gap2_um),
        first.angle_deg,
        second.angle_deg,
    )
    x, y = float(moved_x), float(moved_y)
    if plane.clearance_um is None:
        return Centreline(x, y, None, None)
    radius = plane.clearance_um / 2.0
    rest_x, rest_y = _TOWARDS_REST[plane.rest]
    x += rest_x * radius
    y += rest_y * radius
    attitude: float | None = None
    if plane.rest != "centre":
        from_load = math.degrees(math.atan2(y, x) - math.atan2(rest_y, rest_x))
        attitude = (from_load if rotation == "ccw" else -from_load) % 360.0
    return Centreline(x, y, math.hypot(x, y) / radius, attitude)
