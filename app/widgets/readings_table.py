"""The readings of every probe at the moment, with the uncertainty beside each value."""

from __future__ import annotations

from typing import TYPE_CHECKING

from PySide6.QtCore import QEvent, Qt
from PySide6.QtGui import QGuiApplication, QKeyEvent, QKeySequence, QResizeEvent
from PySide6.QtWidgets import QAbstractItemView, QHeaderView, QTableView, QWidget

from app.plots import style

from .readings_copy import copied_planes, copied_text
from .readings_delegate import MODES, ReadingsDelegate
from .readings_model import ReadingsModel

if TYPE_CHECKING:
    from analysis.model.results import SpanReadings
    from analysis.model.setup import Setup
    from analysis.model.units import LengthUnit

MOST_EXTRA = 14
"""Rows grow by as much where there is room."""

HEADING_MARGINS = 14

_OWN_KEYS = (Qt.Key.Key_Up, Qt.Key.Key_Down, Qt.Key.Key_Left, Qt.Key.Key_Right)


class ReadingsTable(QTableView):
    """The table; Ctrl+C copies the selection, or everything when nothing is selected."""

    def __init__(self, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self.readings = ReadingsModel()
        self._shown: SpanReadings | None = None
        self._lengths: tuple[int, ...] = ()
        self._crowded = False
        self._delegate = ReadingsDelegate(self.readings, self)
        self.setModel(self.readings)
        self.setItemDelegate(self._delegate)
        self.setShowGrid(False)
        self.setWordWrap(False)
        self.setCornerButtonEnabled(False)
        self.setHorizontalScrollMode(QAbstractItemView.ScrollMode.ScrollPerPixel)
        self.setVerticalScrollMode(QAbstractItemView.ScrollMode.ScrollPerPixel)
        self.setAccessibleName("Readings of every probe at the moment")
        self.setTabKeyNavigation(False)
        header = self.horizontalHeader()
        header.setSectionResizeMode(QHeaderView.ResizeMode.Fixed)
        header.setHighlightSections(False)
        header.setFont(style.font("small"))
        header.setMinimumSectionSize(20)
        side = self.verticalHeader()
        side.setSectionResizeMode(QHeaderView.ResizeMode.Fixed)
        side.setFont(style.font("title"))
        side.setHighlightSections(False)
        self.readings.modelReset.connect(self._fit_columns)

    def set_readings(self, readings: SpanReadings | None, setup: Setup | None) -> None:
        """Show the readings of a moment."""
        self._shown = readings
        self.readings.set_readings(readings, setup)
        # Columns only grow while the moment moves, so that nothing jumps to and fro.
        lengths = self._text_lengths()
        grown = any(new > old for new, old in zip(lengths, self._lengths, strict=True))
        if grown or (self._crowded and lengths != self._lengths):
            self._fit_columns()

    def set_unit(self, unit: LengthUnit) -> None:
        """Show lengths in this unit."""
        self.readings.set_unit(unit)
        self._fit_columns()

    def set_theme(self, theme: style.Theme) -> None:
        """Light or dark."""
        self._delegate.set_theme(theme)
        self.readings.set_theme(theme)

    def copy(self, *, decimal_mark: str = ".") -> str:
        """Put the selection (or all, then with the planes) on the clipboard, tab-separated."""
        selection = self.selectionModel()
        cells = selection.selectedIndexes() if selection else []
        rows, columns = self.readings.rows, self.readings.columns
        unit = self.readings.unit
        if cells:
            rows = tuple(rows[i] for i in sorted({cell.row() for cell in cells}))
            columns = tuple(columns[i] for i in sorted({cell.column() for cell in cells}))
        text = copied_text(rows, columns, unit, decimal_mark=decimal_mark)
        if not cells and self._shown is not None and self._shown.planes:
            planes = self._shown.planes.values()
            text += "\n" + copied_planes(planes, unit, decimal_mark=decimal_mark)
        QGuiApplication.clipboard().setText(text)
        return text

    def event(self, event: QEvent) -> bool:
        """Arrow keys walk through the cells here, and do not step the moment."""
        if event.type() == QEvent.Type.ShortcutOverride:
            plain = event.modifiers() in (
                Qt.KeyboardModifier.NoModifier,
                Qt.KeyboardModifier.ShiftModifier,
            )
            if plain and event.key() in _OWN_KEYS and self.readings.rows:
                event.accept()
                return True
        return super().event(event)

    def keyPressEvent(self, event: QKeyEvent) -> None:
        """Copy as text of our own; Escape drops the selection."""
        if event.matches(QKeySequence.StandardKey.Copy):
            self.copy()
        elif event.key() == Qt.Key.Key_Escape:
            self.selectionModel().clear()
        else:
            super().keyPressEvent(event)

    def resizeEvent(self, event: QResizeEvent) -> None:
        """Share the width again."""
        super().resizeEvent(event)
        self._fit_columns()

    def _fit_columns(self) -> None:
        """Give every column what it needs, and share out what is left."""
        rows = max(len(self.readings.rows), 1)
        room = self.maximumViewportSize()
        metrics, unit = self.horizontalHeader().fontMetrics(), self.readings.unit
        # The header's own hint leaves room for a sort arrow, which there never is.
        headings = [
            metrics.horizontalAdvance(column.title(unit)) + HEADING_MARGINS
            for column in self.readings.columns
        ]
        for mode in MODES:
            self._delegate.set_mode(mode)
            needs = [max(head, self._delegate.width_of(i)) for i, head in enumerate(headings)]
            if sum(needs) <= room.width() and rows * mode.height <= room.height():
                break
        self._lengths = self._text_lengths()
        self._crowded = sum(needs) > room.width()
        least = self._delegate.mode.height
        extra = min(max(room.height() // rows - least, 0), MOST_EXTRA)
        self.verticalHeader().setDefaultSectionSize(least + extra)
        spare = max(0, room.width() - sum(needs))
        for i, need in enumerate(needs):
            self.setColumnWidth(i, need + spare // len(needs))

    def _text_lengths(self) -> tuple[int, ...]:
        model = self.readings
        return tuple(
            max((max(map(len, model.texts(i, c))) for i in range(len(model.rows))), default=0)
            for c in range(len(model.columns))
        )
