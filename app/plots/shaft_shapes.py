"""Shapes of the cut through shaft and bearing, as drawn by `shaft_plot`."""

from __future__ import annotations

import cmath
import math
from collections.abc import Sequence
from typing import TYPE_CHECKING

import numpy as np
from PySide6.QtCore import QPointF, QRectF
from PySide6.QtGui import QPolygonF

if TYPE_CHECKING:
    from analysis.model.results import Floats

_REFERENCES = (-90.0, 180.0, 0.0, 90.0)
"""Where the phase reference may be drawn, the best place first; degrees from +x."""

_FAR_ENOUGH = 50.0


def direction(at_deg: float) -> complex:
    """The unit vector towards an angle, counter-clockwise from +x."""
    return cmath.exp(1j * math.radians(at_deg))


def reference_direction(probe_angles_deg: Sequence[float]) -> float:
    """A place for the phase reference, degrees from +x, that no probe has (from 12 o'clock)."""

    def nearest(at_deg: float) -> float:
        off = (abs((90.0 - angle - at_deg + 180.0) % 360.0 - 180.0) for angle in probe_angles_deg)
        return min(off)

    return next(
        (at for at in _REFERENCES if nearest(at) >= _FAR_ENOUGH), max(_REFERENCES, key=nearest)
    )


def arc(radius: float, from_deg: float, to_deg: float) -> tuple[Floats, Floats]:
    """Points of an arc about the middle, ending in a small arrow head; µm as drawn."""
    sweep = to_deg - from_deg
    count = max(int(abs(sweep) / 2.0), 2)
    angle = np.radians(np.linspace(from_deg, to_deg, count))
    points = radius * np.exp(1j * angle)
    way = 1j * np.exp(1j * angle[-1]) * (1.0 if sweep >= 0 else -1.0)
    out = np.exp(1j * angle[-1])
    head = 0.055 * radius
    tip = points[-1]
    back = tip - way * head
    points = np.append(points, [back + out * 0.5 * head, tip, back - out * 0.5 * head])
    return np.asarray(points.real), np.asarray(points.imag)


def sector(middle: QPointF, radius: float, from_deg: float, to_deg: float) -> QPolygonF:
    """The slice that the shaft has turned through; pixels."""
    count = max(int(abs(to_deg - from_deg) / 6.0), 1)
    points = [middle]
    for rank in range(count + 1):
        unit = direction(from_deg + (to_deg - from_deg) * rank / count)
        points.append(middle + QPointF(unit.real, -unit.imag) * radius)
    return QPolygonF(points)


def wedge(middle: QPointF, radius: float, at_deg: float) -> QPolygonF:
    """The notch in the rim of a shaft; pixels."""
    unit = direction(at_deg)
    out, side = QPointF(unit.real, -unit.imag), QPointF(unit.imag, unit.real)
    half = 0.075 * radius
    rim = middle + out * radius
    return QPolygonF([rim + side * half, rim - side * half, middle + out * (0.84 * radius)])


def probe_body(tip: QPointF, end: QPointF, half_width: float) -> QPolygonF:
    """A probe from its tip outwards; pixels."""
    way = end - tip
    length = math.hypot(way.x(), way.y()) or 1.0
    side = QPointF(-way.y(), way.x()) / length * half_width
    return QPolygonF([tip + side, tip - side, end - side, end + side])


def box_at(middle: QPointF, width: float, height: float) -> QRectF:
    """A rectangle about a point."""
    return QRectF(middle.x() - width / 2, middle.y() - height / 2, width, height)
