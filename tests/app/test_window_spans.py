"""Spans in the real window: chosen, named, gone back to, and read."""

from __future__ import annotations

import pytest
from PySide6.QtCore import Qt

from analysis.model.span import TimeSpan
from analysis.model.units import LengthUnit
from analysis.views import readings
from analysis.views.readings import read_span
from app.main_window import MainWindow
from app.session.session import Session

from .made_capture import LENGTH_S
from .test_window_moment import drag, parsed
from .test_window_zoom import wait

TIMEOUT_MS = 20_000

pytestmark = pytest.mark.qt_log_ignore("does not support propagateSizeHints|raise")


def name_span(qtbot, window, span: TimeSpan, name: str) -> None:
    window.session.span.set(span)
    qtbot.keyClick(window, Qt.Key.Key_N)
    field = window.timeline.spans.field
    assert field.hasFocus()
    qtbot.keyClicks(field, name)
    qtbot.keyClick(field, Qt.Key.Key_Return)


def actions(window) -> dict:
    """The menu's actions by their words, as it shows them."""
    menu = window.timeline.spans.menu
    menu.aboutToShow.emit()
    found = {action.text(): action for action in menu.actions()}
    for action in menu.actions():
        if action.menu() is not None:
            found.update(
                {f"{action.text()} {each.text()}": each for each in action.menu().actions()}
            )
    return found


def test_a_dragged_span_is_named_listed_and_gone_back_to(qtbot, opened):
    session = opened.session
    drag(opened, 1.0, 3.0, Qt.KeyboardModifier.ShiftModifier)
    span = session.span.span
    session.moment.set(1.75)
    qtbot.mouseClick(opened.timeline.spans.name_button, Qt.MouseButton.LeftButton)
    field = opened.timeline.spans.field
    qtbot.keyClicks(field, "quiet & slow")
    qtbot.keyClick(field, Qt.Key.Key_Return)
    assert not field.isVisible()
    assert opened.timeline.plot.hasFocus()
    assert [(each.name, each.span) for each in session.spans.items] == [("quiet & slow", span)]
    assert "quiet & slow" in [label.text for label in opened.timeline.plot.canvas.over.labels]
    qtbot.keyClick(opened, Qt.Key.Key_Escape)
    session.moment.set(5.5)
    session.zoom.show_all()
    [go] = [action for text, action in actions(opened).items() if text.startswith("quiet && slow")]
    assert "1.0" in go.text()
    assert go.text().endswith("s")
    go.trigger()
    assert session.span.span == span
    assert session.moment.moment_s == 1.75
    seen = session.zoom.seen
    assert seen.start_s <= span.start_s < span.end_s <= seen.end_s
    assert seen.length_s == pytest.approx(1.1 * span.length_s)
    wait(qtbot, opened)


def test_a_named_span_is_there_when_the_capture_is_opened_again(
    qtbot, opened, capture_path, settings
):
    name_span(qtbot, opened, TimeSpan(2.0, 3.0), "middle")
    wait(qtbot, opened)
    before = capture_path.read_bytes()
    opened.close()
    session = Session(settings)
    again = MainWindow(session)
    try:
        session.open(capture_path)
        qtbot.waitUntil(lambda: session.reader.result is not None, timeout=TIMEOUT_MS)
        assert [each.name for each in session.spans.items] == ["middle"]
        assert capture_path.read_bytes() == before
    finally:
        again.close()
        again.deleteLater()


def test_renaming_and_removing(qtbot, opened):
    session = opened.session
    name_span(qtbot, opened, TimeSpan(1.0, 2.0), "first")
    name_span(qtbot, opened, TimeSpan(2.0, 3.0), "second")
    found = actions(opened)
    next(a for text, a in found.items() if text.startswith("Rename first")).trigger()
    field = opened.timeline.spans.field
    assert field.text() == "first"
    field.selectAll()
    qtbot.keyClicks(field, "Second")
    qtbot.keyClick(field, Qt.Key.Key_Return)
    assert field.property("invalid") == "true"
    assert "another span" in field.toolTip()
    field.selectAll()
    qtbot.keyClicks(field, "begin")
    qtbot.keyClick(field, Qt.Key.Key_Return)
    assert [each.name for each in session.spans.items] == ["begin", "second"]
    next(a for t, a in actions(opened).items() if t.startswith("Remove second")).trigger()
    assert [each.name for each in session.spans.items] == ["begin"]


def test_escape_leaves_the_name_and_keeps_the_span(qtbot, opened):
    opened.session.span.set(TimeSpan(1.0, 2.0))
    qtbot.keyClick(opened, Qt.Key.Key_N)
    field = opened.timeline.spans.field
    qtbot.keyClicks(field, "bens")  # letters that are keys of the window
    assert field.text() == "bens"
    qtbot.keyClick(field, Qt.Key.Key_Escape)
    assert not field.isVisible()
    assert opened.session.span.span == TimeSpan(1.0, 2.0)
    assert opened.session.spans.items == ()
    qtbot.keyClick(opened, Qt.Key.Key_Escape)
    assert opened.session.span.span is None


def test_a_span_can_be_chosen_by_keys_alone(qtbot, opened):
    session = opened.session
    session.moment.set(2.0)
    qtbot.keyClick(opened, Qt.Key.Key_B)
    assert session.span.span == TimeSpan(2.0, LENGTH_S)
    session.moment.set(3.5)
    qtbot.keyClick(opened, Qt.Key.Key_E)
    assert session.span.span == TimeSpan(2.0, 3.5)
    qtbot.keyClick(opened, Qt.Key.Key_Z)
    assert session.zoom.seen.length_s == pytest.approx(1.1 * 1.5)
    session.moment.set(1.0)
    qtbot.keyClick(opened, Qt.Key.Key_E)
    assert session.span.span == TimeSpan(0.0, 1.0)
    wait(qtbot, opened)


def test_without_a_span_there_is_nothing_to_name(qtbot, opened):
    tools = opened.timeline.spans
    assert not tools.menu_button.isVisible()
    qtbot.keyClick(opened, Qt.Key.Key_N)
    qtbot.keyClick(opened, Qt.Key.Key_S)
    assert not tools.field.isVisible()


def test_readings_over_the_span_are_those_of_read_span(qtbot, opened):
    session, panel = opened.session, opened.pages["moment"].readings
    assert not panel.over.isVisible()
    name_span(qtbot, opened, TimeSpan(0.5, 2.5), "steady")
    assert panel.over.isVisible()
    qtbot.mouseClick(panel.over.button(True), Qt.MouseButton.LeftButton)
    wait(qtbot, opened)
    truth = read_span(session.capture.capture, session.capture.setup, TimeSpan(0.5, 2.5))
    assert session.span_reader.result.speed == truth.speed
    assert panel.card.title() == "Readings over the span"
    words = panel.card._subtitle.text()
    assert words.startswith("steady · 0.50 to 2.50 s · 1500 r/min")
    assert f"over {truth.speed.revolutions} revolutions" in words
    header, *rows = parsed(panel.copy())
    pp = float(rows[0][header.index("p-p (µm)")])
    assert pp == pytest.approx(truth.probes["DE-X"].peak_to_peak_um.value, abs=1e-3)
    session.unit.set(LengthUnit.MIL)
    header, *rows = parsed(panel.copy())
    assert float(rows[0][header.index("p-p (mil)")]) == pytest.approx(pp / 25.4, abs=1e-3)
    session.moment.set(4.0)  # the moment moves, the readings are the span's
    wait(qtbot, opened)
    assert panel.card.title() == "Readings over the span"
    qtbot.mouseClick(panel.over.button(False), Qt.MouseButton.LeftButton)
    assert panel.card.title() == "Readings at this moment"


def test_another_span_is_read_anew_and_none_goes_back_to_the_moment(qtbot, opened):
    session, panel = opened.session, opened.pages["moment"].readings
    session.span.set(TimeSpan(0.5, 2.5))
    session.span_reader.want(True)
    wait(qtbot, opened)
    session.span.set(TimeSpan(3.5, 4.5))
    assert session.span_reader.result is None
    wait(qtbot, opened)
    largest = session.span_reader.result.probes["DE-X"].peak_to_peak_max_um
    assert largest == pytest.approx(128.0, rel=0.01)  # the swell
    qtbot.keyClick(opened, Qt.Key.Key_Escape)
    assert panel.card.title() == "Readings at this moment"
    assert not panel.over.isVisible()
    wait(qtbot, opened)


def test_a_long_span_tells_its_progress_and_can_be_cancelled(qtbot, opened, monkeypatch):
    session, panel = opened.session, opened.pages["moment"].readings

    def slow(_capture, _setup, _span, *, speed_rpm, progress):
        while True:
            progress.report(0.4, "reading the span")

    with monkeypatch.context() as patched:
        patched.setattr(readings, "read_span", slow)
        session.span.set(TimeSpan(0.5, 2.5))
        session.span_reader.want(True)
        qtbot.waitUntil(lambda: "40 %" in panel.card._subtitle.text(), timeout=TIMEOUT_MS)
        qtbot.waitUntil(lambda: "Readings over the span" in opened.jobs.text, timeout=TIMEOUT_MS)
        qtbot.mouseClick(opened.jobs.cancel_button(), Qt.MouseButton.LeftButton)
        wait(qtbot, opened)
    assert "stopped" in panel.card._subtitle.text()
    qtbot.mouseClick(panel.over.button(True), Qt.MouseButton.LeftButton)
    wait(qtbot, opened)
    assert session.span_reader.result is not None
