"""A capture of very many revolutions: they are made ready for the timeline off the GUI thread."""

from __future__ import annotations

import threading

import pytest

from app.plots import timeline_rows
from app.widgets import timeline as panel
from tests.app.conftest import settled

TIMEOUT_MS = 20_000


@pytest.fixture
def threads(monkeypatch):
    """Names of the threads that coarser levels were made in."""
    names = []
    real = timeline_rows.Rows.coarser

    def coarser(self):
        names.append(threading.current_thread().name)
        return real(self)

    monkeypatch.setattr(timeline_rows.Rows, "coarser", coarser)
    return names


def shown(opened):
    view = opened.timeline.plot._view
    return view.result, view.probe, view.levels


def test_levels_are_made_in_a_job(qtbot, opened, monkeypatch, threads):
    session = opened.session
    qtbot.waitUntil(lambda: settled(session), timeout=TIMEOUT_MS)
    assert shown(opened)[2] is None
    plain = opened.timeline.plot.grab().toImage()
    monkeypatch.setattr(panel, "MANY_ROWS", 10)
    monkeypatch.setattr(timeline_rows, "_A_COLUMN", 0.001)
    opened.timeline._show_result()
    qtbot.waitUntil(lambda: shown(opened)[2] is not None, timeout=TIMEOUT_MS)
    assert threads
    assert all(name.startswith("job") for name in threads)
    assert shown(opened)[:2] == (session.timeline.result, session.timeline_probe())
    # Drawn from coarser levels on a capture that needs none: alike, not the same.
    assert opened.timeline.plot.grab().toImage().size() == plain.size()


def test_the_picture_is_the_same(qtbot, opened, monkeypatch):
    qtbot.waitUntil(lambda: settled(opened.session), timeout=TIMEOUT_MS)
    plain = opened.timeline.plot.grab().toImage()
    monkeypatch.setattr(panel, "MANY_ROWS", 10)
    opened.timeline._show_result()
    qtbot.waitUntil(lambda: shown(opened)[2] is not None, timeout=TIMEOUT_MS)
    assert opened.timeline.plot.grab().toImage() == plain


def test_another_probe_and_another_capture(qtbot, opened, monkeypatch, capture_path):
    session = opened.session
    monkeypatch.setattr(panel, "MANY_ROWS", 10)
    qtbot.waitUntil(lambda: settled(session), timeout=TIMEOUT_MS)
    other = session.capture.setup.probe[1].name
    session.choice.set(timeline_probe=other)
    qtbot.waitUntil(lambda: shown(opened)[1] == other, timeout=TIMEOUT_MS)
    before = shown(opened)[0]
    session.open(capture_path)
    qtbot.waitUntil(
        lambda: (
            settled(session)
            and session.timeline.complete
            and not opened.timeline.plot.is_empty()
            and shown(opened)[0] is not before
        ),
        timeout=TIMEOUT_MS,
    )
    assert shown(opened)[0] is session.timeline.result
