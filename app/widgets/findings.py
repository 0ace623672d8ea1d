"""What a page has found, in sentences: the worst one as a headline, the others as a list."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING

from PySide6.QtCore import QEvent, QSize, Qt, Signal
from PySide6.QtGui import QGuiApplication, QKeyEvent, QMouseEvent
from PySide6.QtWidgets import QFrame, QHBoxLayout, QLabel, QScrollArea, QVBoxLayout, QWidget

from app.plots.fonts import font
from app.plots.position_words import SEVERITY_SHAPES, SEVERITY_STATES
from app.work.one_a_turn import OneATurn

if TYPE_CHECKING:
    from analysis.model.position_results import Finding

ROWS_A_TURN = 3
NONE = "Nothing stands out."
_WORDS = {"severe": "severe", "warning": "look", "note": "note", "in_order": "in order"}


class FindingRow(QFrame):
    """One finding; `chosen(finding)` by mouse, Enter or space."""

    chosen = Signal(object)

    def __init__(self, *, headline: bool = False, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self._finding: Finding | None = None
        self.words = ""
        self._headline = headline
        self.mark, self.sentence = QLabel(), QLabel()
        for label in (self.mark, self.sentence):
            label.setTextFormat(Qt.TextFormat.PlainText)
        self.sentence.setWordWrap(True)
        self.mark.setAlignment(Qt.AlignmentFlag.AlignTop | Qt.AlignmentFlag.AlignLeft)
        self.mark.setFixedWidth(20 if headline else 14)
        self.mark.setFont(font("figure" if headline else "body"))
        self.sentence.setFont(font("figure" if headline else "small", strong=headline))
        self.setFocusPolicy(Qt.FocusPolicy.StrongFocus)
        self.setProperty("role", "finding")
        row = QHBoxLayout(self)
        row.setContentsMargins(*((10, 6, 10, 6) if headline else (8, 2, 6, 2)))
        row.setSpacing(4)
        row.addWidget(self.mark)
        row.addWidget(self.sentence, 1)

    @property
    def finding(self) -> Finding | None:
        """What is told."""
        return self._finding

    def show_finding(self, finding: Finding | None, text: str = "") -> None:
        """Tell this one; `text` where there is none."""
        self._finding = finding
        severity = finding.severity if finding is not None else "note"
        role = SEVERITY_STATES[severity]
        if self.mark.property("role") != role:
            self.mark.setProperty("role", role)
            self.mark.style().unpolish(self.mark)
            self.mark.style().polish(self.mark)
        self.words = words = finding.sentence if finding is not None else text
        self.mark.setText(SEVERITY_SHAPES[severity] if finding is not None else "")
        # No line ends within “p-p”; the font has no hyphen of its own for that.
        self.sentence.setText(words.replace("p-p", "p-\u2060p"))
        shade = "muted" if severity in ("note", "in_order") and not self._headline else ""
        if self.sentence.property("role") != shade:
            self.sentence.setProperty("role", shade)
            self.sentence.style().unpolish(self.sentence)
            self.sentence.style().polish(self.sentence)
        self.setAccessibleName(f"{_WORDS[severity]}: {words}" if finding is not None else words)
        can = finding is not None
        self.setToolTip("Press: go to that probe, and to the time it speaks of, s" if can else "")
        shape = Qt.CursorShape.PointingHandCursor if can else Qt.CursorShape.ArrowCursor
        self.setCursor(shape)

    def mouseReleaseEvent(self, event: QMouseEvent) -> None:
        """Choose."""
        inside = self.rect().contains(event.position().toPoint())
        if event.button() is Qt.MouseButton.LeftButton and inside and self._finding is not None:
            self.chosen.emit(self._finding)
        super().mouseReleaseEvent(event)

    def keyPressEvent(self, event: QKeyEvent) -> None:
        """Choose."""
        keys = (Qt.Key.Key_Return, Qt.Key.Key_Enter, Qt.Key.Key_Space)
        if event.key() in keys and self._finding is not None:
            self.chosen.emit(self._finding)
            return
        super().keyPressEvent(event)

    def event(self, event: QEvent) -> bool:
        """Enter and space are the row's own while it has the focus."""
        keys = (Qt.Key.Key_Return, Qt.Key.Key_Enter, Qt.Key.Key_Space)
        own = event.type() == QEvent.Type.ShortcutOverride and isinstance(event, QKeyEvent)
        if own and event.key() in keys:
            event.accept()
            return True
        return super().event(event)


class Headline(QFrame):
    """A card with the worst finding, large enough to be read first."""

    chosen = Signal(object)

    def __init__(self, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self.setProperty("role", "card")
        self.row = FindingRow(headline=True)
        self.row.chosen.connect(self.chosen)
        column = QVBoxLayout(self)
        column.setContentsMargins(1, 1, 1, 1)
        column.addWidget(self.row)

    def show_finding(self, finding: Finding | None, text: str = "") -> None:
        """Tell the worst finding, or say something else where there is none."""
        self.row.show_finding(finding, text)

    def text(self) -> str:
        """The words that stand there."""
        return self.row.words


class FindingsList(QScrollArea):
    """Findings one below the other, in the order given; `chosen(finding)`."""

    chosen = Signal(object)

    def __init__(self, name: str, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self._shown: tuple[Finding, ...] = ()
        self._rows: list[FindingRow] = []
        self._turns = OneATurn(self)
        self.empty = QLabel(NONE)
        self.empty.setProperty("role", "empty")
        self.empty.setWordWrap(True)
        inner = QWidget()
        self._column = QVBoxLayout(inner)
        self._column.setContentsMargins(2, 0, 2, 4)
        self._column.setSpacing(1)
        self._column.addWidget(self.empty)
        self._column.addStretch(1)
        self.setWidgetResizable(True)
        self.setHorizontalScrollBarPolicy(Qt.ScrollBarPolicy.ScrollBarAlwaysOff)
        self.setFocusPolicy(Qt.FocusPolicy.NoFocus)
        self.setAccessibleName(name)
        self.setWidget(inner)
        # A scroll area paints its own ground unless told not to.
        self.viewport().setAutoFillBackground(False)
        inner.setAutoFillBackground(False)

    def minimumSizeHint(self) -> QSize:
        """As small as need be."""
        return QSize(80, 40)

    def show_findings(self, findings: Sequence[Finding]) -> None:
        """Show these; the same ones again change nothing."""
        wanted = tuple(findings)
        if wanted == self._shown and self._rows:
            return
        self._shown = wanted
        for place, row in enumerate(self._rows):
            if place < len(wanted):
                row.show_finding(wanted[place])
            row.setVisible(place < len(wanted))
        self.empty.setVisible(not wanted)
        self._make_rows()

    def _make_rows(self) -> None:
        """Make what rows are missing, some a turn: each has to be dressed and measured."""
        for _ in range(min(len(self._shown) - len(self._rows), ROWS_A_TURN)):
            row = FindingRow()
            row.chosen.connect(self.chosen)
            row.show_finding(self._shown[len(self._rows)])
            self._rows.append(row)
            self._column.insertWidget(self._column.count() - 1, row)
        if not self.is_whole():
            self._turns.put("rows", self._make_rows)

    def is_whole(self) -> bool:
        """Whether every finding has its row."""
        return len(self._rows) >= len(self._shown)

    def set_empty_text(self, text: str) -> None:
        """What stands where there is nothing to tell."""
        self.empty.setText(text)

    def rows(self) -> list[FindingRow]:
        """The rows in sight."""
        return self._rows[: len(self._shown)]

    def texts(self) -> list[str]:
        """Their sentences."""
        return [each.sentence for each in self._shown]

    def copy(self) -> None:
        """Put the sentences on the clipboard, one a line."""
        QGuiApplication.clipboard().setText("\n".join(self.texts()))
