"""A plain list of rows with what there is to tell of the chosen one below; a row has a moment."""

from __future__ import annotations

from collections.abc import Sequence

from PySide6.QtCore import QEvent, Qt, Signal
from PySide6.QtGui import QBrush, QColor, QGuiApplication, QKeyEvent, QResizeEvent
from PySide6.QtWidgets import (
    QAbstractItemView,
    QHeaderView,
    QLabel,
    QStackedLayout,
    QTableWidget,
    QTableWidgetItem,
    QVBoxLayout,
    QWidget,
)

from app.plots import style

from .run_words import Row, capital
from .words import DASH

ROW_HEIGHT = 22
_WALK = (Qt.Key.Key_Up, Qt.Key.Key_Down, Qt.Key.Key_Home, Qt.Key.Key_End)
_ENTER = (Qt.Key.Key_Return, Qt.Key.Key_Enter, Qt.Key.Key_Space)
_LEAST_ROOM, _OF_TITLE = 15, 6
"""Beside the text of a cell, and what a title wants above that, pixels."""


class RowsTable(QWidget):
    """`moment_wanted(t)` when the reader goes to a row."""

    moment_wanted = Signal(float)

    def __init__(
        self,
        name: str,
        columns: Sequence[tuple[str, str]],
        parent: QWidget | None = None,
        *,
        first_to_go: Sequence[str] = (),
    ) -> None:
        """`columns` are (title, tooltip); `first_to_go` titles, told below where room lacks."""
        super().__init__(parent)
        titles = [title for title, _tip in columns]
        self._first_to_go = [titles.index(title) for title in first_to_go]
        self._rows: tuple[Row, ...] = ()
        self._theme = style.Theme.LIGHT
        self.table = _Walked(0, len(columns))
        self.table.setAccessibleName(name)
        self.table.setProperty("role", "sheet")  # narrow cells
        self.table.setFont(style.font("body"))
        for rank, (title, tip) in enumerate(columns):
            item = QTableWidgetItem(title)
            item.setToolTip(tip)
            item.setFont(style.font("small"))
            self.table.setHorizontalHeaderItem(rank, item)
        self.details = QLabel()
        self.details.setProperty("role", "footer")
        self.details.setWordWrap(True)
        self.details.setContentsMargins(8, 2, 8, 4)
        self.details.setTextInteractionFlags(Qt.TextInteractionFlag.TextSelectableByMouse)
        self._empty = QLabel()
        self._empty.setProperty("role", "empty")
        self._empty.setWordWrap(True)
        self._empty.setAlignment(Qt.AlignmentFlag.AlignCenter)
        filled = QWidget()
        column = QVBoxLayout(filled)
        column.setContentsMargins(0, 0, 0, 0)
        column.setSpacing(0)
        column.addWidget(self.table, 1)
        column.addWidget(self.details)
        self._filled = filled
        self._stack = QStackedLayout(self)
        self._stack.addWidget(self._empty)
        self._stack.addWidget(filled)
        self.table.itemClicked.connect(lambda item: self._go_to(item.row()))
        self.table.walked.connect(self._go_to)
        self.table.currentCellChanged.connect(lambda row, *_rest: self._tell(row))

    @property
    def rows(self) -> tuple[Row, ...]:
        """The rows shown."""
        return self._rows

    def empty_text(self) -> str:
        """What stands where there is no row."""
        return self._empty.text()

    def set_empty_text(self, text: str) -> None:
        """What stands where there is no row, and why."""
        self._empty.setText(text)

    def set_rows(self, rows: tuple[Row, ...]) -> None:
        """Show these; the first one is told of below."""
        self._stack.setCurrentWidget(self._filled if rows else self._empty)
        if rows == self._rows:
            return
        self._rows = rows
        table = self.table
        chosen = max(table.currentRow(), 0)
        table.setRowCount(len(rows))
        for number, row in enumerate(rows):
            for rank, text in enumerate(row.cells):
                item = table.item(number, rank)
                if item is None:
                    item = QTableWidgetItem()
                    table.setItem(number, rank, item)
                item.setText(text)
                item.setToolTip(row.details)
            table.setRowHeight(number, ROW_HEIGHT)
        self._dress()
        self._fit_columns()
        self._tell(min(chosen, len(rows) - 1))

    def set_theme(self, theme: style.Theme) -> None:
        """Light or dark."""
        self._theme = theme
        self._dress()

    def copy(self) -> str:
        """Put the rows on the clipboard, tab-separated, with what there is to tell."""
        heads = [self.table.horizontalHeaderItem(c).text() for c in range(self.table.columnCount())]
        lines = ["\t".join([*heads, "Remarks"])]
        lines += ["\t".join([*row.cells, row.details]) for row in self._rows]
        text = "\n".join(lines) + "\n"
        QGuiApplication.clipboard().setText(text)
        return text

    def resizeEvent(self, event: QResizeEvent) -> None:
        """Share the room again."""
        super().resizeEvent(event)
        self._fit_columns()

    def _tell(self, row: int) -> None:
        if not 0 <= row < len(self._rows):
            self.details.setText("")
            return
        cells = self._rows[row].cells
        hidden = [
            f"{capital(self.table.horizontalHeaderItem(rank).text())} {cells[rank]}."
            for rank in range(min(len(cells), self.table.columnCount()))
            if self.table.isColumnHidden(rank) and cells[rank] not in ("", DASH)
        ]
        self.details.setText(" ".join([self._rows[row].details, *hidden]))

    def _go_to(self, row: int) -> None:
        self._tell(row)
        if 0 <= row < len(self._rows) and self._rows[row].time_s is not None:
            self.moment_wanted.emit(self._rows[row].time_s)

    def _dress(self) -> None:
        colours = style.palette(self._theme)
        for number, row in enumerate(self._rows):
            ink = QBrush(QColor(colours.muted if row.quiet else colours.ink))
            for rank in range(len(row.cells)):
                self.table.item(number, rank).setForeground(ink)

    def _fit_columns(self) -> None:
        """Every column what it needs, what is over shared; what has no room is told below."""
        table, header = self.table, self.table.horizontalHeader()
        metrics, heads = table.fontMetrics(), header.fontMetrics()
        needs = []
        for rank in range(table.columnCount()):
            texts = [row.cells[rank] for row in self._rows if rank < len(row.cells)]
            widest = max((metrics.horizontalAdvance(text) for text in texts), default=0)
            title = heads.horizontalAdvance(table.horizontalHeaderItem(rank).text())
            needs.append(max(widest, title + _OF_TITLE))
        room = self.width() - 2 * table.frameWidth() - table.verticalScrollBar().sizeHint().width()
        hidden: set[int] = set()
        for rank in self._first_to_go:
            kept = len(needs) - len(hidden)
            if sum(needs) - sum(needs[k] for k in hidden) + kept * _LEAST_ROOM <= room:
                break
            hidden.add(rank)
        shown = [rank for rank in range(len(needs)) if rank not in hidden]
        spare = (room - sum(needs[rank] for rank in shown)) // max(len(shown), 1)
        for rank, need in enumerate(needs):
            table.setColumnHidden(rank, rank in hidden)
            table.setColumnWidth(rank, need + max(spare, _LEAST_ROOM))
        self._tell(max(table.currentRow(), 0))


class _Walked(QTableWidget):
    """Rows that the arrow keys walk through, without stepping the moment by turns."""

    walked = Signal(int)

    def __init__(self, rows: int, columns: int) -> None:
        super().__init__(rows, columns)
        self.setShowGrid(False)
        self.setWordWrap(False)
        self.setEditTriggers(QAbstractItemView.EditTrigger.NoEditTriggers)
        self.setSelectionBehavior(QAbstractItemView.SelectionBehavior.SelectRows)
        self.setSelectionMode(QAbstractItemView.SelectionMode.SingleSelection)
        self.setVerticalScrollMode(QAbstractItemView.ScrollMode.ScrollPerPixel)
        self.setHorizontalScrollMode(QAbstractItemView.ScrollMode.ScrollPerPixel)
        self.setTabKeyNavigation(False)
        header = self.horizontalHeader()
        header.setSectionResizeMode(QHeaderView.ResizeMode.Fixed)
        header.setHighlightSections(False)
        header.setDefaultAlignment(Qt.AlignmentFlag.AlignLeft | Qt.AlignmentFlag.AlignVCenter)
        header.setMinimumSectionSize(20)
        self.verticalHeader().hide()

    def event(self, event: QEvent) -> bool:
        """Keys that walk through the rows do so here."""
        if event.type() == QEvent.Type.ShortcutOverride and isinstance(event, QKeyEvent):
            own = event.key() in (*_WALK, *_ENTER) and not event.modifiers()
            if own and self.rowCount():
                event.accept()
                return True
        return super().event(event)

    def keyPressEvent(self, event: QKeyEvent) -> None:
        """Walking goes to the rows."""
        if event.key() not in _ENTER:
            super().keyPressEvent(event)
        if event.key() in (*_WALK, *_ENTER) and self.currentRow() >= 0:
            self.walked.emit(self.currentRow())
