"""The window: it joins the session with header, page, probe cards and timeline, and no more."""

from __future__ import annotations

import signal
import sys
from collections.abc import Callable
from pathlib import Path
from typing import TYPE_CHECKING

from PySide6.QtCore import QTimer
from PySide6.QtGui import QCloseEvent, QDragEnterEvent, QDropEvent, QGuiApplication, QResizeEvent
from PySide6.QtWidgets import (
    QApplication,
    QFileDialog,
    QHBoxLayout,
    QLabel,
    QMainWindow,
    QMenu,
    QStackedWidget,
    QVBoxLayout,
    QWidget,
)

from app.pages.frame import PageFrame
from app.pages.page_set import PageSet
from app.pages.registry import PAGES
from app.plots import style
from app.session.display_state import THEME_CHOICES
from app.session.faults import FaultCatcher
from app.session.session import Session
from app.widgets.banner import Banner
from app.widgets.header import Header
from app.widgets.job_strip import JobStrip
from app.widgets.paint_hold import PaintHold
from app.widgets.shortcuts import bind, moment_actions
from app.widgets.start_panel import StartPanel
from app.widgets.theming import theme_of
from app.widgets.wardrobe import Wardrobe
from app.widgets.words import CAUTION
from app.work.garbage import GarbageKeeper
from app.work.libraries import load_libraries
from app.work.runner import Callbacks

if TYPE_CHECKING:
    from app.session.notices import Notice

OPEN_FILTER = "Captures and setups (*.h5 *.hdf5 *.csv *.tsv *.txt *.toml);;All files (*)"
SETUP_FILTER = "Setups (*.toml);;All files (*)"


class MainWindow(QMainWindow):
    """One window, one session. Dialogs are loaded when they are first asked for."""

    def __init__(self, session: Session) -> None:
        super().__init__()
        self.session = session
        self._shown: tuple[object, ...] = ()
        self._filling = False
        self._hold = PaintHold(self)
        # First of all that listens: what has been told to be painted before is painted.
        for changed in (session.unit.changed, session.theme.changed, session.capture.setup_changed):
            changed.connect(self._hold.hold)
        session.reader.answered.connect(self._hold_when_filled)
        self.setWindowTitle("Runtrue")
        self.setAcceptDrops(True)
        self.setMinimumSize(960, 640)
        self._apply_palette()
        self.wardrobe = Wardrobe(self, theme_of(session.theme))
        self.header = Header(session, [(p.key, p.title, p.question) for p in PAGES])
        self.banner = Banner(session.notices)
        self.start = StartPanel(session)
        self.jobs = JobStrip(session.runner)
        self.stack = QStackedWidget()
        self.pages = PageSet(session, PAGES, self)
        self.frame = PageFrame(session, self.stack)
        self.probes, self.timeline = self.frame.probes, self.frame.timeline
        self._page = PAGES[0].key
        self._lay_out()
        self._connect()
        self._refresh()
        # The keys work from the start, and nothing looks chosen.
        self.frame.setFocus()

    def _lay_out(self) -> None:
        self.stack.addWidget(self.start)
        self.pages.made.connect(self._add_page)
        # The first one at once, the others in their time.
        self.pages.make(self._page)
        footer = QHBoxLayout()
        caution = QLabel(CAUTION)
        caution.setProperty("role", "footer")
        footer.addWidget(caution)
        footer.addStretch(1)
        footer.addWidget(self.jobs)
        centre = QWidget()
        centre.setProperty("role", "page")
        column = QVBoxLayout(centre)
        column.setContentsMargins(12, 0, 12, 4)
        column.setSpacing(7)
        column.addWidget(self.header)
        column.addWidget(self.banner)
        column.addWidget(self.frame, 1)
        column.addLayout(footer)
        self.setCentralWidget(centre)
        self.wardrobe.dress(centre)

    def _connect(self) -> None:
        session = self.session
        self.header.open_wanted.connect(self.ask_open)
        self.header.recent_wanted.connect(session.open)
        self.header.page_wanted.connect(self.show_page)
        self.header.menu_button.setMenu(self._menu())
        self.start.open_wanted.connect(self.ask_open)
        self.start.setup_wanted.connect(self.ask_setup)
        self.start.describe_wanted.connect(self.describe)
        self.start.recent_wanted.connect(session.open)
        self.start.lab_wanted.connect(lambda: self.show_page("lab"))
        self.banner.acted.connect(self._act)
        session.opener.layout_wanted.connect(lambda wanted: self._describe_columns(wanted.path))
        session.opener.table_opened.connect(lambda _table: self.show_page("run"))
        session.theme.changed.connect(self._change_theme)
        self.wardrobe.seen_dressed.connect(self._hold.release)
        session.capture.setup_changed.connect(self._refresh)
        session.capture.setup_changed.connect(self._hold.release)
        session.reader.answered.connect(self._answered)
        session.unit.changed.connect(self._hold.release)
        session.capture.phase_changed.connect(self._refresh)
        hints = QGuiApplication.styleHints()
        hints.colorSchemeChanged.connect(self._system_changed)
        self._system_changed()
        bind(self, {**moment_actions(session), **self._window_actions()})

    def _window_actions(self) -> dict[str, Callable[[], None]]:
        return {
            "largest": self.timeline.go_to_largest,
            "type_moment": self.timeline.focus_field,
            "name_span": self.timeline.spans.ask_name,
            "spans": self.timeline.spans.open_menu,
            "open": self.ask_open,
            "copy": lambda: self.pages[self._page].copy_readings(),
            "fit": self._fit,
            "about_page": self.show_help,
            "help": self.show_keys,
            "quit": self.close,
        }

    def _menu(self) -> QMenu:
        menu = QMenu(self)
        menu.addAction("Open a setup…", self.ask_setup)
        self._describe_action = menu.addAction("Describe the channels…", self.describe)
        self._save_action = menu.addAction("Save the setup…", self._save_setup)
        menu.addSeparator()
        themes = menu.addMenu("Theme")
        for choice in THEME_CHOICES:
            action = themes.addAction(choice.capitalize())
            action.setCheckable(True)
            action.triggered.connect(lambda _checked=False, c=choice: self.session.theme.set(c))
        themes.aboutToShow.connect(
            lambda: [
                action.setChecked(action.text().lower() == self.session.theme.choice)
                for action in themes.actions()
            ]
        )
        menu.addSeparator()
        menu.addAction("About this page", self.show_help)
        menu.addAction("Keys", self.show_keys)
        menu.addAction("About Runtrue", self.show_about)
        menu.aboutToShow.connect(self._enable_actions)
        return menu

    def _enable_actions(self) -> None:
        self._save_action.setEnabled(self.session.capture.setup is not None)
        self._describe_action.setEnabled(self.session.opener.can_be_described())

    def show_page(self, key: str) -> None:
        """Bring a page to the front."""
        self._page = key
        self.header.pages.set_value(key)
        self._refresh()

    def show_help(self) -> None:
        """The help on the page in sight."""
        from app.dialogs.page_help import open_page_help

        open_page_help(self, self.session.theme, [(p.key, p.title) for p in PAGES], self._page)

    def show_keys(self) -> None:
        """What the keys do."""
        from app.dialogs.help_dialogs import KeysDialog

        KeysDialog(self).exec()

    def show_about(self) -> None:
        """What this program is, and what it is not."""
        from app.dialogs.help_dialogs import AboutDialog

        AboutDialog(self).exec()

    def ask_open(self) -> None:
        """Choose a capture or a setup to open."""
        self._ask("Open a capture or a setup", OPEN_FILTER)

    def ask_setup(self) -> None:
        """Choose a setup for the open capture."""
        self._ask("Open a setup", SETUP_FILTER)

    def describe(self) -> None:
        """Say what the channels are."""
        from app.dialogs.describe import describe_channels

        if self.session.opener.can_be_described():
            describe_channels(self, self.session)

    def _describe_columns(self, path: Path) -> None:
        from app.dialogs.import_csv import describe_columns

        describe_columns(self, self.session, path)

    def _save_setup(self) -> None:
        from app.dialogs.describe import save_setup

        save_setup(self, self.session)

    def _add_page(self, key: str, page: QWidget) -> None:
        self.stack.addWidget(page)
        self.wardrobe.dress(page, holds=True)
        if key == "alarms":
            page.record_wanted.connect(self._write_record)
        elif key == "check":
            page.record_wanted.connect(self._record_check)
            page.record_open_wanted.connect(self._open_check)
            page.write_wanted.connect(self._write_curve)

    def _record_check(self) -> None:
        from app.reports.probe_check_record import ask_check_record

        ask_check_record(self, self.session)

    def _open_check(self) -> None:
        from app.reports.probe_check_record import ask_open_check

        ask_open_check(self, self.session)

    def _write_curve(self) -> None:
        from app.dialogs.write_curve import ask_to_write_curve

        ask_to_write_curve(self, self.session)

    def _write_record(self) -> None:
        from app.reports.proof_record import ask_record

        proof = self.pages["alarms"].lists.proof
        ask_record(self, self.session, proof.steps(), proof.results())

    def _ask(self, title: str, name_filter: str) -> None:
        path, _ = QFileDialog.getOpenFileName(
            self, title, self.session.settings.folder, name_filter
        )
        if path:
            self.session.open(Path(path))

    def _act(self, notice: Notice) -> None:
        if notice.action == "describe_columns" and notice.path is not None:
            self._describe_columns(notice.path)
        else:
            self.describe()

    def _fit(self) -> None:
        self.pages[self._page].fit()
        self.timeline.plot.fit()

    def _refresh(self) -> None:
        state = self.session.capture
        if state.phase == "opening" and self.pages.entry(self._page).own:
            # A capture is not seen there: go where it is.
            self.show_page(PAGES[0].key)
            return
        ready = state.setup is not None or self.pages.entry(self._page).alone
        page = self.pages[self._page] if ready else self.start
        bare = self.pages.entry(self._page).own
        if self.frame.turn(lambda: self.stack.setCurrentWidget(page), bare=bare):
            self._paint_later()
        if not self.wardrobe.is_done():
            self._hold.hold()
            self.wardrobe.hurry()
        name = state.capture.name if state.capture else ""
        self.setWindowTitle(f"{name} – Runtrue" if name else "Runtrue")

    def _apply_palette(self) -> None:
        app = QApplication.instance()
        if isinstance(app, QApplication):
            style.apply_palette(app, theme_of(self.session.theme))

    def _change_theme(self) -> None:
        """Pictures now, sheets a section a turn, then all that is in sight is painted."""
        self._apply_palette()
        self.wardrobe.change(theme_of(self.session.theme))

    def resizeEvent(self, event: QResizeEvent) -> None:
        """Lay out now, then paint card by card."""
        super().resizeEvent(event)
        self._paint_later()

    def _hold_when_filled(self) -> None:
        """All pictures change with the first answer, another plane or another number of turns."""
        result = self.session.reader.result
        shown: tuple[object, ...] = ()
        if result is not None:
            shown = result.request.plane, result.request.probes, result.request.half_turns
        self._filling = shown != self._shown
        if self._filling:
            self._shown = shown
            self._hold.hold()

    def _answered(self) -> None:
        """The answer has been drawn."""
        if self._filling:
            self._filling = False
            self._hold.release()

    def is_painted(self) -> bool:
        """Whether nothing is held back: what has changed is painted, or will be with this turn."""
        return self._hold.is_painted()

    def _paint_later(self) -> None:
        """So much changes that painting it at once would make this turn too long."""
        self._hold.hold()
        self._hold.release()

    def _system_changed(self) -> None:
        self.session.theme.set_system_dark(style.system_theme() is style.Theme.DARK)

    def dragEnterEvent(self, event: QDragEnterEvent) -> None:
        """Take one local file."""
        urls = event.mimeData().urls()
        if len(urls) == 1 and urls[0].isLocalFile():
            event.acceptProposedAction()

    def dropEvent(self, event: QDropEvent) -> None:
        """Open a capture, or give the open one a setup."""
        event.acceptProposedAction()
        self.session.open(Path(event.mimeData().urls()[0].toLocalFile()))

    def closeEvent(self, event: QCloseEvent) -> None:
        """Stop all work, wait for it, then go."""
        self.session.settings.set_geometry(self.saveGeometry())
        self.hide()
        self.pages.stop()
        QGuiApplication.styleHints().colorSchemeChanged.disconnect(self._system_changed)
        self.session.close()
        super().closeEvent(event)


def prepare_application() -> QApplication:
    """The application object, with its name, fonts and drawing options."""
    app = QApplication.instance()
    if not isinstance(app, QApplication):
        app = QApplication(sys.argv[:1])
    app.setApplicationName("Runtrue")
    style.load_fonts()
    style.configure_pyqtgraph()
    return app


def open_window(capture_path: Path | None = None, setup_path: Path | None = None) -> int:
    """Show the window, open the capture in it, and run until it is closed.

    Returns the exit status. Needs a screen: look for one before (Qt ends the process without).
    """
    app = prepare_application()
    # Ctrl+C in the terminal ends the program; Qt would keep Python from ever seeing it.
    signal.signal(signal.SIGINT, signal.SIG_DFL)
    session = Session()
    faults = FaultCatcher(session.notices)
    faults.install()
    window = MainWindow(session)
    geometry = session.settings.geometry
    if geometry is None or not window.restoreGeometry(geometry):
        available = app.primaryScreen().availableSize()
        window.resize(min(1600, available.width()), min(1000, available.height()))
    window.show()
    garbage = GarbageKeeper()
    window.pages.prepare()
    session.runner.run("libraries", load_libraries, Callbacks(error=lambda _failure: None))
    if capture_path is not None:
        # After the first paint: the window stands before the file is looked at.
        QTimer.singleShot(0, lambda: session.open(Path(capture_path), setup_path))
    status = app.exec()
    garbage.stop()
    faults.remove()
    return status
