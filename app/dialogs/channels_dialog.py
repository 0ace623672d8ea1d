"""Describe the channels of a capture that has no setup."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import TYPE_CHECKING, Final

from PySide6.QtCore import Qt
from PySide6.QtGui import QIcon
from PySide6.QtWidgets import (
    QComboBox,
    QDialog,
    QDialogButtonBox,
    QFrame,
    QGridLayout,
    QHBoxLayout,
    QLabel,
    QLineEdit,
    QScrollArea,
    QVBoxLayout,
    QWidget,
)

from analysis.model.units import UM_PER_MIL
from app.widgets import words

from .channel_rows import ChannelRow, Role, number_of, setup_of_rows

if TYPE_CHECKING:
    from analysis.model.setup import Setup

_ROLES: Final[tuple[tuple[str, Role], ...]] = (
    ("radial probe", "radial"),
    ("axial probe", "axial"),
    ("phase reference", "reference"),
    ("ignore", "ignore"),
)
_HEADINGS = ("channel", "mean, V", "is a", "angle, °", "scale factor", "linear range, µm", "plane")
_HINT = (
    "Angles: degrees from 12 o'clock, positive to the right, seen from the driver end (45° left "
    "is -45). Two radial probes with the same plane name make an orbit. The scale factor of "
    "200 mV/mil (7.874 mV/µm) is common practice, not your probe's: take the one of the chain's "
    "certificate."
)


class _RowFields:
    """The fields of one channel."""

    def __init__(self, row: ChannelRow, grid: QGridLayout, at: int) -> None:
        self.channel = row.channel
        self.mean = QLabel(words.DASH)
        self.role = QComboBox()
        for text, role in _ROLES:
            self.role.addItem(text, role)
        self.role.setCurrentIndex([role for _, role in _ROLES].index(row.role))
        self.angle = _field(row.angle, 64, f"Angle of {row.channel}, degrees", "")
        self.scale = _field(row.scale_factor, 80, f"Scale factor of {row.channel}", "")
        self.range = _field(
            row.linear_range, 120, f"Linear range of {row.channel}, µm", "250 to 2280"
        )
        self.plane = _field(row.plane, 130, f"Plane of {row.channel}", "")
        self.role.setAccessibleName(f"Role of {row.channel}")
        name = QLabel(row.channel)
        name.setProperty("role", "title")
        cells = (name, self.mean, self.role, self.angle, self.scale, self.range, self.plane)
        for column, widget in enumerate(cells):
            grid.addWidget(widget, at, column)
        self.role.currentIndexChanged.connect(self._enable)
        self._enable()

    def _enable(self) -> None:
        role = self.role.currentData()
        self.angle.setEnabled(role == "radial")
        self.plane.setEnabled(role == "radial")
        self.scale.setEnabled(role in ("radial", "axial"))
        self.range.setEnabled(role in ("radial", "axial"))
        if self.scale.isEnabled() and not self.scale.text():
            self.scale.setText("200")

    def row(self) -> ChannelRow:
        """What is written in them."""
        return ChannelRow(
            self.channel,
            self.role.currentData(),
            self.angle.text(),
            self.scale.text(),
            self.range.text(),
            self.plane.text(),
        )


class ChannelsDialog(QDialog):
    """One line a channel; `setup` holds the answer once accepted."""

    def __init__(
        self,
        capture_name: str,
        rows: Sequence[ChannelRow],
        before: Setup | None = None,
        parent: QWidget | None = None,
    ) -> None:
        """`rows` is what is known or guessed; `before` the setup that was described earlier."""
        super().__init__(parent)
        self.setWindowTitle(f"Describe the channels of {capture_name}")
        self.setup: Setup | None = None
        self.title = QLineEdit()
        self.title.setPlaceholderText("machine, such as Brine pump P-204")
        self.title.setAccessibleName("Title of the machine")
        self.rotation = QComboBox()
        self.rotation.addItem("counter-clockwise", "ccw")
        self.rotation.addItem("clockwise", "cw")
        self.rotation.setAccessibleName("Rotation seen from the driver end")
        self.unit = QComboBox()
        self.unit.addItem("mV/mil", "mil")
        self.unit.addItem("mV/µm", "um")
        self.unit.setAccessibleName("Unit of the scale factors")
        self.unit.currentIndexChanged.connect(self._convert)
        self.problems = QLabel()
        self.problems.setProperty("role", "trip")
        self.problems.setWordWrap(True)
        self.problems.setTextFormat(Qt.TextFormat.PlainText)
        self.problems.hide()
        self.rows: list[_RowFields] = []
        if before is not None:
            self.title.setText(before.machine.title)
            self.rotation.setCurrentIndex(self.rotation.findData(before.machine.rotation))
        self._lay_out(rows)

    def _lay_out(self, rows: Sequence[ChannelRow]) -> None:
        top = QHBoxLayout()
        for label, widget in (
            ("machine", self.title),
            ("rotation, from the driver end", self.rotation),
            ("scale factors in", self.unit),
        ):
            top.addWidget(_muted(label))
            top.addWidget(widget, 1 if widget is self.title else 0)
        table = QWidget()
        grid = QGridLayout(table)
        grid.setContentsMargins(12, 8, 12, 8)
        grid.setHorizontalSpacing(10)
        for column, heading in enumerate(_HEADINGS):
            grid.addWidget(_muted(heading), 0, column)
        self.rows = [_RowFields(row, grid, at + 1) for at, row in enumerate(rows)]
        grid.setRowStretch(len(rows) + 1, 1)
        area = QScrollArea()
        area.setWidgetResizable(True)
        area.setWidget(table)
        area.setFrameShape(QFrame.Shape.NoFrame)
        hint = _muted(_HINT)
        hint.setWordWrap(True)
        buttons = QDialogButtonBox(QDialogButtonBox.StandardButton.Cancel)
        self.use = buttons.addButton("Use this", QDialogButtonBox.ButtonRole.AcceptRole)
        self.use.setProperty("role", "primary")
        buttons.button(QDialogButtonBox.StandardButton.Cancel).setIcon(QIcon())
        buttons.accepted.connect(self.accept)
        buttons.rejected.connect(self.reject)
        column = QVBoxLayout(self)
        column.setContentsMargins(16, 14, 16, 12)
        column.setSpacing(10)
        column.addLayout(top)
        column.addWidget(area, 1)
        column.addWidget(hint)
        column.addWidget(self.problems)
        column.addWidget(buttons)
        self.resize(900, min(640, 250 + 36 * len(rows)))

    def set_means(self, volts: Mapping[str, float | None]) -> None:
        """Show the mean of each channel: a help to tell a probe from a reference."""
        for fields in self.rows:
            fields.mean.setText(words.number(volts.get(fields.channel), 2))

    def accept(self) -> None:
        """Take the description, or say everything that is wrong with it."""
        self.setup, problems = setup_of_rows(
            [fields.row() for fields in self.rows],
            rotation=self.rotation.currentData(),
            scale_unit=self.unit.currentData(),
            title=self.title.text().strip(),
        )
        self.problems.setText("\n".join(problems))
        self.problems.setVisible(bool(problems))
        if not problems:
            super().accept()

    def _convert(self) -> None:
        """Scale factors keep their value when their unit changes."""
        factor = 1.0 / UM_PER_MIL if self.unit.currentData() == "um" else UM_PER_MIL
        for fields in self.rows:
            value = number_of(fields.scale.text())
            if value is not None:
                fields.scale.setText(f"{value * factor:.5g}")


def _field(text: str, width: int, name: str, placeholder: str) -> QLineEdit:
    field = QLineEdit(text)
    field.setFixedWidth(width)
    field.setAccessibleName(name)
    field.setToolTip(name)
    field.setPlaceholderText(placeholder)
    return field


def _muted(text: str) -> QLabel:
    label = QLabel(text)
    label.setProperty("role", "muted")
    return label
