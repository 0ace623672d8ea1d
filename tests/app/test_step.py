"""Steps of work for the GUI thread: none in a turn that another one was in, and none forgotten."""

from __future__ import annotations

import itertools
import time

import pytest
from PySide6.QtCore import QEvent, QObject, QTimer

from app.work import step as step_module
from app.work.step import AGAIN_MS, APART_S, Step, note_work

LONG_S = 0.3
"""Longer than a machine that does other things keeps this thread waiting."""


@pytest.fixture
def owner(qtbot):
    return QObject()


def busy(seconds):
    end = time.perf_counter() + seconds
    while time.perf_counter() < end:
        pass


def test_two_that_fall_due_together_are_done_one_after_the_other(qtbot, owner):
    done = []

    def work(name):
        done.append((name, time.perf_counter()))
        busy(0.005)
        done.append((name, time.perf_counter()))

    steps = [Step(owner, 1, lambda name=name: work(name)) for name in "abc"]
    for step in steps:
        step.start()
    busy(0.01)  # all of them are due in the same turn
    qtbot.waitUntil(lambda: len(done) == 6)
    names = [name for name, _at in done]
    assert sorted(names) == list("aabbcc")
    assert names[0::2] == names[1::2]
    for (_, ended), (_, began) in zip(done[1::2], done[2::2], strict=False):
        assert began - ended >= APART_S


def test_in_between_the_event_loop_has_a_turn(qtbot, owner, monkeypatch):
    monkeypatch.setattr(step_module, "APART_S", LONG_S)
    told = []

    class Listener(QObject):
        def event(self, event):
            if event.type() == QEvent.Type.Timer:
                told.append("turn")
            return super().event(event)

    listener = Listener()
    listener.startTimer(1)
    steps = [Step(owner, 0, lambda: (busy(0.004), told.append("step"))) for _ in range(3)]
    for step in steps:
        step.start()
    qtbot.waitUntil(lambda: told.count("step") == 3)
    inner = told[told.index("step") : len(told) - told[::-1].index("step")]
    for one, other in itertools.pairwise(inner):
        assert (one, other) != ("step", "step")


def test_one_that_starts_itself_again_keeps_nobody_waiting(qtbot, owner):
    count = {"again": 0, "other": 0}

    def again():
        count["again"] += 1
        first.start(0)

    first = Step(owner, 0, again)
    other = Step(owner, 0, lambda: count.__setitem__("other", count["other"] + 1))
    first.start()
    other.start()
    qtbot.waitUntil(lambda: count["other"] == 1)
    first.stop()
    assert count["again"] > 0


def test_it_goes_on_at_once_where_nobody_waits(qtbot, owner, monkeypatch):
    count, put_off = [0], []

    def again():
        count[0] += 1
        if count[0] < 50:
            step.start(0)

    class Timer:
        """Tells when the step is put off."""

        def start(self, after_ms):
            if after_ms == AGAIN_MS:
                put_off.append(count[0])
            timer.start(after_ms)

    step = Step(owner, 0, again)
    timer = step._timer
    monkeypatch.setattr(step, "_timer", Timer())
    step.start()
    qtbot.waitUntil(lambda: count[0] == 50)
    # Steps of windows that other tests had may come in between once or twice.
    assert len(put_off) < 5


def test_after_other_work_it_waits_for_another_turn(qtbot, owner, monkeypatch):
    monkeypatch.setattr(step_module, "APART_S", LONG_S)
    order = []
    step = Step(owner, 0, lambda: order.append("step"))

    def long_work():
        order.append("work")
        note_work()
        step.start(0)
        QTimer.singleShot(0, lambda: order.append("turn"))

    QTimer.singleShot(0, long_work)
    qtbot.waitUntil(lambda: "step" in order)
    assert order == ["work", "turn", "step"]


def test_it_can_be_stopped_and_says_whether_it_waits(qtbot, owner):
    done = []
    step = Step(owner, 5, lambda: done.append(1))
    assert not step.is_waiting()
    step.start()
    assert step.is_waiting()
    step.stop()
    assert not step.is_waiting()
    qtbot.wait(15)
    assert not done
    note_work()
    step.start(0)
    qtbot.waitUntil(lambda: bool(done))
    assert not step.is_waiting()


def test_an_error_in_a_step_does_not_end_the_others(qtbot, owner):
    done = []

    def bad():
        raise RuntimeError("no")

    first, second = Step(owner, 0, bad), Step(owner, 0, lambda: done.append(1))
    with qtbot.captureExceptions() as caught:
        first.start()
        second.start()
        qtbot.waitUntil(lambda: bool(done))
    assert len(caught) == 1
