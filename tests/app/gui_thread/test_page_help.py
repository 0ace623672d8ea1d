"""Help takes the GUI thread for 50 ms at most: opened, turned to each page, in another theme."""

from __future__ import annotations

import pytest

from app.dialogs.page_help import PageHelp
from app.main_window import MainWindow
from app.pages.registry import PAGES

from .rounds import assert_never_busy_for_long
from .watchdog import Watchdog
from .window_run import spin, spin_until

pytestmark = pytest.mark.qt_log_ignore("This plugin does not support")


def read_through(window: MainWindow, watchdog: Watchdog) -> int:
    """Open it, look at each page in both themes, close it; returns how many pages stood there."""
    stood = 0
    with watchdog.watch("help is opened"):
        window.show_help()
        spin(150)
    (dialog,) = (each for each in window.findChildren(PageHelp) if each.isVisible())
    for theme in ("dark", "light"):
        with watchdog.watch("theme, with help open"):
            window.session.theme.set(theme)
            spin_until(window.wardrobe.is_done)
            spin(100)
        with watchdog.watch("pages of the help"):
            for entry in PAGES:
                dialog.pages.button(entry.key).click()
                spin(80)
                stood += dialog.text.document().firstBlock().text() == entry.title
    dialog.reject()
    spin(50)
    return stood


def test_the_gui_thread_is_never_busy_for_long(big: MainWindow, capsys):
    assert_never_busy_for_long(
        lambda watchdog: read_through(big, watchdog),
        fewest_paints=2 * len(PAGES) - 1,
        capsys=capsys,
    )
