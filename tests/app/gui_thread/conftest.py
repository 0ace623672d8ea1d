"""Windows as the program shows them, long captures, and nothing else running beside."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path

import pytest

from app.main_window import MainWindow
from app.session.session import Session
from app.work.garbage import GarbageKeeper
from tests.app.long_capture import write_long_capture

from .window_run import spin

FOUR_MINUTES_S = 240
FIVE_GB_S = 19_600


def pytest_collection_modifyitems(items: list[pytest.Item]) -> None:
    here = Path(__file__).parent
    for item in items:
        if here in item.path.parents:
            item.add_marker(pytest.mark.alone)


@pytest.fixture(scope="session")
def long_path(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Path]:
    """Four minutes, 61 MB."""
    path = tmp_path_factory.mktemp("long") / "long.h5"
    write_long_capture(path, FOUR_MINUTES_S)
    yield path
    path.unlink()


@pytest.fixture(scope="session")
def huge_path(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Path]:
    """Five hours and a half, 5 GB, of which all but the first four minutes are no signal."""
    path = tmp_path_factory.mktemp("huge") / "huge.h5"
    assert write_long_capture(path, FIVE_GB_S, FOUR_MINUTES_S) > 5e9
    yield path
    path.unlink()


@pytest.fixture
def big(qtbot, session: Session) -> Iterator[MainWindow]:
    """The window as the program shows it."""
    window = MainWindow(session)
    window.resize(1600, 1000)
    with qtbot.waitExposed(window):
        window.show()
    garbage = GarbageKeeper()
    spin(200)
    yield window
    garbage.stop()
    window.close()
    window.deleteLater()
