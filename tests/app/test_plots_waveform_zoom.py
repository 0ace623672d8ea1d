"""The waveform's window: asked for by wheel, keys and hand, stretched at once, answered later."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from PySide6.QtCore import QPointF, Qt
from PySide6.QtTest import QTest

from analysis.model.results import ProbeWaveform, Trace
from analysis.model.span import TimeSpan
from analysis.model.units import LengthUnit
from app.plots import style
from app.plots.waveform_plot import WaveformPlot, WaveformView

from .plot_contract import settle
from .plot_views import waveform_view


@pytest.fixture
def plot(qtbot) -> WaveformPlot:
    style.load_fonts()
    style.configure_pyqtgraph()
    made = WaveformPlot()
    qtbot.addWidget(made)
    made.resize(700, 260)
    made.show()
    settle()
    return made


def view_of(start_s: float, length_s: float, points: int = 600, **changes) -> WaveformView:
    """A waveform of a stretch of a capture, with the moment in its middle."""
    x = np.linspace(0.0, length_s, points)
    y = 1250.0 + 40.0 * np.sin(2.0 * np.pi * 53.0 * (start_s + x))
    waveform = ProbeWaveform("DE-X", Trace(x, y), np.empty(0), np.empty(0), 1250.0)
    return waveform_view(
        waveform=replace(waveform, **changes),
        window=TimeSpan(start_s, start_s + length_s),
        moment_s=start_s + length_s / 2.0,
    )


def shown(plot: WaveformPlot) -> list[float]:
    return plot.canvas.box.viewRange()[0]


def moment_at(plot: WaveformPlot) -> float:
    """Pixel of the tip of the triangle."""
    [mark] = [s for s in plot.canvas.over.shapes if not s.ellipse]
    return mark.polygon.first().x()


def points(plot: WaveformPlot) -> list:
    return [s for s in plot.canvas.over.shapes if s.ellipse]


def test_the_wheel_asks_for_another_window_and_moves_nothing_itself(plot):
    plot.show_result(view_of(5.0, 0.1))
    before = plot.canvas.box.viewRange()
    asked = []
    plot.zoom_requested.connect(asked.append)
    plot.canvas.wheeled.emit(2.0, QPointF(200, 80))
    plot.canvas.wheeled.emit(-1.0, QPointF(200, 80))
    assert asked == pytest.approx([0.64, 1.25])
    assert plot.canvas.box.viewRange() == before


def test_keys_ask_too(plot, qtbot):
    plot.show_result(view_of(5.0, 0.1))
    asked, resets = [], []
    plot.zoom_requested.connect(asked.append)
    plot.reset_requested.connect(lambda: resets.append(True))
    for key in (Qt.Key.Key_Plus, Qt.Key.Key_Equal, Qt.Key.Key_Minus):
        qtbot.keyClick(plot, key)
    qtbot.keyClick(plot, Qt.Key.Key_Plus, Qt.KeyboardModifier.ControlModifier)  # the window's
    assert asked == pytest.approx([0.8, 0.8, 1.25])
    qtbot.keyClick(plot, Qt.Key.Key_0)
    plot.canvas.double_clicked.emit(QPointF(5, 5))
    assert len(resets) == 2


def test_what_is_known_is_stretched_at_once_about_the_moment(plot):
    plot.show_result(view_of(5.0, 0.1))
    settle()
    before, curve = moment_at(plot), plot._curve.getData()[0]
    y_range = plot.canvas.box.viewRange()[1]
    plot.set_window(TimeSpan(5.025, 5.075), 5.05)
    assert shown(plot) == pytest.approx([0.0, 0.05])
    assert plot._curve.getData()[0] == pytest.approx(curve - 0.025)
    assert moment_at(plot) == pytest.approx(before, abs=0.01)
    plot.set_window(TimeSpan(4.95, 5.15), 5.05)
    assert shown(plot) == pytest.approx([0.0, 0.2])
    assert plot._curve.getData()[0] == pytest.approx(curve + 0.05)
    assert moment_at(plot) == pytest.approx(before, abs=0.01)
    assert plot.canvas.box.viewRange()[1] == y_range


def test_the_answer_takes_the_place_of_the_stretched_curve_without_a_jump(plot):
    plot.show_result(view_of(5.0, 0.1))
    plot.set_window(TimeSpan(5.025, 5.075), 5.05)
    settle()
    stretched, at = plot.canvas.box.viewRange(), moment_at(plot)
    plot.show_result(view_of(5.025, 0.05))
    assert plot.canvas.box.viewRange() == stretched
    assert moment_at(plot) == pytest.approx(at, abs=0.01)


def test_the_old_picture_stays_when_it_holds_next_to_nothing_of_the_new_one(plot):
    plot.show_result(view_of(5.0, 0.1))
    plot.set_window(TimeSpan(8.0, 8.1), 8.05)
    assert shown(plot) == pytest.approx([0.0, 0.1])
    plot.show_result(view_of(8.0, 0.1))
    assert shown(plot) == pytest.approx([0.0, 0.1])


def test_the_automatic_window_comes_back_with_a_scale_of_its_own(plot):
    plot.show_result(view_of(5.0, 0.1))
    settle()
    own = plot.canvas.box.viewRange()
    plot.set_window(TimeSpan(0.0, 100.0), 5.05)
    trace = view_of(0.0, 100.0).waveform.trace
    plot.show_result(view_of(0.0, 100.0, trace=Trace(trace.x, 4.0 * trace.y)))
    assert plot.canvas.box.viewRange()[1] != own[1]
    plot.set_window(None)
    plot.show_result(view_of(5.0, 0.1))
    assert np.allclose(plot.canvas.box.viewRange(), own)


def test_long_windows_show_capture_time_and_short_ones_their_own(plot):
    plot.show_result(view_of(30.0, 0.1))
    assert plot.canvas.bottom.text() == "time, ms"
    plot.show_result(view_of(30.0, 20.0))
    assert plot.canvas.bottom.text() == "capture time, s"
    assert shown(plot) == pytest.approx([30.0, 50.0])
    x = plot._curve.getData()[0]
    assert (x[0], x[-1]) == pytest.approx((30.0, 50.0))
    plot.show_result(view_of(30.0, 0.02))
    assert plot.canvas.bottom.text() == "time, ms"
    assert shown(plot) == pytest.approx([0.0, 0.02])


def test_samples_far_apart_are_points_on_the_line(plot):
    plot.show_result(view_of(5.0, 0.1, points=600))
    assert not points(plot)
    view = view_of(5.0, 1e-3, points=9)
    plot.show_result(view)
    settle()
    trace = view.waveform.trace
    found = points(plot)
    assert len(found) == 9
    for shape, x, y in zip(found, trace.x, trace.y, strict=True):
        centre = shape.polygon.boundingRect().center()
        assert (centre - plot.canvas.to_pixels(x, y)).manhattanLength() < 0.01


def test_an_envelope_has_no_points_and_reads_out_both_ends(plot):
    x = np.repeat(np.linspace(0.0, 100.0, 9), 2)
    y = np.tile([1200.0, 1300.0], 9)
    plot.show_result(view_of(0.0, 100.0, trace=Trace(x, y, envelope=True)))
    settle()
    assert plot.subtitle().startswith("envelope")
    assert not points(plot)
    plot.canvas.moved.emit(plot.canvas.to_pixels(50.0, 1250.0), Qt.MouseButton.NoButton)
    [label] = plot.canvas.hover.labels
    assert label.text == "50.00 s · 1200 to 1300 µm"
    plot.set_unit(LengthUnit.MIL)
    plot.canvas.moved.emit(plot.canvas.to_pixels(50.0, 1250.0), Qt.MouseButton.NoButton)
    [label] = plot.canvas.hover.labels
    assert label.text == "50.00 s · 47.24 to 51.18 mil"


def test_times_are_read_out_as_finely_as_a_pixel_is_wide(plot):
    view = view_of(5.0, 4e-4, points=9)
    plot.show_result(view)
    settle()
    x = float(view.waveform.trace.x[4])
    plot.canvas.moved.emit(plot.canvas.to_pixels(x, 1250.0), Qt.MouseButton.NoButton)
    assert plot.canvas.hover.labels[0].text.startswith("0.2000 ms")


def test_what_has_not_been_read_is_hatched_and_told(plot):
    plot.show_result(view_of(0.0, 100.0))
    assert not plot.canvas.ground.shapes
    plot.show_result(view_of(0.0, 100.0, known_s=(40.0, 60.0)))
    left, right = (s.polygon.boundingRect() for s in plot.canvas.ground.shapes)
    assert left.right() == pytest.approx(plot.canvas.to_pixels(40.0, 0.0).x())
    assert right.left() == pytest.approx(plot.canvas.to_pixels(60.0, 0.0).x())
    assert plot.subtitle().startswith("hatched: not read yet")


def test_a_drag_and_a_level_wheel_ask_to_go_along(plot):
    plot.show_result(view_of(5.0, 0.1))
    settle()
    shares = []
    plot.walk_requested.connect(shares.append)
    port, width = plot.canvas.viewport(), plot.canvas.data_rect().width()
    start = port.rect().center()
    QTest.mousePress(port, Qt.MouseButton.LeftButton, pos=start)
    plot.canvas.moved.emit(QPointF(start.x() - width / 4.0, start.y()), Qt.MouseButton.LeftButton)
    QTest.mouseRelease(port, Qt.MouseButton.LeftButton, pos=start)
    plot.canvas.moved.emit(QPointF(start.x(), start.y()), Qt.MouseButton.LeftButton)
    assert shares == pytest.approx([0.25])
    plot.canvas.wheeled_along.emit(3.0, QPointF(start))
    assert shares[-1] == pytest.approx(0.3)
