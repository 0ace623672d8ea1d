"""Fixtures for every test. Nothing of a test may end up in the user's home."""

from __future__ import annotations

import os
import tempfile
from collections.abc import Iterator
from pathlib import Path

import pytest
from hypothesis import settings

# Before Qt is imported anywhere: no test needs a screen.
os.environ.setdefault("QT_QPA_PLATFORM", "offscreen")

# Settings, recent files and caches, of this process and of those that tests start. The folders go
# when the object does, at the interpreter's end.
_HOME = tempfile.TemporaryDirectory(prefix="runtrue-tests-")
for _kind in ("CONFIG", "CACHE", "DATA", "STATE"):
    os.environ[f"XDG_{_kind}_HOME"] = str(Path(_HOME.name) / _kind.lower())

# A busy machine makes an example slow, not wrong; a build tries the same examples every time.
settings.register_profile(
    "runtrue", deadline=None, derandomize=bool(os.environ.get("CI")), print_blob=True
)
settings.load_profile("runtrue")


@pytest.fixture(scope="session", autouse=True)
def _settings_of_their_own() -> Iterator[None]:
    """Where Qt heeds no XDG folder (Windows, macOS), settings go to the same place."""
    from PySide6.QtCore import QSettings

    QSettings.setPath(
        QSettings.Format.IniFormat, QSettings.Scope.UserScope, str(Path(_HOME.name) / "config")
    )
    yield
    _HOME.cleanup()
