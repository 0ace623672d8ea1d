"""Fixtures of the window's tests: nothing reaches the user's home, nothing is left running."""

from __future__ import annotations

import gc
import threading
from collections.abc import Iterator
from pathlib import Path

import pytest
import shiboken6
from PySide6.QtCore import QCoreApplication, QEvent, QObject, QSettings, QStandardPaths
from PySide6.QtWidgets import QApplication, QWidget

from analysis.files.hdf5_write import write_hdf5
from app.main_window import MainWindow
from app.plots import style
from app.session.session import Session
from app.session.settings import Settings

from .made_capture import made_capture

MOST_GARBAGE = 20_000
"""Objects made and not let go of since the last collection; a window is some ten thousand."""


@pytest.fixture(autouse=True)
def _isolated(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    QStandardPaths.setTestModeEnabled(True)
    for name in ("XDG_CACHE_HOME", "XDG_CONFIG_HOME", "XDG_DATA_HOME"):
        monkeypatch.setenv(name, str(tmp_path / name.lower()))


@pytest.fixture(autouse=True)
def _no_threads_left() -> Iterator[None]:
    yield
    left = [t.name for t in threading.enumerate() if t.name.startswith("job")]
    assert not left, f"threads left running: {left}"


@pytest.fixture(scope="session", autouse=True)
def _garbage_in_one_thread() -> Iterator[None]:
    """As in the program: a collection in a worker would let go of Qt objects there, and crash."""
    gc.collect()
    gc.freeze()
    gc.disable()
    yield
    gc.enable()
    gc.unfreeze()


@pytest.fixture(autouse=True)
def _garbage_collected() -> Iterator[None]:
    yield
    if gc.get_count()[0] > MOST_GARBAGE:
        gc.collect()


@pytest.fixture(scope="session", autouse=True)
def _dressed(qapp: QApplication) -> None:
    style.load_fonts()
    style.configure_pyqtgraph()
    style.apply_palette(qapp, style.Theme.LIGHT)


@pytest.fixture(scope="session")
def capture_path(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Four probes in two planes, a phase reference, 6 s at 1500 r/min, with its setup inside."""
    path = tmp_path_factory.mktemp("captures") / "steady.h5"
    write_hdf5(path, made_capture())
    return path


@pytest.fixture(scope="session")
def bare_path(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The same channels, and nothing that says what they are."""
    path = tmp_path_factory.mktemp("captures") / "bare.h5"
    write_hdf5(path, made_capture(setup=None))
    return path


@pytest.fixture
def settings(tmp_path: Path) -> Settings:
    return Settings(QSettings(str(tmp_path / "settings.ini"), QSettings.Format.IniFormat))


@pytest.fixture
def session(qapp: QApplication, settings: Settings) -> Iterator[Session]:
    made = Session(settings)
    made.theme.set("light")
    yield made
    made.close()
    let_go(made)


def let_go(session: Session) -> None:
    """Let Qt's half of a session go, after the window's.

    A signal of the session that calls a function of the window keeps the window's Python half
    alive, in a place where Python's collector cannot look: a thousand windows would stay.
    """
    QCoreApplication.sendPostedEvents(None, QEvent.Type.DeferredDelete.value)
    for part in vars(session).values():
        if isinstance(part, QObject) and shiboken6.isValid(part):
            part.deleteLater()
    QCoreApplication.sendPostedEvents(None, QEvent.Type.DeferredDelete.value)


@pytest.fixture
def window(qtbot, session: Session) -> Iterator[MainWindow]:
    made = MainWindow(session)
    made.resize(1280, 800)
    with qtbot.waitExposed(made):
        made.show()
    yield made
    if made.isVisible():
        made.close()
    made.deleteLater()
    style.apply_palette(QApplication.instance(), style.Theme.LIGHT)


def settled(session: Session) -> bool:
    """Nothing runs, and every answer has been drawn."""
    return session.runner.is_idle() and session.reader.calm.is_settled()


@pytest.fixture
def opened(qtbot, window: MainWindow, capture_path: Path) -> MainWindow:
    """The window with the capture open and everything drawn."""
    window.session.open(capture_path)
    qtbot.waitUntil(
        lambda: window.session.timeline.complete and window.session.reader.result is not None,
        timeout=20_000,
    )
    qtbot.waitUntil(lambda: settled(window.session), timeout=20_000)
    return window


@pytest.fixture
def page(qtbot, window: MainWindow) -> QWidget:
    """The Lab, reached from the start; its shaft stands."""
    window.start.lab.click()
    made = window.pages["lab"]
    qtbot.waitUntil(made.is_ready, timeout=10_000)
    made.clock.set_running(False)
    return made
