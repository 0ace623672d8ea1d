"""Zooming and spans in the real window: wheel, keys, hand, names, readings over a span."""

from __future__ import annotations

import numpy as np
import pytest
from PySide6.QtCore import QPoint, QPointF, Qt
from PySide6.QtGui import QWheelEvent
from PySide6.QtWidgets import QApplication, QLabel

from analysis.model.span import TimeSpan
from app.dialogs.help_dialogs import KeysDialog

from .conftest import settled
from .made_capture import LENGTH_S, RATE_HZ, RPM

TIMEOUT_MS = 20_000
TURN_S = 60.0 / RPM
CTRL = Qt.KeyboardModifier.ControlModifier

pytestmark = pytest.mark.qt_log_ignore("does not support propagateSizeHints|raise")


def wait(qtbot, window):
    session = window.session
    qtbot.waitUntil(
        lambda: settled(session) and session.span_reader.is_settled(), timeout=TIMEOUT_MS
    )


def turn_wheel(plot, notches, at=None, modifier=Qt.KeyboardModifier.NoModifier):
    port = plot.canvas.viewport()
    at = at if at is not None else QPointF(port.rect().center())
    event = QWheelEvent(
        at,
        QPointF(port.mapToGlobal(at.toPoint())),
        QPoint(),
        QPoint(0, round(120 * notches)),
        Qt.MouseButton.NoButton,
        modifier,
        Qt.ScrollPhase.NoScrollPhase,
        False,
    )
    QApplication.sendEvent(port, event)


def share_of_moment(plot) -> float:
    """Where the waveform's triangle stands, 0 at the left edge to 1."""
    [mark] = [s for s in plot.canvas.over.shapes if not s.ellipse]
    rect = plot.canvas.data_rect()
    return (mark.polygon.first().x() - rect.left()) / rect.width()


# The timeline --------------------------------------------------------------------------------


def test_the_wheel_zooms_the_timeline_about_the_hand(qtbot, opened):
    plot, zoom = opened.timeline.plot, opened.session.zoom
    assert not opened.timeline.see_all.isVisible()
    hand = plot.canvas.to_pixels(1.5, 30.0)
    turn_wheel(plot, 3, hand)
    assert zoom.seen.length_s == pytest.approx(LENGTH_S * 0.8**3)
    assert plot.canvas.box.viewRange()[0] == [zoom.seen.start_s, zoom.seen.end_s]
    assert plot.canvas.to_data(hand).x() == pytest.approx(1.5, abs=1e-6)
    assert opened.timeline.see_all.isVisible()
    before = zoom.seen
    turn_wheel(plot, -2, hand, Qt.KeyboardModifier.ShiftModifier)
    assert zoom.seen.start_s == pytest.approx(before.start_s + 0.2 * before.length_s)
    qtbot.mouseClick(opened.timeline.see_all, Qt.MouseButton.LeftButton)
    assert zoom.seen == TimeSpan(0.0, LENGTH_S)


def test_keys_zoom_the_timeline_about_the_moment(qtbot, opened):
    session = opened.session
    session.moment.set(2.0)
    opened.timeline.plot.setFocus()
    for _ in range(4):
        qtbot.keyClick(opened, Qt.Key.Key_Plus)
    seen = session.zoom.seen
    assert seen.length_s == pytest.approx(LENGTH_S * 0.8**4)
    assert (2.0 - seen.start_s) / seen.length_s == pytest.approx(2.0 / LENGTH_S)
    qtbot.keyClick(opened, Qt.Key.Key_Minus)
    assert session.zoom.seen.length_s == pytest.approx(LENGTH_S * 0.8**3)
    qtbot.keyClick(opened, Qt.Key.Key_0)
    assert not session.zoom.zoomed


def test_keys_that_move_the_moment_turn_the_page(qtbot, opened):
    session = opened.session
    session.moment.set(1.0)
    session.zoom.show(TimeSpan(0.9, 1.1))
    opened.timeline.plot.setFocus()
    for _ in range(40):
        qtbot.keyClick(opened.timeline.plot, Qt.Key.Key_Right)
        seen = session.zoom.seen
        assert seen.start_s <= session.moment.moment_s <= seen.end_s
        assert seen.length_s == pytest.approx(0.2)
    assert session.moment.moment_s == pytest.approx(1.0 + 40 * TURN_S, rel=1e-3)
    for key in (Qt.Key.Key_Home, Qt.Key.Key_P, Qt.Key.Key_End):
        qtbot.keyClick(opened.timeline.plot, key)
        seen = session.zoom.seen
        assert seen.start_s <= session.moment.moment_s <= seen.end_s


def test_plus_in_the_field_is_typed(qtbot, opened):
    opened.timeline.focus_field()
    qtbot.keyClicks(opened.timeline.field, "+0-")
    assert not opened.session.zoom.zoomed
    assert opened.timeline.field.text() == "+0-"


def test_another_capture_is_seen_whole(qtbot, opened, bare_path):
    opened.session.zoom.show(TimeSpan(1.0, 2.0))
    opened.session.waveform_zoom.by(3.0)
    opened.session.open(bare_path)
    qtbot.waitUntil(lambda: opened.session.capture.setup is None, timeout=TIMEOUT_MS)
    assert not opened.session.zoom.zoomed
    assert not opened.session.waveform_zoom.chosen


# The waveforms -------------------------------------------------------------------------------


def test_the_wheel_goes_from_the_turns_to_the_whole_capture_and_down_to_samples(qtbot, opened):
    session, (first, second) = opened.session, opened.pages["moment"].waveforms
    session.moment.set(2.0)
    wait(qtbot, opened)
    own = [plot.canvas.box.viewRange() for plot in (first, second)]
    for _ in range(40):
        turn_wheel(first, -1)
        QApplication.processEvents()
    wait(qtbot, opened)
    result = session.reader.result
    assert result.waveform_span == TimeSpan(0.0, LENGTH_S)
    for plot in (first, second):
        assert plot.canvas.box.viewRange()[0] == pytest.approx([0.0, LENGTH_S])
        assert plot.canvas.bottom.text() == "capture time, s"
        assert plot.subtitle().startswith("envelope")
        assert len(plot._curve.getData()[0]) <= 2 * result.request.columns
    for _ in range(60):
        turn_wheel(second, 1)
        QApplication.processEvents()
    wait(qtbot, opened)
    result = session.reader.result
    assert result.waveform_span.length_s == pytest.approx(8 / RATE_HZ)
    assert "envelope" not in first.subtitle()
    drawn = [s for s in first.canvas.over.shapes if s.ellipse]
    assert len(drawn) in (8, 9)
    assert first.canvas.bottom.text() == "time, ms"
    qtbot.keyClick(opened, Qt.Key.Key_0, CTRL)
    wait(qtbot, opened)
    assert not session.waveform_zoom.chosen
    assert [plot.canvas.box.viewRange() for plot in (first, second)] == [
        [pytest.approx(axis) for axis in ranges] for ranges in own
    ]


def test_the_moment_stays_where_it_is_on_the_screen(qtbot, opened):
    session, plot = opened.session, opened.pages["moment"].waveforms[0]
    session.moment.set(3.0)
    wait(qtbot, opened)
    place = share_of_moment(plot)
    for notches in (1, 1, -1, -1, -1, 2):
        turn_wheel(plot, notches)
        assert share_of_moment(plot) == pytest.approx(place, abs=2e-3)  # at once
        wait(qtbot, opened)
        assert share_of_moment(plot) == pytest.approx(place, abs=2e-3)  # and when it is answered


def test_the_old_curve_is_stretched_before_the_answer_comes(qtbot, opened):
    session, plot = opened.session, opened.pages["moment"].waveforms[0]
    wait(qtbot, opened)
    answered, length = session.reader.result, session.reader.result.waveform_span.length_s
    turn_wheel(plot, 1)
    assert session.reader.result is answered
    low, high = plot.canvas.box.viewRange()[0]
    assert high - low == pytest.approx(0.8 * length)
    wait(qtbot, opened)
    assert session.reader.result is not answered
    assert plot.canvas.box.viewRange()[0] == pytest.approx([low, high])


def test_keys_change_the_window_from_anywhere_and_plainly_on_the_waveform(qtbot, opened):
    session, plot = opened.session, opened.pages["moment"].waveforms[0]
    wait(qtbot, opened)
    length = session.reader.result.waveform_span.length_s
    opened.timeline.plot.setFocus()
    qtbot.keyClick(opened, Qt.Key.Key_Minus, CTRL)
    assert session.choice.now.waveform_s == pytest.approx(1.25 * length)
    assert not session.zoom.zoomed
    plot.setFocus()
    qtbot.keyClick(plot, Qt.Key.Key_Plus)
    assert session.choice.now.waveform_s == pytest.approx(length)
    assert not session.zoom.zoomed  # the key was the waveform's own
    qtbot.keyClick(plot, Qt.Key.Key_0)
    assert session.choice.now.waveform_s is None
    wait(qtbot, opened)


def test_the_auto_window_button_is_there_while_it_can_do_something(qtbot, opened):
    from app.widgets.window_button import WindowButton

    buttons = opened.findChildren(WindowButton)
    assert len(buttons) == 2
    assert not any(button.isVisible() for button in buttons)
    turn_wheel(opened.pages["moment"].waveforms[0], -2)
    assert all(button.isVisible() for button in buttons)
    qtbot.mouseClick(buttons[1], Qt.MouseButton.LeftButton)
    assert not any(button.isVisible() for button in buttons)
    wait(qtbot, opened)


def test_a_drag_on_the_waveform_walks_along(qtbot, opened):
    session, plot = opened.session, opened.pages["moment"].waveforms[0]
    session.moment.set(3.0)
    wait(qtbot, opened)
    length = session.reader.result.waveform_span.length_s
    port, width = plot.canvas.viewport(), plot.canvas.data_rect().width()
    middle = port.rect().center()
    qtbot.mousePress(port, Qt.MouseButton.LeftButton, pos=middle)
    plot.canvas.moved.emit(QPointF(middle.x() - width / 2, middle.y()), Qt.MouseButton.LeftButton)
    qtbot.mouseRelease(port, Qt.MouseButton.LeftButton, pos=middle)
    assert session.moment.moment_s == pytest.approx(3.0 + length / 2)
    wait(qtbot, opened)


def test_every_new_key_stands_in_the_help(qtbot, opened):
    dialog = KeysDialog(opened)
    told = " ".join(label.text() for label in dialog.findChildren(QLabel))
    for words in ("timeline: see less", "waveforms: a longer window", "name the span"):
        assert words in told
    dialog.deleteLater()


def test_a_part_that_the_overview_brings_is_asked_for_again(qtbot, opened, monkeypatch):
    """A window longer than may be read at once: hatched first, whole when the overview is there."""
    from analysis.views import waveforms

    monkeypatch.setattr(waveforms, "MOST_READ", 4000)
    monkeypatch.setattr(waveforms, "_BLOCK", 1000)
    session, plot = opened.session, opened.pages["moment"].waveforms[0]
    hatched = []
    plot.titled_changed.connect(lambda: hatched.append(plot.subtitle()))
    session.waveform_zoom.by(1e9)
    qtbot.waitUntil(
        lambda: settled(session) and not session.reader.result.waits_for_overview,
        timeout=TIMEOUT_MS,
    )
    assert any("not read yet" in text for text in hatched)
    assert session.overview.overview.complete
    y = session.reader.result.waveforms["DE-X"].trace.y
    assert np.isfinite(y).all()


def test_a_stopped_overview_is_taken_up_again_for_another_window(qtbot, opened, monkeypatch):
    from analysis.views import overview as overview_reader
    from analysis.views import waveforms

    def slow(_capture, *, progress, partial, cache):
        while True:
            progress.report(0.1)

    monkeypatch.setattr(waveforms, "MOST_READ", 4000)
    monkeypatch.setattr(waveforms, "_BLOCK", 1000)
    session = opened.session
    with monkeypatch.context() as patched:
        patched.setattr(overview_reader, "answer_overview", slow)
        session.waveform_zoom.by(1e9)
        qtbot.waitUntil(lambda: session.runner.is_running("overview"), timeout=TIMEOUT_MS)
        session.runner.cancel("overview")
        session.moment.set(1.0)
        wait(qtbot, opened)
        assert session.reader.result.waits_for_overview
        assert not session.runner.is_running("overview")
    session.waveform_zoom.by(0.9)
    qtbot.waitUntil(
        lambda: settled(session) and not session.reader.result.waits_for_overview,
        timeout=TIMEOUT_MS,
    )


def test_any_order_of_zooming_ends_in_what_was_asked_for(qtbot, opened):
    """Two hundred turns of the wheel, keys and leaps, most of them before the answer is there."""
    session, plots = opened.session, opened.pages["moment"].waveforms
    timeline = opened.timeline.plot
    dice = np.random.default_rng(8)
    keys = [Qt.Key.Key_Plus, Qt.Key.Key_Minus, Qt.Key.Key_Right, Qt.Key.Key_End, Qt.Key.Key_Home]
    for _ in range(200):
        hand = QPointF(dice.uniform(0, timeline.width()), dice.uniform(0, timeline.height()))
        match dice.integers(7):
            case 0:
                turn_wheel(plots[dice.integers(2)], dice.normal(0.0, 6.0))
            case 1:
                turn_wheel(timeline, dice.normal(0.0, 4.0), hand)
            case 2:
                turn_wheel(timeline, dice.normal(0.0, 4.0), hand, Qt.KeyboardModifier.ShiftModifier)
            case 3:
                qtbot.keyClick(timeline, keys[dice.integers(len(keys))])
            case 4:
                session.moment.set(dice.uniform(-1.0, LENGTH_S + 1.0))
            case 5:
                session.waveform_zoom.walk(dice.normal(0.0, 0.5))
            case 6:
                QApplication.processEvents()
        seen = session.zoom.seen
        assert 0.0 <= seen.start_s < seen.end_s <= LENGTH_S + 1e-9
        assert timeline.canvas.box.viewRange()[0] == [seen.start_s, seen.end_s]
    session.waveform_zoom.by(0.9)
    wait(qtbot, opened)
    window = session.waveform_zoom.window()
    assert session.reader.result.waveform_span == window
    assert window.start_s - 1e-9 <= session.moment.moment_s <= window.end_s + 1e-9
    for plot in plots:
        low, high = plot.canvas.box.viewRange()[0]
        assert high - low == pytest.approx(window.length_s)
