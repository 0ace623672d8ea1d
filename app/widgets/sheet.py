"""A sheet of cells: some are typed into, some are reckoned; what is pasted is handed on."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

from PySide6.QtCore import (
    QAbstractTableModel,
    QEvent,
    QModelIndex,
    QPersistentModelIndex,
    Qt,
    Signal,
)
from PySide6.QtGui import (
    QColor,
    QFontMetrics,
    QGuiApplication,
    QKeyEvent,
    QKeySequence,
    QResizeEvent,
)
from PySide6.QtWidgets import (
    QAbstractItemDelegate,
    QAbstractItemView,
    QHeaderView,
    QTableView,
    QWidget,
)

from app.plots import style

ROW_HEIGHT = 22
_AIR = 15
_LEAST_NAME = 84
_ROLE = Qt.ItemDataRole
_INKS = {
    "ink": "ink",
    "muted": "muted",
    "pass": "normal",
    "fail": "trip",
    "accent": "accent_ink",
}
_EDGES = (Qt.Key.Key_Up, Qt.Key.Key_Down, Qt.Key.Key_Left, Qt.Key.Key_Right)
Index = QModelIndex | QPersistentModelIndex


@dataclass(frozen=True)
class Cell:
    """One cell. `tone` is one of ink, muted, pass, fail, accent; words say the state, too."""

    text: str = ""
    tone: str = "ink"
    editable: bool = False
    tip: str = ""


@dataclass(frozen=True)
class SheetData:
    """Heads, their tooltips, and rows of cells; every row has one cell a head."""

    heads: tuple[str, ...] = ()
    tips: tuple[str, ...] = ()
    rows: tuple[tuple[Cell, ...], ...] = ()
    names: tuple[str, ...] = ()

    def as_text(self) -> str:
        """All cells with tabs between, the heads first, and before each row its name, if any."""
        lines = ["\t".join(head.replace("\n", " ") for head in self.heads)]
        lines += ["\t".join(cell.text for cell in row) for row in self.rows]
        if self.names:
            lines = [f"{name}\t{text}" for name, text in zip(("", *self.names), lines, strict=True)]
        return "\n".join(lines)


class SheetModel(QAbstractTableModel):
    """Holds the cells; `typed(row, column, text)` when one has been typed into."""

    typed = Signal(int, int, str)

    def __init__(self) -> None:
        super().__init__()
        self.sheet = SheetData()
        self.theme = style.Theme.LIGHT

    def set_sheet(self, sheet: SheetData) -> None:
        """Other cells. Rows that stay keep their place, so that typing goes on undisturbed."""
        if sheet == self.sheet:
            return
        before = self.sheet
        if len(sheet.heads) != len(before.heads):
            self.beginResetModel()
            self.sheet = sheet
            self.endResetModel()
            return
        old, new = len(before.rows), len(sheet.rows)
        root = QModelIndex()
        if new > old:
            self.beginInsertRows(root, old, new - 1)
            self.sheet = sheet
            self.endInsertRows()
        elif new < old:
            self.beginRemoveRows(root, new, old - 1)
            self.sheet = sheet
            self.endRemoveRows()
        self.sheet = sheet
        if new and sheet.heads:
            self.dataChanged.emit(self.index(0, 0), self.index(new - 1, len(sheet.heads) - 1))
        if sheet.heads != before.heads:
            self.headerDataChanged.emit(Qt.Orientation.Horizontal, 0, len(sheet.heads) - 1)

    def rowCount(self, parent: Index = QModelIndex()) -> int:  # noqa: B008
        """Rows."""
        return 0 if parent.isValid() else len(self.sheet.rows)

    def columnCount(self, parent: Index = QModelIndex()) -> int:  # noqa: B008
        """Columns."""
        return 0 if parent.isValid() else len(self.sheet.heads)

    def cell(self, row: int, column: int) -> Cell:
        """A cell; an empty one where there is none."""
        if row < len(self.sheet.rows) and column < len(self.sheet.rows[row]):
            return self.sheet.rows[row][column]
        return Cell()

    def flags(self, index: Index) -> Qt.ItemFlag:
        """Editable where something may be typed."""
        flags = Qt.ItemFlag.ItemIsEnabled | Qt.ItemFlag.ItemIsSelectable
        if self.cell(index.row(), index.column()).editable:
            flags |= Qt.ItemFlag.ItemIsEditable
        return flags

    def data(self, index: Index, role: int = _ROLE.DisplayRole) -> Any:
        """Text, tooltip and ink of a cell."""
        cell = self.cell(index.row(), index.column())
        if role in (_ROLE.DisplayRole, _ROLE.EditRole):
            return cell.text
        if role == _ROLE.ToolTipRole:
            return cell.tip or (cell.text if index.column() == 0 else None) or None
        if role == _ROLE.TextAlignmentRole:
            right = Qt.AlignmentFlag.AlignRight | Qt.AlignmentFlag.AlignVCenter
            left = Qt.AlignmentFlag.AlignLeft | Qt.AlignmentFlag.AlignVCenter
            return left if index.column() == 0 and not cell.editable else right
        if role == _ROLE.ForegroundRole:
            return QColor(getattr(style.palette(self.theme), _INKS[cell.tone]))
        if role == _ROLE.BackgroundRole and cell.editable:
            return QColor(style.palette(self.theme).paper)
        if role == _ROLE.AccessibleTextRole:
            return f"{self.sheet.heads[index.column()]}: {cell.text or 'empty'}"
        return None

    def setData(self, index: Index, value: Any, role: int = _ROLE.EditRole) -> bool:
        """Hand on what was typed; the sheet follows when it is told."""
        if role != _ROLE.EditRole or not self.cell(index.row(), index.column()).editable:
            return False
        text = str(value)
        if text != self.cell(index.row(), index.column()).text:
            self.typed.emit(index.row(), index.column(), text)
        return True

    def headerData(
        self, section: int, orientation: Qt.Orientation, role: int = _ROLE.DisplayRole
    ) -> Any:
        """Heads across, numbers of rows (or their names) down."""
        sheet = self.sheet
        if orientation is Qt.Orientation.Vertical:
            if role == _ROLE.DisplayRole:
                return sheet.names[section] if section < len(sheet.names) else str(section + 1)
            return None
        if section >= len(sheet.heads):
            return None
        if role == _ROLE.DisplayRole:
            return sheet.heads[section]
        if role == _ROLE.ToolTipRole and section < len(sheet.tips):
            return sheet.tips[section]
        return None


class Sheet(QTableView):
    """`typed(row, column, text)`, `pasted(text, row, column)`, `row_chosen(row)`."""

    typed = Signal(int, int, str)
    pasted = Signal(str, int, int)
    row_chosen = Signal(int)

    def __init__(self, name: str, *, numbered: bool = True, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self.cells = SheetModel()
        self._heads: tuple[str, ...] = ()
        self.setModel(self.cells)
        self.setAccessibleName(name)
        self.setProperty("role", "sheet")
        self.setShowGrid(True)
        self.setWordWrap(False)
        self.setCornerButtonEnabled(False)
        self.setTabKeyNavigation(False)
        self.setHorizontalScrollMode(QAbstractItemView.ScrollMode.ScrollPerPixel)
        self.setVerticalScrollMode(QAbstractItemView.ScrollMode.ScrollPerPixel)
        trigger = QAbstractItemView.EditTrigger
        self.setEditTriggers(
            trigger.DoubleClicked
            | trigger.EditKeyPressed
            | trigger.AnyKeyPressed
            | trigger.SelectedClicked
        )
        across, down = self.horizontalHeader(), self.verticalHeader()
        across.setSectionResizeMode(QHeaderView.ResizeMode.Fixed)
        across.setHighlightSections(False)
        across.setFont(style.font("tiny"))
        across.setMinimumSectionSize(16)
        down.setSectionResizeMode(QHeaderView.ResizeMode.Fixed)
        down.setDefaultSectionSize(ROW_HEIGHT)
        down.setMinimumSectionSize(16)
        down.setFont(style.font("tiny"))
        down.setHighlightSections(False)
        down.setVisible(numbered)
        self.setFont(style.font("small"))
        self.cells.typed.connect(self.typed)
        self.selectionModel().currentRowChanged.connect(
            lambda now, _before: self.row_chosen.emit(now.row())
        )

    def set_sheet(self, sheet: SheetData) -> None:
        """Show these cells."""
        changed = sheet.heads != self._heads or len(sheet.rows) != self.cells.rowCount()
        texts = self._widest()
        self.cells.set_sheet(sheet)
        self._heads = sheet.heads
        if changed or self._widest() != texts:
            self._fit_columns()

    def set_theme(self, theme: style.Theme) -> None:
        """Light or dark."""
        self.cells.theme = theme
        self.viewport().update()

    def go_to(self, row: int, column: int = 0) -> None:
        """Make a cell the current one."""
        self.setCurrentIndex(self.cells.index(row, column))

    def copied(self) -> str:
        """All cells as text with tabs."""
        return self.cells.sheet.as_text()

    def copy(self) -> None:
        """Put all cells on the clipboard."""
        QGuiApplication.clipboard().setText(self.copied())

    def paste(self) -> None:
        """Hand on what the clipboard holds, with the cell it is to begin at."""
        text = QGuiApplication.clipboard().text()
        at = self.currentIndex()
        if text.strip():
            self.pasted.emit(text, max(at.row(), 0), max(at.column(), 0))

    def closeEditor(  # noqa: N802
        self, editor: QWidget, hint: QAbstractItemDelegate.EndEditHint
    ) -> None:
        """Enter goes one row down, as in any sheet."""
        super().closeEditor(editor, hint)
        if hint is QAbstractItemDelegate.EndEditHint.SubmitModelCache:
            at = self.currentIndex()
            if at.row() + 1 < self.cells.rowCount():
                self.setCurrentIndex(self.cells.index(at.row() + 1, at.column()))

    def event(self, event: QEvent) -> bool:
        """What is typed here belongs here, and not to the window's keys."""
        if event.type() == QEvent.Type.ShortcutOverride and isinstance(event, QKeyEvent):
            plain = not event.modifiers() & (
                Qt.KeyboardModifier.ControlModifier | Qt.KeyboardModifier.AltModifier
            )
            own = event.matches(QKeySequence.StandardKey.Copy) or event.matches(
                QKeySequence.StandardKey.Paste
            )
            typed = bool(event.text()) and self._may_type() and event.key() != Qt.Key.Key_Escape
            if own or (plain and (event.key() in _EDGES or typed)):
                event.accept()
                return True
        return super().event(event)

    def keyPressEvent(self, event: QKeyEvent) -> None:
        """Copy, paste, and Delete to empty cells."""
        if event.matches(QKeySequence.StandardKey.Copy):
            self.copy()
        elif event.matches(QKeySequence.StandardKey.Paste):
            self.paste()
        elif event.key() in (Qt.Key.Key_Delete, Qt.Key.Key_Backspace):
            for at in self.selectionModel().selectedIndexes():
                cell = self.cells.cell(at.row(), at.column())
                if cell.editable and cell.text:
                    self.typed.emit(at.row(), at.column(), "")
        else:
            super().keyPressEvent(event)

    def resizeEvent(self, event: QResizeEvent) -> None:
        """Share out the room."""
        super().resizeEvent(event)
        self._fit_columns()

    def _may_type(self) -> bool:
        at = self.currentIndex()
        return at.isValid() and self.cells.cell(at.row(), at.column()).editable

    def _widest(self) -> tuple[int, ...]:
        rows = self.cells.sheet.rows
        return tuple(
            max((len(row[place].text) for row in rows), default=0)
            for place in range(len(self.cells.sheet.heads))
        )

    def _fit_columns(self) -> None:
        sheet = self.cells.sheet
        if not sheet.heads:
            return
        body = QFontMetrics(style.font("small"))
        head = QFontMetrics(style.font("tiny"))
        widths = [
            _width(body, head, sheet.heads[place], [row[place].text for row in sheet.rows])
            for place in range(len(sheet.heads))
        ]
        lack = sum(widths) - self.viewport().width()
        if not self.verticalHeader().isVisible() and lack > 0:
            # The first column names the row: its end can be cut before a figure is.
            widths[0] = max(widths[0] - lack, _LEAST_NAME)
        spare = (self.viewport().width() - sum(widths)) // len(widths)
        for place, width in enumerate(widths):
            self.setColumnWidth(place, width + max(spare, 0))


def _width(body: QFontMetrics, head: QFontMetrics, title: str, texts: Sequence[str]) -> int:
    lines = title.split("\n")
    widest = max(head.horizontalAdvance(line) for line in lines)
    return max([widest, *(body.horizontalAdvance(text) for text in texts)]) + _AIR
