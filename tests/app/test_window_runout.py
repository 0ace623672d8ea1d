"""Runout taken off waveforms and orbit in the window: told, kept, and gone with its capture."""

from __future__ import annotations

import shutil

import numpy as np
import pytest

from app.dialogs.keep_slow_roll import ask_to_keep_runout

from .conftest import settled
from .test_window_run import SAMPLE, TIMEOUT_MS

pytestmark = pytest.mark.qt_log_ignore("does not support propagateSizeHints")


def wait(qtbot, window) -> None:
    qtbot.waitUntil(lambda: settled(window.session), timeout=TIMEOUT_MS)
    qtbot.waitUntil(window.is_painted, timeout=TIMEOUT_MS)


@pytest.fixture
def slow(qtbot, window):
    """The run-up at its slow roll, everything answered."""
    window.session.open(SAMPLE)
    qtbot.waitUntil(lambda: window.session.timeline.complete, timeout=TIMEOUT_MS)
    window.session.moment.set(5.0)
    wait(qtbot, window)
    return window


def heights(window) -> list[float]:
    """p-p of the waveforms' turns shown, and of the orbit across."""
    result = window.session.reader.result
    return [
        *(float(np.ptp(each.trace.y)) for each in result.waveforms.values()),
        float(np.ptp(result.orbit.x)),
    ]


def test_runout_is_taken_off_told_and_put_back(qtbot, slow):
    page, runout = slow.pages["moment"], slow.session.runout
    before = heights(slow)
    assert page.runout_note.full_text() == ""
    menu = page.orbit_tools.runout.menu_shown
    menu.aboutToShow.emit()
    menu.actions()[1].trigger()
    qtbot.waitUntil(lambda: runout.source == "measured", timeout=TIMEOUT_MS)
    wait(qtbot, slow)
    # Recipe of the sample: 5.2 µm p-p at 215° of DE-X, less what the shaft moves at 600 r/min.
    words = page.runout_note.full_text()
    assert words.startswith("runout taken off: 1X DE-X 4.8 ∠ 212°, DE-Y 5.0 ∠ 131° µm p-p at 601")
    assert "readings and spectrum are as measured" in words
    assert page.waveforms[0].subtitle().startswith("runout taken off, 5.5 µm p-p")
    assert all(now < 0.5 * then for now, then in zip(heights(slow), before, strict=True))
    slow.session.unit.toggle()
    wait(qtbot, slow)
    assert "mil p-p" in page.runout_note.full_text()
    runout.choose("off")
    wait(qtbot, slow)
    assert heights(slow) == before
    assert page.runout_note.full_text() == ""


def test_it_is_kept_in_a_setup_and_comes_back(qtbot, slow, tmp_path, monkeypatch):
    session = slow.session
    own = tmp_path / "run.h5"
    shutil.copy(SAMPLE, own)
    session.open(own)
    qtbot.waitUntil(
        lambda: session.timeline.complete and session.capture.capture.path == own,
        timeout=TIMEOUT_MS,
    )
    session.runout.choose("measured")
    qtbot.waitUntil(lambda: session.runout.source == "measured", timeout=TIMEOUT_MS)
    kept = tmp_path / "run.toml"
    monkeypatch.setattr(
        "app.dialogs.write_setup.QFileDialog.getSaveFileName", lambda *_args: (str(kept), "")
    )
    dialog = ask_to_keep_runout(slow, session)
    dialog.accept()
    qtbot.waitUntil(kept.exists, timeout=TIMEOUT_MS)
    wait(qtbot, slow)
    # Taken up, it stands for what was measured: the same waves, by their orders.
    session.opener.use_setup_file(kept)
    qtbot.waitUntil(session.runout.is_kept, timeout=TIMEOUT_MS)
    assert session.runout.source == "kept"
    session.moment.set(5.0)
    wait(qtbot, slow)
    assert "as kept in the setup" in slow.pages["moment"].runout_note.full_text()
    off = heights(slow)
    session.runout.choose("off")
    wait(qtbot, slow)
    assert all(now < 0.6 * then for now, then in zip(off, heights(slow), strict=True))
    session.runout.choose("kept")
    session.open(SAMPLE)
    qtbot.waitUntil(
        lambda: session.capture.capture is not None and session.capture.capture.path != own,
        timeout=TIMEOUT_MS,
    )
    assert session.runout.source == "off"
    assert not session.choice.now.runout
    wait(qtbot, slow)


def test_a_capture_without_slow_roll_says_why(qtbot, opened):
    session = opened.session
    session.runout.choose("measured")
    wait(qtbot, opened)
    assert session.runout.source == "off"
    told = [notice for notice in session.notices.all if notice.topic == "runout"]
    assert told
    assert "no slow-roll vector" in f"{told[0].title} {told[0].text}"
