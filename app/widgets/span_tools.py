"""Spans in the timeline's header: named in a small field, listed in a menu, gone back to."""

from __future__ import annotations

from collections.abc import Callable
from typing import TYPE_CHECKING

from PySide6.QtCore import QEvent, Qt, Signal
from PySide6.QtGui import QKeyEvent
from PySide6.QtWidgets import QHBoxLayout, QLineEdit, QMenu, QPushButton, QToolButton, QWidget

from app.session.named_spans import NAME_MAX, NamedSpan

from . import words

if TYPE_CHECKING:
    from app.session.session import Session


class NameField(QLineEdit):
    """A name is typed; Enter gives it, Esc leaves everything as it is."""

    left = Signal()

    def __init__(self) -> None:
        super().__init__()
        self.setMaxLength(NAME_MAX)
        self.setFixedWidth(150)
        self.setPlaceholderText("name of the span")
        self.setAccessibleName("Name of the span")
        self.hide()

    def event(self, event: QEvent) -> bool:
        """Esc is the field's own while a name is typed."""
        if event.type() == QEvent.Type.ShortcutOverride and _is_escape(event):
            event.accept()
            return True
        return super().event(event)

    def keyPressEvent(self, event: QKeyEvent) -> None:
        """Esc leaves."""
        if event.key() == Qt.Key.Key_Escape:
            self.left.emit()
        else:
            super().keyPressEvent(event)

    def mark(self, fault: str | None) -> None:
        """Show that the name cannot be, and why."""
        self.setToolTip(fault or "The span's name. Enter keeps it, Esc leaves")
        wanted = "false" if fault is None else "true"
        if self.property("invalid") != wanted:
            self.setProperty("invalid", wanted)
            self.style().unpolish(self)
            self.style().polish(self)


def _is_escape(event: QEvent) -> bool:
    return isinstance(event, QKeyEvent) and event.key() == Qt.Key.Key_Escape


class SpanTools(QWidget):
    """`Spans ▾`, and with a chosen span the ways to name it and to let it go."""

    done = Signal()
    """The name is given, or not; the timeline may have the focus again."""

    def __init__(self, session: Session, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self._session = session
        self._renamed: NamedSpan | None = None
        self.field = NameField()
        self.name_button = _tool("Name span…", "Give the chosen span a name to go back to it (N)")
        self.clear_button = _tool("Clear span", "Choose no span any more (Esc)")
        self.menu_button = QToolButton()
        self.menu_button.setText("Spans ▾")
        self.menu_button.setProperty("role", "quiet")
        self.menu_button.setPopupMode(QToolButton.ToolButtonPopupMode.InstantPopup)
        self.menu_button.setAccessibleName("Named spans")
        self.menu_button.setToolTip(
            "Spans of this capture that have a name, s: go to one, rename it, remove it (S). "
            "They are kept in your settings, not in the capture"
        )
        self.menu = QMenu(self.menu_button)
        self.menu.aboutToShow.connect(self._fill)
        self.menu_button.setMenu(self.menu)
        row = QHBoxLayout(self)
        row.setContentsMargins(0, 0, 0, 0)
        row.setSpacing(0)
        for widget in (self.field, self.name_button, self.clear_button, self.menu_button):
            row.addWidget(widget)
        self.name_button.clicked.connect(self.ask_name)
        self.clear_button.clicked.connect(lambda: session.span.set(None))
        self.field.returnPressed.connect(self._typed)
        self.field.textEdited.connect(lambda _text: self.field.mark(None))
        self.field.left.connect(self._leave)
        session.span.changed.connect(self._span_changed)
        session.spans.changed.connect(self._refresh)
        session.capture.changed.connect(self._close_field)
        self._refresh()

    def ask_name(self) -> None:
        """Let the reader name the chosen span, or change the name it has."""
        span = self._session.span.span
        if span is not None:
            self._ask(self._session.spans.name_of(span) or "", None)

    def open_menu(self) -> None:
        """Show the named spans."""
        if self.menu_button.isVisible():
            self.menu_button.setFocus(Qt.FocusReason.ShortcutFocusReason)
            self.menu_button.showMenu()

    def _ask(self, text: str, renamed: NamedSpan | None) -> None:
        self._renamed = renamed
        self.field.setText(text)
        self.field.mark(None)
        self.field.show()
        self.field.setFocus(Qt.FocusReason.ShortcutFocusReason)
        self.field.selectAll()
        self._refresh()

    def _typed(self) -> None:
        session, text, span = self._session, self.field.text(), self._session.span.span
        target = self._renamed.span if self._renamed is not None else span
        if target is None:
            self._leave()
            return
        fault = session.spans.fault_of(text, target)
        if fault is not None:
            self.field.mark(fault)
            return
        if self._renamed is not None:
            session.spans.rename(self._renamed, text)
        else:
            session.spans.give(text, target, session.moment.moment_s)
        self._leave()

    def _leave(self) -> None:
        self._close_field()
        self.done.emit()

    def _close_field(self) -> None:
        self._renamed = None
        self.field.hide()
        self._refresh()

    def _span_changed(self) -> None:
        if self._renamed is None and self.field.isVisibleTo(self):
            self._close_field()
        self._refresh()

    def _refresh(self) -> None:
        chosen = self._session.span.span
        naming = self.field.isVisibleTo(self)
        named = self._session.spans.name_of(chosen) is not None
        self.name_button.setText("Rename span…" if named else "Name span…")
        self.name_button.setVisible(chosen is not None and not naming)
        self.clear_button.setVisible(chosen is not None and not naming)
        self.menu_button.setVisible(bool(self._session.spans.items) or chosen is not None)

    def _fill(self) -> None:
        menu, items = self.menu, self._session.spans.items
        menu.clear()
        for item in items:
            _add(menu, item, lambda item=item: self._session.go_to_span(item), "Go to ")
        if not items:
            menu.addAction("No span has a name yet").setEnabled(False)
        menu.addSeparator()
        name = menu.addAction("Name the chosen span…", self.ask_name)
        name.setEnabled(self._session.span.span is not None)
        rename, remove = menu.addMenu("Rename"), menu.addMenu("Remove")
        for item in items:
            _add(rename, item, lambda item=item: self._ask(item.name, item), "Rename ")
            _add(remove, item, lambda item=item: self._session.spans.remove(item), "Remove ")
        for each in (rename, remove):
            each.setEnabled(bool(items))


def _add(menu: QMenu, item: NamedSpan, act: Callable[[], None], verb: str) -> None:
    where = f"{words.number(item.span.start_s, 2)} to {words.seconds(item.span.end_s)}"
    action = menu.addAction(f"{item.name.replace('&', '&&')}\t{where}")
    action.setToolTip(f"{verb}{item.name}, {where}")
    action.triggered.connect(lambda _checked=False: act())


def _tool(text: str, tip: str) -> QPushButton:
    button = QPushButton(text)
    button.setProperty("role", "quiet")
    button.setAutoDefault(False)
    button.setToolTip(tip)
    return button
