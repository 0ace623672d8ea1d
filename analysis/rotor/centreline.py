"""Mean shaft position in the bearing, from the gaps at rest."""

from __future__ import annotations

import math

import numpy as np

from analysis.model.position_results import CentrelinePath
from analysis.model.results import Centreline, Floats
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
    path = centreline_path(
        (np.array([gap1_um]), np.array([gap2_um])),
        (first.rest_gap_um, second.rest_gap_um),
        probes,
        plane,
        rotation,
        np.zeros(1),
        np.zeros(1),
    )
    ratio, attitude = float(path.eccentricity_ratio[0]), float(path.attitude_deg[0])
    return Centreline(
        float(path.x_um[0]),
        float(path.y_um[0]),
        None if math.isnan(ratio) else ratio,
        None if math.isnan(attitude) else attitude,
    )


def centreline_path(
    gaps_um: tuple[Floats, Floats],
    rest_um: tuple[float, float],
    probes: tuple[Probe, Probe],
    plane: Plane,
    rotation: Rotation,
    time_s: Floats,
    speed_rpm: Floats,
) -> CentrelinePath:
    """The mean position for each pair of mean gaps; conventions as in `centreline`.

    Args:
        gaps_um: mean gaps of the two probes, µm, shape (r,) each; NaN where void.
        rest_um: their gaps with the shaft at rest, µm.
        probes: the two probes, in the same order.
        plane: gives clearance and direction of rest.
        rotation: the sense that the attitude angle runs in.
        time_s: times that go with the gaps, shape (r,).
        speed_rpm: speeds that go with them, shape (r,).
    """
    first, second = probes
    assert first.angle_deg is not None
    assert second.angle_deg is not None
    x, y = shaft_displacement(
        rest_um[0] - gaps_um[0], rest_um[1] - gaps_um[1], first.angle_deg, second.angle_deg
    )
    ratio = attitude = np.full(len(x), np.nan)
    if plane.clearance_um is not None:
        radius = plane.clearance_um / 2.0
        rest_x, rest_y = _TOWARDS_REST[plane.rest]
        x = x + rest_x * radius
        y = y + rest_y * radius
        ratio = np.hypot(x, y) / radius
        if plane.rest != "centre":
            from_load = np.degrees(np.arctan2(y, x) - math.atan2(rest_y, rest_x))
            attitude = np.mod(from_load if rotation == "ccw" else -from_load, 360.0)
    return CentrelinePath(time_s, speed_rpm, x, y, ratio, attitude)
