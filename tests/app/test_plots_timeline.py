"""The timeline: it asks and is told, shows what is pending, and hides no alarm."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from PySide6.QtCore import QPoint, Qt
from PySide6.QtTest import QTest

from analysis.model.span import TimeSpan
from app.plots import style
from app.plots.timeline_plot import TimelinePlot, TimelineView
from app.plots.timeline_shapes import filled_band, runs_of, severity_ranks

from . import fake_results as fake
from .plot_contract import settle, words_of
from .plot_views import timeline_view


@pytest.fixture
def plot(qtbot) -> TimelinePlot:
    style.load_fonts()
    style.configure_pyqtgraph()
    made = TimelinePlot()
    qtbot.addWidget(made)
    made.resize(900, 120)
    made.show()
    settle()
    made.show_result(timeline_view())
    settle()
    return made


def point_at(plot: TimelinePlot, time_s: float) -> QPoint:
    at = plot.canvas.to_pixels(time_s, 30.0)
    return QPoint(round(at.x()), round(at.y()))


def cursors(plot: TimelinePlot) -> list:
    return [rule for rule in plot.canvas.over.rules if rule.line.dx() == 0.0]


def test_a_press_asks_for_the_moment_and_moves_nothing(plot, qtbot):
    plot.set_moment(10.0, "10.00 s")
    [before] = cursors(plot)
    with qtbot.waitSignal(plot.moment_requested) as asked:
        qtbot.mousePress(
            plot.canvas.viewport(), Qt.MouseButton.LeftButton, pos=point_at(plot, 80.0)
        )
    assert asked.args[0] == pytest.approx(80.0, abs=0.3)
    assert cursors(plot) == [before]
    plot.set_moment(80.0, "80.00 s · 5400 r/min")
    [after] = cursors(plot)
    assert after.line.x1() == pytest.approx(plot.canvas.to_pixels(80.0, 0).x(), abs=0.51)
    assert "80.00 s · 5400 r/min" in words_of(plot)


def test_a_drag_goes_on_asking(plot):
    asked = []
    plot.moment_requested.connect(asked.append)
    port = plot.canvas.viewport()
    QTest.mousePress(port, Qt.MouseButton.LeftButton, pos=point_at(plot, 20.0))
    for time_s in (40.0, 60.0):
        plot.canvas.moved.emit(plot.canvas.to_pixels(time_s, 30.0), Qt.MouseButton.LeftButton)
    QTest.mouseRelease(port, Qt.MouseButton.LeftButton, pos=point_at(plot, 60.0))
    assert asked == pytest.approx([20.0, 40.0, 60.0], abs=0.3)


def test_moving_without_a_button_asks_for_nothing(plot, qtbot):
    with qtbot.assertNotEmitted(plot.moment_requested):
        plot.canvas.moved.emit(plot.canvas.to_pixels(50.0, 30.0), Qt.MouseButton.NoButton)


def test_shift_and_drag_asks_for_a_span_either_way_round(plot):
    spans, moments = [], []
    plot.span_requested.connect(lambda start, end: spans.append((start, end)))
    plot.moment_requested.connect(moments.append)
    port = plot.canvas.viewport()
    QTest.mousePress(
        port, Qt.MouseButton.LeftButton, Qt.KeyboardModifier.ShiftModifier, point_at(plot, 90.0)
    )
    plot.canvas.moved.emit(plot.canvas.to_pixels(60.0, 30.0), Qt.MouseButton.LeftButton)
    QTest.mouseRelease(port, Qt.MouseButton.LeftButton, pos=point_at(plot, 60.0))
    assert spans[-1] == pytest.approx((60.0, 90.0), abs=0.3)
    assert not moments


def test_requests_stay_inside_the_capture(plot):
    asked = []
    plot.moment_requested.connect(asked.append)
    plot.canvas.pressed.emit(plot.canvas.to_pixels(-50.0, 30.0), Qt.KeyboardModifier.NoModifier)
    plot.canvas.pressed.emit(plot.canvas.to_pixels(500.0, 30.0), Qt.KeyboardModifier.NoModifier)
    assert asked == [0.0, 214.6]


def test_the_words_of_the_cursor_stay_in_the_picture(plot):
    for moment in (0.0, 100.0, 214.6):
        plot.set_moment(moment, "100.00 s · 5400 r/min")
        [label] = plot.canvas.over.labels
        area = plot.canvas.data_rect()
        assert area.left() <= label.rect.left()
        assert label.rect.right() <= area.right()


def test_a_span_is_shaded_where_it_lies(plot):
    plot.set_span(TimeSpan(100.0, 120.0))
    [shape] = plot.canvas.over.shapes
    box = shape.polygon.boundingRect()
    assert box.left() == pytest.approx(plot.canvas.to_pixels(100.0, 0).x())
    assert box.right() == pytest.approx(plot.canvas.to_pixels(120.0, 0).x())
    plot.set_span(None)
    assert not plot.canvas.over.shapes


def test_what_is_not_read_yet_is_hatched(plot):
    whole = len(plot.canvas.ground.shapes)
    plot.show_result(timeline_view(done_s=100.0))
    pending = plot.canvas.ground.shapes[0]
    assert pending.brush.style() == Qt.BrushStyle.BDiagPattern
    left = pending.polygon.boundingRect().left()
    assert left == pytest.approx(plot.canvas.to_pixels(100.0, 0).x())
    plot.show_result(timeline_view())
    assert len(plot.canvas.ground.shapes) == whole


def test_bands_name_a_round_value_in_the_unit_shown(plot):
    told = words_of(plot)
    assert "5000 r/min" in told
    assert "100 µm p-p" in told


def test_no_alarm_is_lost_however_short(plot):
    run = fake.fake_run(200_000)
    condition = np.zeros(200_000, dtype=np.int8)
    condition[123_456] = 2
    result = replace(
        fake.fake_timeline(),
        time_s=run["time_s"],
        speed_rpm=run["speed_rpm"],
        peak_to_peak_um={"DE-X": run["pp_um"]},
        condition={"DE-X": np.zeros(200_000, dtype=np.int8), "NDE-Y": condition},
    )
    plot.show_result(TimelineView(result, timeline_view().setup, "DE-X"))
    [shape] = plot.canvas.ground.shapes
    box = shape.polygon.boundingRect()
    at = plot.canvas.to_pixels(run["time_s"][123_456], 0).x()
    assert box.left() - 1 <= at <= box.right() + 1
    assert box.width() >= 2.0


def test_states_differ_in_height_or_hatching(plot):
    shapes = plot.canvas.ground.shapes
    looks = {(round(s.polygon.boundingRect().height(), 1), s.brush.style()) for s in shapes}
    assert len(looks) == 3  # alarm, trip and fault


def test_severity_is_the_worst_of_all_probes():
    a = np.array([0, 1, 2, -1, -1], dtype=np.int8)
    b = np.array([0, 2, 0, 1, 0], dtype=np.int8)
    assert severity_ranks({"a": a, "b": b}, 5).tolist() == [0, 3, 3, 2, 1]


def test_runs_break_at_a_change_and_at_a_hole():
    ranks = np.array([0, 2, 2, 3, 3, 2, 0], dtype=np.int8)
    places = np.array([0, 1, 2, 3, 12, 13, 14])
    assert runs_of(ranks, places) == [
        ("alarm", 1, 2),
        ("trip", 3, 3),
        ("trip", 12, 12),
        ("alarm", 13, 13),
    ]


def test_a_state_lasts_until_the_next_revolution():
    # Revolutions ten columns wide: one band up to the first that is not in alarm.
    ranks = np.array([0, 2, 2, 2, 0, 3], dtype=np.int8)
    assert runs_of(ranks, np.arange(6) * 10) == [("alarm", 10, 39), ("trip", 50, 50)]


def test_a_band_is_cut_at_gaps():
    x = np.arange(6.0)
    high = np.array([1.0, 2.0, np.nan, 2.0, 2.0, 1.0])
    path = filled_band(x, np.zeros(6), high)
    assert len(path.toSubpathPolygons()) == 2
    assert filled_band(x, np.zeros(6), np.full(6, np.nan)).isEmpty()


def test_without_a_speed_the_band_of_the_level_takes_its_room(plot):
    tall = plot._body.path().boundingRect().height()
    result = fake.fake_timeline()
    lost = replace(result, speed_rpm=np.full(len(result.time_s), np.nan))
    plot.show_result(TimelineView(lost, timeline_view().setup, "DE-X"))
    assert plot._body.path().boundingRect().height() > 1.5 * tall
    assert not any("r/min" in text for text in words_of(plot))


def test_nothing_read_yet_is_no_trouble(plot):
    plot.show_result(timeline_view(done_s=-1.0))
    assert plot.canvas.ground.shapes
