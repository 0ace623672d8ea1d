"""The help on the pages of the window, beside it: a page can be read while it is looked at."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING

from PySide6.QtCore import Qt, QUrl
from PySide6.QtGui import QIcon
from PySide6.QtWidgets import QDialog, QDialogButtonBox, QTextBrowser, QVBoxLayout, QWidget

from app.widgets.segmented import Segmented
from app.widgets.theming import theme_of
from app.work.step import Step

from .help_text import help_markdown, write_help

if TYPE_CHECKING:
    from app.session.display_state import ThemeState

SIZE = (760, 640)


class PageHelp(QDialog):
    """Help on one page at a time; `pages` are (key, title). Esc closes it.

    Links lead from page to page and nowhere else.
    """

    def __init__(
        self, theme: ThemeState, pages: Sequence[tuple[str, str]], parent: QWidget | None = None
    ) -> None:
        super().__init__(parent)
        self._theme = theme
        self._titles = dict(pages)
        self.resize(*SIZE)
        self.pages = Segmented(
            "Help on", [(title, key, f"Help on {title}") for key, title in pages], "leaf"
        )
        self.text = QTextBrowser()
        self.text.setAccessibleName("Help on the page")
        self.text.setOpenLinks(False)
        # A bar that comes once the text is seen to be long has all of it laid out a second time.
        self.text.setVerticalScrollBarPolicy(Qt.ScrollBarPolicy.ScrollBarAlwaysOn)
        self.text.document().setDocumentMargin(16.0)
        buttons = QDialogButtonBox(QDialogButtonBox.StandardButton.Close)
        buttons.button(QDialogButtonBox.StandardButton.Close).setIcon(QIcon())
        column = QVBoxLayout(self)
        column.setContentsMargins(14, 10, 14, 12)
        column.setSpacing(8)
        column.addWidget(self.pages)
        column.addWidget(self.text, 1)
        column.addWidget(buttons)
        self.pages.chosen.connect(self.show_page)
        self.text.anchorClicked.connect(self._follow)
        buttons.rejected.connect(self.reject)
        self.text.setFocus()
        # To lay the text out is work for a turn of its own, after the dialog or the theme.
        self._writing = Step(self, 0, self._write)
        self._written = ""
        theme.changed.connect(self._writing.start)

    def show_page(self, key: str) -> None:
        """Show the help on a page, from its beginning unless it is shown already."""
        self.pages.set_value(key)
        self.setWindowTitle(f"About the page {self._titles[key]}")
        self._writing.start()

    def _write(self) -> None:
        key, bar = self.pages.value(), self.text.verticalScrollBar()
        place = bar.value() if key == self._written else 0
        write_help(self.text.document(), help_markdown(key), theme_of(self._theme))
        self._written = key
        bar.setValue(place)

    def _follow(self, link: QUrl) -> None:
        key = link.toString().removesuffix(".md")
        if key in self._titles:
            self.show_page(key)


def open_page_help(
    window: QWidget, theme: ThemeState, pages: Sequence[tuple[str, str]], key: str
) -> PageHelp:
    """Show the help on a page beside the window, in the dialog that is open already if one is."""
    dialog = next((each for each in window.findChildren(PageHelp) if each.isVisible()), None)
    if dialog is None:
        dialog = PageHelp(theme, pages, window)
        dialog.finished.connect(dialog.deleteLater)
    dialog.show_page(key)
    dialog.show()
    dialog.raise_()
    dialog.activateWindow()
    return dialog
