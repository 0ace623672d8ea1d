"""A part of the timeline: what is drawn of it, and what the hand asks for."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from PySide6.QtCore import QPoint, QPointF, Qt
from PySide6.QtGui import QWheelEvent
from PySide6.QtTest import QTest
from PySide6.QtWidgets import QApplication

from analysis.model.results import RevolutionTable
from analysis.model.span import TimeSpan
from app.plots import style
from app.plots.timeline_plot import TimelinePlot, TimelineView
from app.plots.timeline_rows import RowLevels
from app.plots.timeline_shapes import row_runs, steps

from . import fake_results as fake
from .plot_contract import settle, visible_axes, words_of
from .plot_views import timeline_view

NONE, SHIFT = Qt.KeyboardModifier.NoModifier, Qt.KeyboardModifier.ShiftModifier


def result_of(count: int):
    """A run-up of so many revolutions, with starts and ends in its table."""
    run = fake.fake_run(count)
    half = (run["time_s"][1] - run["time_s"][0]) / 2.0
    table = RevolutionTable(
        "events",
        run["time_s"] - half,
        run["time_s"] + half,
        run["speed_rpm"],
        np.zeros(count, dtype=bool),
        {},
    )
    return replace(
        fake.fake_timeline(),
        time_s=run["time_s"],
        speed_rpm=run["speed_rpm"],
        peak_to_peak_um={"DE-X": run["pp_um"]},
        condition={"DE-X": run["condition"]},
        table=table,
    )


def view_of(count: int, result=None) -> TimelineView:
    return TimelineView(result or result_of(count), timeline_view().setup, "DE-X")


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


def wheel(plot, notches: float, at: QPointF, modifier=NONE, level: float = 0.0) -> None:
    """Turn the wheel over a place of the canvas, as Qt tells it."""
    port = plot.canvas.viewport()
    event = QWheelEvent(
        at,
        QPointF(port.mapToGlobal(at.toPoint())),
        QPoint(),
        QPoint(round(120 * level), round(120 * notches)),
        Qt.MouseButton.NoButton,
        modifier,
        Qt.ScrollPhase.NoScrollPhase,
        False,
    )
    QApplication.sendEvent(port, event)


def test_the_wheel_asks_to_zoom_about_the_hand(plot):
    asked = []
    plot.zoom_requested.connect(lambda factor, at: asked.append((factor, at)))
    hand = plot.canvas.to_pixels(80.0, 30.0)
    wheel(plot, 1.0, hand)
    wheel(plot, -1.0, hand)
    assert asked == [pytest.approx((0.8, 80.0)), pytest.approx((1.25, 80.0))]
    assert plot.canvas.box.viewRange()[0] == [0.0, 214.6]


def test_shift_or_a_level_wheel_goes_along(plot, qtbot):
    shares = []
    plot.pan_requested.connect(shares.append)
    hand = plot.canvas.to_pixels(80.0, 30.0)
    with qtbot.assertNotEmitted(plot.zoom_requested):
        wheel(plot, 1.0, hand, SHIFT)
        wheel(plot, -2.0, hand, SHIFT)
        wheel(plot, 0.0, hand, level=-1.0)
    assert shares == pytest.approx([-0.1, 0.2, 0.1])


def test_a_part_is_drawn_from_its_own_revolutions(plot):
    plot.show_result(view_of(11_000))
    plot.set_seen(TimeSpan(100.0, 102.0))
    assert plot.canvas.box.viewRange()[0] == [100.0, 102.0]
    run = fake.fake_run(11_000)
    inside = (run["time_s"] >= 100.0) & (run["time_s"] < 102.0)
    x, _ = plot._speed.getData()
    # One level piece a revolution: two points each, a few more where one reaches over the edge.
    assert 2 * inside.sum() <= len(x) <= 2 * (inside.sum() + 2)
    assert x.min() <= 100.0
    assert x.max() >= 102.0
    plot.set_seen(None)
    assert plot.canvas.box.viewRange()[0] == [0.0, 214.6]


def test_far_in_every_revolution_is_a_step(plot):
    view = view_of(11_000)
    plot.show_result(view)
    table = view.result.table
    plot.set_seen(TimeSpan(float(table.start_s[5000]), float(table.end_s[5003])))
    x, y = plot._speed.getData()
    assert x.tolist() == pytest.approx(
        np.ravel([table.start_s[5000:5004], table.end_s[5000:5004]], order="F").tolist()
    )
    assert np.array_equal(y[0::2], y[1::2])
    assert plot._body.path().elementCount() > 0


def test_revolutions_that_can_be_told_apart_begin_with_a_tick(plot):
    view = view_of(11_000)
    plot.show_result(view)
    starts = view.result.table.start_s

    def ticks() -> list[float]:
        rules = [rule.line for rule in plot.canvas.ground.rules]
        return [line.x1() for line in rules if line.dx() == 0.0 and abs(line.dy()) == 4.0]

    assert not ticks()
    assert "lowest to highest of each column" in plot.subtitle()
    plot.set_seen(TimeSpan(float(starts[5000]), float(starts[5020])))
    wanted = [plot.canvas.to_pixels(float(at), 0.0).x() for at in starts[5000:5021]]
    assert ticks() == pytest.approx(wanted, abs=0.51)
    plot.set_seen(TimeSpan(float(starts[5000]), float(starts[5300])))
    assert not ticks()  # they would be a smear
    assert "turn by turn" in plot.subtitle()


def test_a_missing_revolution_is_a_hole_in_the_steps():
    starts, ends = np.array([0.0, 1.0, 4.0]), np.array([1.0, 2.0, 5.0])
    x, y = steps(starts, ends, np.array([7.0, 8.0, 9.0]))
    assert np.array_equal(y, [7.0, 7.0, 8.0, 8.0, np.nan, 9.0, 9.0], equal_nan=True)
    assert x[:4].tolist() == [0.0, 1.0, 1.0, 2.0]
    runs = row_runs(np.array([2, 2, 2], dtype=np.int8), starts, ends)
    assert runs == [("alarm", 0.0, 2.0), ("alarm", 4.0, 5.0)]


@pytest.mark.parametrize("length_s", [214.6, 60.0, 7.0, 0.4, 0.004])
def test_ticks_are_round_and_do_not_meet(plot, length_s):
    plot.set_seen(TimeSpan(214.6 - length_s, 214.6))
    settle()
    [axis] = visible_axes(plot)
    low, high = axis.range
    [(step, _)] = axis.tickSpacing(low, high, axis.size().width())
    mantissa = step / 10 ** np.floor(np.log10(step) + 1e-9)
    assert min(abs(mantissa - m) for m in (1, 2, 5)) < 1e-6
    texts = axis.tickStrings(axis.grid_positions(), 1.0, step)
    assert len(set(texts)) == len(texts) >= 2
    widest = max(style.text_size(text, "small")[0] for text in texts)
    assert widest + 8 < step / length_s * axis.size().width()
    assert axis.text() == "time, s"


def test_coarse_levels_lose_neither_an_extreme_nor_an_alarm(plot):
    """Against the plain way: every revolution looked at."""
    result = result_of(400_000)
    pp = result.peak_to_peak_um["DE-X"].copy()
    pp[123_456] = 987.0
    condition = np.zeros(len(pp), dtype=np.int8)
    condition[321_007] = 2
    result = replace(result, peak_to_peak_um={"DE-X": pp}, condition={"DE-X": condition})
    levels = RowLevels(result, "DE-X")
    rows = levels.within(0.0, 214.6, 1200)
    assert len(rows) < 30_000
    assert np.nanmax(rows.level_high) == 987.0
    assert np.nanmin(rows.level_low) == np.nanmin(pp)
    assert np.nanmax(rows.speed_high) == np.nanmax(result.speed_rpm)
    assert np.nanmin(rows.speed_low) == np.nanmin(result.speed_rpm)
    assert rows.ranks.sum() == 3
    plot.show_result(view_of(0, result))
    settle()
    [shape] = plot.canvas.ground.shapes
    box = shape.polygon.boundingRect()
    at = plot.canvas.to_pixels(float(result.time_s[321_007]), 0.0).x()
    assert box.left() - 1.5 <= at <= box.right() + 1.5


def test_the_scale_stays_while_the_part_changes(plot):
    plot.show_result(view_of(11_000))
    told = words_of(plot)
    plot.set_seen(TimeSpan(1.0, 3.0))  # slow and quiet
    assert "5000 r/min" in told
    assert "5000 r/min" in words_of(plot)
    plot.fit()
    assert "5000 r/min" not in words_of(plot)


def thumb(plot) -> tuple[float, float]:
    """Left and right end of the strip's thumb."""
    accent = style.palette(plot.theme()).accent.lower()
    top = plot.canvas.data_rect().top()
    boxes = [
        shape.polygon.boundingRect()
        for shape in plot.canvas.over.shapes
        if shape.brush.color().name() == accent and shape.brush.color().alpha() == 255
    ]
    [box] = [box for box in boxes if box.bottom() <= top]
    return box.left(), box.right()


def test_the_strip_says_which_part_is_seen(plot):
    assert not plot.canvas.over.shapes
    whole = plot.canvas.data_rect()
    plot.set_seen(TimeSpan(53.65, 107.3))
    left, right = thumb(plot)
    assert left == pytest.approx(whole.left() + 0.25 * whole.width(), abs=1.0)
    assert right == pytest.approx(whole.left() + 0.5 * whole.width(), abs=1.0)
    plot.set_seen(TimeSpan(214.5, 214.501))
    left, right = thumb(plot)
    assert right - left >= 5.0
    assert right <= whole.right() + 0.1


def test_the_strip_is_a_handle(plot):
    plot.set_seen(TimeSpan(100.0, 110.0))
    settle()
    asked, moments = [], []
    plot.centre_requested.connect(asked.append)
    plot.moment_requested.connect(moments.append)
    rect, port = plot.canvas.data_rect(), plot.canvas.viewport()
    spot = QPoint(round(rect.left() + rect.width() / 2), round(rect.top()) - 4)
    QTest.mousePress(port, Qt.MouseButton.LeftButton, pos=spot)
    far = QPointF(rect.right() + 50.0, rect.top() + 30.0)
    plot.canvas.moved.emit(far, Qt.MouseButton.LeftButton)
    QTest.mouseRelease(port, Qt.MouseButton.LeftButton, pos=spot)
    assert asked == pytest.approx([107.3, 214.6], abs=0.3)
    assert not moments
    plot.set_seen(None)
    QTest.mousePress(port, Qt.MouseButton.LeftButton, pos=spot)
    assert moments  # nothing to grip: an ordinary press


def test_a_drag_stays_in_the_part_seen(plot):
    plot.set_seen(TimeSpan(100.0, 110.0))
    asked = []
    plot.moment_requested.connect(asked.append)
    plot.canvas.pressed.emit(plot.canvas.to_pixels(105.0, 30.0), NONE)
    plot.canvas.moved.emit(plot.canvas.to_pixels(140.0, 30.0), Qt.MouseButton.LeftButton)
    assert asked == pytest.approx([105.0, 110.0])


def test_named_spans_have_a_bar_and_a_name_where_there_is_room(plot):
    plot.set_named((("slow roll", TimeSpan(2.0, 40.0)), ("blip", TimeSpan(60.0, 60.5))))
    told = [label.text for label in plot.canvas.over.labels]
    assert told == ["slow roll"]
    bars = [rule.line for rule in plot.canvas.over.rules if rule.line.dy() == 0.0]
    assert bars[0].x1() == pytest.approx(plot.canvas.to_pixels(2.0, 0.0).x())
    assert bars[0].x2() == pytest.approx(plot.canvas.to_pixels(40.0, 0.0).x())
    plot.set_seen(TimeSpan(59.9, 60.6))
    assert [label.text for label in plot.canvas.over.labels] == ["blip"]
    plot.set_moment(60.1, "60.10 s · 4000 r/min")
    words = [label.rect for label in plot.canvas.over.labels]
    assert not any(a.intersects(b) for a in words for b in words if a is not b)


def test_what_is_not_read_yet_is_hatched_only_where_it_is_seen(plot):
    plot.show_result(timeline_view(done_s=100.0))
    plot.set_seen(TimeSpan(10.0, 20.0))
    hatched = [s for s in plot.canvas.ground.shapes if s.polygon.boundingRect().height() > 20.0]
    assert not hatched
    plot.set_seen(TimeSpan(90.0, 120.0))
    box = plot.canvas.ground.shapes[0].polygon.boundingRect()
    assert box.left() == pytest.approx(plot.canvas.to_pixels(100.0, 0.0).x())


def test_nothing_there_in_the_part_is_no_trouble(plot):
    for part in (TimeSpan(50.0, 50.0001), TimeSpan(130.2, 130.9)):
        plot.set_seen(part)
        plot.show_result(timeline_view(done_s=-1.0))
        plot.show_result(timeline_view())
        settle()
        plot.grab()
