"""A change of theme reaches every part of the window, what is in sight first."""

from __future__ import annotations

from PySide6.QtWidgets import QWidget

from app.dialogs.help_dialogs import KeysDialog
from app.main_window import MainWindow
from app.plots import style
from app.widgets.wardrobe import MOST_WIDGETS

DARK = style.palette(style.Theme.DARK).ink


def sections(window: QWidget) -> list[QWidget]:
    return [each for each in window.findChildren(QWidget) if each.styleSheet()]


def test_a_page_shown_while_the_theme_changes_wears_the_new_one(qtbot, opened: MainWindow):
    opened.show_page("alarms")
    opened.show_page("moment")
    qtbot.waitUntil(opened.is_painted)
    opened.session.theme.set("dark")
    opened.show_page("alarms")
    qtbot.waitUntil(opened.is_painted)
    seen = [each for each in sections(opened) if each.isVisible()]
    assert len(seen) > 10
    assert all(DARK in each.styleSheet() for each in seen)
    qtbot.waitUntil(opened.wardrobe.is_done)
    assert all(DARK in each.styleSheet() for each in sections(opened))


def test_sections_are_small_and_one_is_not_inside_another(qtbot, opened: MainWindow):
    for key in opened.pages:
        opened.show_page(key)
    qtbot.waitUntil(opened.pages["lab"].is_ready, timeout=20_000)
    for section in sections(opened):
        assert len(section.findChildren(QWidget)) <= 1.5 * MOST_WIDGETS
        assert not sections(section), section


def test_a_dialog_is_dressed_before_it_is_seen(qtbot, opened: MainWindow):
    opened.session.theme.set("dark")
    qtbot.waitUntil(opened.wardrobe.is_done)
    dialog = KeysDialog(opened)
    dialog.ensurePolished()  # as Qt does before it shows it
    assert DARK in dialog.styleSheet()
    dialog.deleteLater()
