"""The readings of one plane beside its orbit: S max, ellipses, centreline."""

from __future__ import annotations

from typing import TYPE_CHECKING

from PySide6.QtCore import Qt
from PySide6.QtWidgets import QLabel, QSizePolicy, QVBoxLayout, QWidget

from analysis.model.units import LengthUnit

from . import words

if TYPE_CHECKING:
    from analysis.model.results import Ellipse, PlaneReading
    from analysis.model.setup import Plane

WIDTH = 158
ORDERS = (1, 2)

Block = tuple[str, str, str]
"""Heading, lines, tooltip."""


def plane_texts(
    reading: PlaneReading | None, plane: Plane | None, unit: LengthUnit
) -> tuple[Block, ...]:
    """What is said of a plane, always the same blocks with the same number of lines."""
    if reading is None or plane is None:
        return ()
    s_max = (
        "S max",
        f"{words.length(reading.s_max_um, unit)} {unit.value}",
        f"Largest distance of the orbit from its mean position, {unit.value} zero to peak "
        "(ISO 20816-1)",
    )
    ellipses = tuple(_ellipse(order, reading.orbits.get(order), unit) for order in ORDERS)
    return (s_max, *ellipses, _centreline(reading, plane, unit))


def _ellipse(order: int, orbit: Ellipse | None, unit: LengthUnit) -> Block:
    tip = (
        f"{order}X ellipse: major × minor axis, {unit.value} p-p; inclination of the major axis "
        "counter-clockwise from the right; precession with or against the rotation"
    )
    if orbit is None:
        return f"{order}X ellipse", f"{words.DASH}\n", tip
    inclination = 0.0 if round(orbit.inclination_deg) >= 180 else orbit.inclination_deg
    return (
        f"{order}X {orbit.precession}",
        f"{words.length(orbit.major_um, unit)} × {words.length(orbit.minor_um, unit)} "
        f"{unit.value} p-p\nat {inclination:.0f}°",
        tip,
    )


def _centreline(reading: PlaneReading, plane: Plane, unit: LengthUnit) -> Block:
    centre = reading.centreline
    origin = "bearing centre" if plane.clearance_um else "rest"
    tip = (
        f"Mean shaft position from {origin}, {unit.value}, x to the right and y up; eccentricity "
        "ratio 1 is at the bearing wall; attitude from the direction of rest towards the rotation"
    )
    if centre is None:
        return "centreline", f"{words.DASH} no rest gap\nin the setup\n", tip
    ratio, attitude = centre.eccentricity_ratio, centre.attitude_deg
    lines = [
        f"x {words.length(centre.x_um, unit)}, y {words.length(centre.y_um, unit)} {unit.value}",
        f"eccentricity {words.number(ratio, 2)}" if ratio is not None else f"from {origin}",
        f"attitude {words.lag(attitude, 0)}" if attitude is not None else "",
    ]
    return "centreline", "\n".join(lines), tip


class PlaneStrip(QWidget):
    """A narrow column of headings and values beside the orbit."""

    def __init__(self, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self.setFixedWidth(WIDTH)
        self.setSizePolicy(QSizePolicy.Policy.Fixed, QSizePolicy.Policy.Preferred)
        self.setAccessibleName("Plane readings")
        column = QVBoxLayout(self)
        column.setContentsMargins(4, 4, 10, 6)
        column.setSpacing(0)
        self._labels: list[tuple[QLabel, QLabel]] = []
        for number in range(2 + len(ORDERS)):
            heading, value = QLabel(), QLabel()
            heading.setProperty("role", "muted")
            value.setTextFormat(Qt.TextFormat.PlainText)
            value.setSizePolicy(QSizePolicy.Policy.Ignored, QSizePolicy.Policy.Preferred)
            if number:
                column.addSpacing(6)
            column.addWidget(heading)
            column.addWidget(value)
            self._labels.append((heading, value))
        column.addStretch(1)
        self._shown: tuple[PlaneReading | None, Plane | None] = (None, None)
        self._unit = LengthUnit.UM

    def texts(self) -> tuple[str, ...]:
        """What is said, one text a block."""
        return tuple(f"{heading.text()} {value.text()}" for heading, value in self._labels)

    def set_reading(self, reading: PlaneReading | None, plane: Plane | None) -> None:
        """Show the readings of a plane."""
        self._shown = (reading, plane)
        self._write()

    def set_unit(self, unit: LengthUnit) -> None:
        """Show lengths in this unit."""
        self._unit = unit
        self._write()

    def _write(self) -> None:
        blocks = plane_texts(*self._shown, self._unit)
        self.setVisible(bool(blocks))
        for (heading, value), (name, text, tip) in zip(self._labels, blocks, strict=False):
            heading.setText(name)
            value.setText(text)
            for label in (heading, value):
                label.setToolTip(tip)
            value.setAccessibleName(f"{name}: {text}")
