"""Work of the GUI thread that is cut into turns of the event loop."""

from __future__ import annotations

from PySide6.QtCore import QTimer

from app.work.one_a_turn import OneATurn


def test_one_after_the_other_with_the_window_alive_between(qtbot):
    work, done = OneATurn(), []
    for number in range(3):
        work.put(number, lambda n=number: done.append(n))
    QTimer.singleShot(0, lambda: done.append("event"))
    assert done == []
    qtbot.waitUntil(work.is_idle)
    qtbot.waitUntil(lambda: len(done) == 4)
    assert [each for each in done if each != "event"] == [0, 1, 2]
    assert done[-1] != "event"


def test_the_newer_of_a_key_takes_the_place_of_the_older(qtbot):
    work, done = OneATurn(), []
    work.put("a", lambda: done.append("old"))
    work.put("b", lambda: done.append("b"))
    work.put("a", lambda: done.append("new"))
    qtbot.waitUntil(lambda: len(done) == 2)
    assert done == ["new", "b"]


def test_it_goes_on_after_work_that_gives_it_more(qtbot):
    work, done = OneATurn(), []
    work.put("a", lambda: work.put("b", lambda: done.append("b")))
    qtbot.waitUntil(lambda: done == ["b"])
    assert work.is_idle()
