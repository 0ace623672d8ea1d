"""The list of events: a click, or the arrow keys, take the moment to them."""

from __future__ import annotations

from typing import TYPE_CHECKING

from PySide6.QtCore import QEvent, QRect, Qt, Signal
from PySide6.QtGui import (
    QColor,
    QFont,
    QFontMetrics,
    QGuiApplication,
    QKeyEvent,
    QPainter,
    QPaintEvent,
    QResizeEvent,
)
from PySide6.QtWidgets import (
    QAbstractItemView,
    QHeaderView,
    QStyle,
    QStyledItemDelegate,
    QStyleOptionViewItem,
    QTableView,
    QWidget,
)

from app.plots import style

from .event_words import event_mark
from .events_model import COLUMNS, ON_TRIAL, WHAT, EventRow, EventsModel, Index

if TYPE_CHECKING:
    from analysis.model.units import LengthUnit

MARGIN = 6
ONE_LINE, TWO_LINES = 23, 37
"""Heights of a row; with two lines the reason stands below what happened."""

LEAST_WHAT, LEAST_WHY = 112, 90
HEADING_ROOM = 13
_WALK = (
    Qt.Key.Key_Up,
    Qt.Key.Key_Down,
    Qt.Key.Key_Home,
    Qt.Key.Key_End,
    Qt.Key.Key_PageUp,
    Qt.Key.Key_PageDown,
)
_ENTER = (Qt.Key.Key_Return, Qt.Key.Key_Enter, Qt.Key.Key_Space)
_LEFT = Qt.AlignmentFlag.AlignLeft | Qt.AlignmentFlag.AlignVCenter


class EventsDelegate(QStyledItemDelegate):
    """Paints a cell: the state in its colour, the reason muted, what would be gone struck out."""

    def __init__(self, model: EventsModel, parent: QWidget) -> None:
        super().__init__(parent)
        self._model = model
        self.theme = style.Theme.LIGHT
        self.body_font = style.font("body")
        self._small = style.font("tiny")
        self._struck = QFont(self.body_font)
        self._struck.setStrikeOut(True)
        self._metrics = QFontMetrics(self.body_font)
        self._small_metrics = QFontMetrics(self._small)

    def set_theme(self, theme: style.Theme) -> None:
        """Light or dark."""
        self.theme = theme

    def width_of(self, column: int) -> int:
        """Width that the texts of a column need, px."""
        texts = (self._model.text(row, column) for row in range(self._model.rowCount()))
        widest = max((self._metrics.horizontalAdvance(text) for text in texts), default=0)
        return widest + 2 * MARGIN

    def paint(self, painter: QPainter, option: QStyleOptionViewItem, index: Index) -> None:
        """One cell."""
        row = self._model.rows[index.row()]
        text = self._model.text(index.row(), index.column())
        if option.state & QStyle.StateFlag.State_Selected:
            painter.fillRect(option.rect, option.palette.highlight())
        room = option.rect.adjusted(MARGIN, 0, -2, 0)
        painter.setFont(self._struck if row.on_trial == "gone" else self.body_font)
        painter.setPen(self._ink(row, index.column()))
        if index.column() != WHAT:
            painter.drawText(room, _LEFT, self._metrics.elidedText(text, _ELIDE, room.width()))
            return
        self._paint_what(painter, room, text, row.event.why)

    def _paint_what(self, painter: QPainter, room: QRect, text: str, why: str) -> None:
        shown = self._metrics.elidedText(text, _ELIDE, room.width())
        two = room.height() >= TWO_LINES - 2
        if two:
            middle = room.center().y() + 2
            upper = QRect(room.left(), middle - 18, room.width(), 18)
            lower = QRect(room.left(), middle - 1, room.width(), 15)
        else:
            used = self._metrics.horizontalAdvance(shown) + 8
            upper, lower = room, room.adjusted(used, 1, 0, 0)
        painter.drawText(upper, _LEFT, shown)
        if lower.width() < LEAST_WHY:
            return
        painter.setFont(self._small)
        painter.setPen(QColor(style.palette(self.theme).muted))
        reason = self._small_metrics.elidedText(why, _ELIDE, lower.width())
        painter.drawText(lower, _LEFT, reason)

    def _ink(self, row: EventRow, column: int) -> QColor:
        colours = style.palette(self.theme)
        if row.on_trial == "gone" and column != ON_TRIAL:
            return QColor(colours.muted)
        if column == WHAT:
            condition = event_mark(row.event)[1]
            if condition != "unknown":
                return style.condition_ink(condition, self.theme)
        return QColor(colours.accent_ink if column == ON_TRIAL else colours.ink)


_ELIDE = Qt.TextElideMode.ElideRight


class EventsTable(QTableView):
    """`moment_wanted(t)` when the reader goes to an event."""

    moment_wanted = Signal(float)

    def __init__(self, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self.events = EventsModel()
        self._delegate = EventsDelegate(self.events, self)
        self._widths: tuple[int, ...] = ()
        self._unfolded: int | None = None
        self._empty_text = ""
        self.setModel(self.events)
        self.setItemDelegate(self._delegate)
        self.setShowGrid(False)
        self.setWordWrap(False)
        self.setSelectionBehavior(QAbstractItemView.SelectionBehavior.SelectRows)
        self.setSelectionMode(QAbstractItemView.SelectionMode.SingleSelection)
        self.setVerticalScrollMode(QAbstractItemView.ScrollMode.ScrollPerPixel)
        self.setHorizontalScrollMode(QAbstractItemView.ScrollMode.ScrollPerPixel)
        self.setAccessibleName("Events: every change of a limit's state")
        self.setTabKeyNavigation(False)
        header = self.horizontalHeader()
        header.setSectionResizeMode(QHeaderView.ResizeMode.Fixed)
        header.setHighlightSections(False)
        header.setFont(style.font("small"))
        header.setMinimumSectionSize(20)
        side = self.verticalHeader()
        side.setSectionResizeMode(QHeaderView.ResizeMode.Fixed)
        side.hide()
        self.setColumnHidden(ON_TRIAL, True)
        self.clicked.connect(lambda index: self._go_to(index.row()))

    def set_empty_text(self, text: str) -> None:
        """What stands where there are no events."""
        if text != self._empty_text:
            self._empty_text = text
            self.setAccessibleDescription(text)
            self.viewport().update()

    def set_rows(self, rows: tuple[EventRow, ...], *, on_trial: bool) -> None:
        """Show these events; `on_trial`: with what a trial makes of them."""
        hidden = self.isColumnHidden(ON_TRIAL)
        shape = (len(rows), on_trial)
        before = (len(self.events.rows), not hidden)
        self.events.set_rows(rows)
        if hidden == on_trial:
            self.setColumnHidden(ON_TRIAL, not on_trial)
        if shape != before or self._needs() != self._widths:
            self._fit_columns()

    def set_unit(self, unit: LengthUnit) -> None:
        """Show lengths in this unit."""
        if unit is not self.events.unit:
            self.events.set_unit(unit)
            self._fit_columns()

    def set_theme(self, theme: style.Theme) -> None:
        """Light or dark."""
        self._delegate.set_theme(theme)
        self.viewport().update()

    def copy(self) -> str:
        """Put all events on the clipboard, tab-separated, with the reasons."""
        shown = [c for c in range(len(COLUMNS)) if not self.isColumnHidden(c)]
        lines = ["\t".join([*(COLUMNS[c] for c in shown), "why"])]
        for number, row in enumerate(self.events.rows):
            cells = [self.events.text(number, c) for c in shown]
            lines.append("\t".join([*cells, row.event.why]))
        text = "\n".join(lines) + "\n"
        QGuiApplication.clipboard().setText(text)
        return text

    def event(self, event: QEvent) -> bool:
        """Keys that walk through the rows do so here, and do not step the moment."""
        if event.type() == QEvent.Type.ShortcutOverride and isinstance(event, QKeyEvent):
            own = event.key() in (*_WALK, *_ENTER) and not event.modifiers()
            if own and self.events.rows:
                event.accept()
                return True
        return super().event(event)

    def keyPressEvent(self, event: QKeyEvent) -> None:
        """Walking goes to the events; Escape drops the selection."""
        if event.key() == Qt.Key.Key_Escape:
            self.clearSelection()
            return
        if event.key() not in _ENTER:
            super().keyPressEvent(event)
        if event.key() in (*_WALK, *_ENTER) and self.currentIndex().isValid():
            self._go_to(self.currentIndex().row())

    def paintEvent(self, event: QPaintEvent) -> None:
        """The rows, or the words that stand for them."""
        super().paintEvent(event)
        if self.events.rows or not self._empty_text:
            return
        painter = QPainter(self.viewport())
        painter.setFont(self._delegate.body_font)
        painter.setPen(QColor(style.palette(self._delegate.theme).muted))
        room = self.viewport().rect().adjusted(16, 8, -16, -8)
        wrapped = Qt.AlignmentFlag.AlignCenter | Qt.TextFlag.TextWordWrap
        painter.drawText(room, int(wrapped), self._empty_text)

    def currentChanged(self, current: Index, previous: Index) -> None:
        """The row that is gone to shows its reason, also where the others have no room for it."""
        super().currentChanged(current, previous)
        self._unfold()

    def resizeEvent(self, event: QResizeEvent) -> None:
        """Share the room again."""
        super().resizeEvent(event)
        self._fit_columns()

    def _go_to(self, row: int) -> None:
        if 0 <= row < len(self.events.rows):
            self.moment_wanted.emit(self.events.rows[row].event.time_s)

    def _needs(self) -> tuple[int, ...]:
        metrics = self.horizontalHeader().fontMetrics()
        return tuple(
            max(metrics.horizontalAdvance(title) + HEADING_ROOM, self._delegate.width_of(column))
            for column, title in enumerate(COLUMNS)
        )

    def _fit_columns(self) -> None:
        """Every column gets what it needs, and the story what is left."""
        self._widths = self._needs()
        rows = max(len(self.events.rows), 1)
        height = self.maximumViewportSize().height()
        two = rows * TWO_LINES <= height
        self.verticalHeader().setDefaultSectionSize(TWO_LINES if two else ONE_LINE)
        self._unfolded = None
        self._unfold()
        scrolls = not two and rows * ONE_LINE > height
        width = self.maximumViewportSize().width() - (12 if scrolls else 0)
        shown = [c for c in range(len(COLUMNS)) if not self.isColumnHidden(c)]
        others = sum(self._widths[c] for c in shown if c != WHAT)
        for column in shown:
            need = self._widths[column]
            self.setColumnWidth(column, max(width - others, LEAST_WHAT) if column == WHAT else need)

    def _unfold(self) -> None:
        height = self.verticalHeader().defaultSectionSize()
        if self._unfolded is not None and self._unfolded < len(self.events.rows):
            self.setRowHeight(self._unfolded, height)
        self._unfolded = self.currentIndex().row() if self.currentIndex().isValid() else None
        if self._unfolded is not None:
            self.setRowHeight(self._unfolded, TWO_LINES)
