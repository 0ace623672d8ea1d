"""The Moment page and the readings of a capture as files, where there is no screen."""

from __future__ import annotations

import os
import tempfile
from collections.abc import Callable
from pathlib import Path
from typing import TYPE_CHECKING

from PySide6.QtCore import QEventLoop, QSettings, QSize
from PySide6.QtWidgets import QApplication, QHBoxLayout, QLabel, QVBoxLayout, QWidget

from analysis.files.atomic import replacing
from analysis.jobs import SILENT
from analysis.model.errors import InputError
from analysis.reporting.readings_text import readings_text, volts_text
from analysis.views.readings import read_volts
from app.pages.frame import PageFrame
from app.pages.moment_page import MomentPage
from app.plots import style
from app.session.opening import open_all
from app.session.session import Session
from app.session.settings import Settings
from app.widgets.elided import ElidedLabel
from app.widgets.header import facts_of
from app.widgets.words import CAUTION

if TYPE_CHECKING:
    from analysis.model.capture import Capture
    from app.session.capture_state import Opened

SIZE = QSize(1600, 1000)


def write_report(capture_path: Path, setup_path: Path | None, folder: Path) -> list[Path]:
    """Write `<name>-moment.png` and `<name>-readings.txt` at the moment of the largest p-p.

    A capture without a setup gives the mean volts of its channels as text and no picture.
    Needs no screen: Qt is asked for its off-screen platform when no other is named.

    Args:
        capture_path: the capture.
        setup_path: its setup; `None`: the one that is found with it.
        folder: an existing folder to write to.

    Returns:
        The files written.

    Raises:
        InputError: when the capture or its setup is bad, or the folder cannot be written to.
    """
    opened = open_all(Path(capture_path), setup_path, None, SILENT)
    try:
        if opened.setup_error is not None:
            raise opened.setup_error
        stem = Path(capture_path).stem
        text_path = folder / f"{stem}-readings.txt"
        if opened.setup is None:
            _write_text(text_path, _volts_of(opened.capture))
            return [text_path]
        picture_path = folder / f"{stem}-moment.png"
        _write_text(text_path, _draw(opened, picture_path))
        return [picture_path, text_path]
    finally:
        opened.capture.close()


def _volts_of(capture: Capture) -> str:
    return volts_text(capture.span, read_volts(capture, capture.span), capture.warnings)


def _write_text(path: Path, text: str) -> None:
    with replacing(path) as temporary:
        temporary.write_text(text, encoding="utf-8")


def _draw(opened: Opened, picture_path: Path) -> str:
    """Draw the page into the file; returns the readings of the moment drawn, as text."""
    app = _application()
    with tempfile.TemporaryDirectory() as scratch:
        # Nobody's settings: a report looks the same for everyone.
        store = QSettings(str(Path(scratch) / "none.ini"), QSettings.Format.IniFormat)
        session = Session(Settings(store))
        session.theme.set("light")
        style.apply_theme(app, style.Theme.LIGHT)
        sheet = _sheet(session, opened)
        try:
            session.capture.set(opened)
            sheet.show()
            _wait(app, session, lambda: session.timeline.complete)
            moment_s = session.timeline.largest_at()
            if moment_s is not None:
                session.moment.set(moment_s)
            _wait(app, session, session.runner.is_idle)
            result = session.reader.result
            if result is None:
                raise InputError(f"{opened.capture.name}: there is no moment that can be read")
            _save(sheet, picture_path)
            return readings_text(result.readings)
        finally:
            session.runner.shutdown()
            sheet.close()
            sheet.deleteLater()
            app.processEvents()


def _application() -> QApplication:
    app = QApplication.instance()
    if not isinstance(app, QApplication):
        os.environ.setdefault("QT_QPA_PLATFORM", "offscreen")
        app = QApplication(["runtrue"])
    style.load_fonts()
    style.configure_pyqtgraph()
    return app


def _sheet(session: Session, opened: Opened) -> QWidget:
    sheet = QWidget()
    sheet.setProperty("role", "page")
    setup = opened.setup
    title = QLabel((setup.machine.title if setup else "") or opened.capture.name)
    title.setProperty("role", "title")
    facts = ElidedLabel()
    facts.setProperty("role", "muted")
    facts.set_full_text(facts_of(opened.capture, setup))
    heading = QHBoxLayout()
    heading.addWidget(title)
    heading.addWidget(facts, 1)
    caution = QLabel(CAUTION)
    caution.setProperty("role", "footer")
    column = QVBoxLayout(sheet)
    column.setContentsMargins(12, 10, 12, 6)
    column.setSpacing(8)
    column.addLayout(heading)
    column.addWidget(PageFrame(session, MomentPage(session)), 1)
    column.addWidget(caution)
    sheet.resize(SIZE)
    return sheet


def _wait(app: QApplication, session: Session, done: Callable[[], bool]) -> None:
    """Let the background work go on until `done`; its first error is raised."""
    while not done():
        app.processEvents(QEventLoop.ProcessEventsFlag.AllEvents, 50)
        for notice in session.notices.all:
            if notice.severity == "error":
                raise InputError(f"{notice.title}: {notice.text}".replace("\n", " "))
        if session.runner.is_idle():
            app.processEvents()
            return


def _save(sheet: QWidget, path: Path) -> None:
    picture = sheet.grab()
    with replacing(path) as temporary:
        if not picture.save(str(temporary), "PNG"):
            raise InputError(f"{path.name}: the picture could not be written; is the disk full?")
