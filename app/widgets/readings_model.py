"""The readings as a Qt table model: rows are probes, columns are measures."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from PySide6.QtCore import QAbstractTableModel, QModelIndex, QPersistentModelIndex, Qt

from analysis.model.units import LengthUnit
from app.plots import style

from .readings_copy import columns_for, rows_of

if TYPE_CHECKING:
    from analysis.model.results import SpanReadings
    from analysis.model.setup import Setup

    from .readings_columns import Column, Row

BESIDE = Qt.ItemDataRole.UserRole
"""Role of the smaller text beside a value: its uncertainty."""

Index = QModelIndex | QPersistentModelIndex
_LEFT = Qt.AlignmentFlag.AlignLeft | Qt.AlignmentFlag.AlignVCenter


class ReadingsModel(QAbstractTableModel):
    """Holds every text ready, for they are painted far more often than they change."""

    def __init__(self) -> None:
        super().__init__()
        self._rows: tuple[Row, ...] = ()
        self._columns: tuple[Column, ...] = columns_for(())
        self._texts: tuple[tuple[tuple[str, str], ...], ...] = ()
        self._unit = LengthUnit.UM
        self._theme = style.Theme.LIGHT
        self._setup: Setup | None = None

    @property
    def rows(self) -> tuple[Row, ...]:
        """The rows shown."""
        return self._rows

    @property
    def columns(self) -> tuple[Column, ...]:
        """The columns shown."""
        return self._columns

    @property
    def unit(self) -> LengthUnit:
        """The display unit."""
        return self._unit

    @property
    def theme(self) -> style.Theme:
        """Light or dark."""
        return self._theme

    def texts(self, row: int, column: int) -> tuple[str, str]:
        """Value and uncertainty of a cell."""
        return self._texts[row][column]

    def is_state(self, column: int) -> bool:
        """Whether the column is the one of the states."""
        return self._columns[column].key == "state"

    def set_readings(self, readings: SpanReadings | None, setup: Setup | None) -> None:
        """Show these readings. The same probes as before change in place: nothing jumps."""
        rows = rows_of(readings, setup) if readings and setup else ()
        columns = columns_for(rows)
        same_shape = len(rows) == len(self._rows) and columns == self._columns
        if same_shape and setup is self._setup:
            self._rows = rows
            self._write()
            return
        self.beginResetModel()
        self._rows, self._columns, self._setup = rows, columns, setup
        self._texts = self._made_texts()
        self.endResetModel()

    def set_unit(self, unit: LengthUnit) -> None:
        """Show lengths in this unit."""
        self._unit = unit
        self.headerDataChanged.emit(Qt.Orientation.Horizontal, 0, len(self._columns) - 1)
        self._write()

    def set_theme(self, theme: style.Theme) -> None:
        """Light or dark."""
        self._theme = theme
        self._write()

    def rowCount(self, parent: Index | None = None) -> int:
        """Probes."""
        return 0 if parent is not None and parent.isValid() else len(self._rows)

    def columnCount(self, parent: Index | None = None) -> int:
        """Measures."""
        return 0 if parent is not None and parent.isValid() else len(self._columns)

    def data(self, index: Index, role: int = Qt.ItemDataRole.DisplayRole) -> Any:
        """Text, uncertainty, tooltip, words for a screen reader."""
        if not index.isValid():
            return None
        value, beside = self._texts[index.row()][index.column()]
        if role == Qt.ItemDataRole.DisplayRole:
            return value
        if role == BESIDE:
            return beside
        row, column = self._rows[index.row()], self._columns[index.column()]
        if role == Qt.ItemDataRole.ToolTipRole:
            return column.tip(row, self._unit)
        if role == Qt.ItemDataRole.AccessibleTextRole:
            return f"{row.probe.name} {column.title(self._unit)}: {value} {beside}".strip()
        return None

    def headerData(
        self, section: int, orientation: Qt.Orientation, role: int = Qt.ItemDataRole.DisplayRole
    ) -> Any:
        """Measure with unit; name of the probe."""
        if orientation is Qt.Orientation.Vertical:
            if role == Qt.ItemDataRole.DisplayRole and section < len(self._rows):
                return self._rows[section].probe.name
            return None
        if role == Qt.ItemDataRole.DisplayRole and section < len(self._columns):
            return self._columns[section].title(self._unit)
        if role == Qt.ItemDataRole.TextAlignmentRole:
            return _LEFT
        return None

    def _made_texts(self) -> tuple[tuple[tuple[str, str], ...], ...]:
        unit = self._unit
        return tuple(
            tuple((column.cell(row, unit), column.beside(row, unit)) for column in self._columns)
            for row in self._rows
        )

    def _write(self) -> None:
        self._texts = self._made_texts()
        if self._rows:
            last = self.index(len(self._rows) - 1, len(self._columns) - 1)
            self.dataChanged.emit(self.index(0, 0), last)
