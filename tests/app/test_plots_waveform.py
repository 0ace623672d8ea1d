"""The gap waveform: limits about the mean gap, labels out of each other's way, marks, hand."""

from __future__ import annotations

from dataclasses import replace
from itertools import combinations

import numpy as np
import pytest
from PySide6.QtCore import Qt
from PySide6.QtGui import QColor

from analysis.model.results import Trace
from analysis.model.units import LengthUnit
from app.plots import style
from app.plots.limit_lines import limit_lines
from app.plots.waveform_plot import WaveformPlot

from . import fake_results as fake
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


def rules_at(plot: WaveformPlot, gap_um: float) -> list:
    """Level rules of the ground at that gap, to the pixel."""
    at = plot.canvas.to_pixels(0.0, gap_um).y()
    rules = plot.canvas.ground.rules
    return [r for r in rules if r.line.dy() == 0.0 and abs(r.line.y1() - at) <= 0.51]


def test_peak_to_peak_limits_stand_half_above_and_half_below_the_mean_gap(plot):
    plot.show_result(waveform_view())
    # Mean 1250 µm, alarm 125 µm p-p: 1312.5 and 1187.5; trip 180: 1340 and 1160.
    for gap in (1312.5, 1187.5):
        assert any(r.pen.style() == Qt.PenStyle.CustomDashLine for r in rules_at(plot, gap))
    for gap in (1340.0, 1160.0):
        trip = QColor(style.palette(style.Theme.LIGHT).trip)
        assert any(r.pen.color() == trip for r in rules_at(plot, gap))


def test_the_multiplier_is_put_in_and_told():
    view = waveform_view()
    raised = tuple(
        replace(r, above_um=2 * r.above_um) if view.setup.limit[r.index].level == "alarm" else r
        for r in view.reading.limits
    )
    lines = limit_lines(replace(view.reading, limits=raised), view.setup, 1250.0)
    alarm = next(each for each in lines if each.level == "alarm" and each.band)
    assert alarm.at_um == (1375.0, 1125.0)
    assert alarm.text(LengthUnit.UM, joined=True) == "▲ alarm 250 µm p-p ×2"


def test_a_limit_of_another_measure_or_without_a_mean_draws_no_band():
    view = waveform_view()
    assert not [each for each in limit_lines(view.reading, view.setup, None) if each.band]


def test_a_near_position_limit_is_a_line_and_a_far_one_is_told_at_the_edge(plot):
    plot.show_result(waveform_view("NDE-X"))  # mean 2019, limit 2100
    assert rules_at(plot, 2100.0)
    assert any("position alarm" in label.text for label in plot.canvas.over.labels)
    plot.show_result(waveform_view("DE-X"))  # mean 1250, limit 1650
    _low, high = plot.canvas.box.viewRange()[1]
    assert high < 1650.0
    told = [label.text for label in plot.canvas.over.labels if "1650 µm" in label.text]
    assert told
    assert told[0].startswith("↑")


def test_labels_meet_neither_each_other_nor_the_curve(plot):
    for width in (700, 320):
        plot.resize(width, 200)
        settle()
        plot.show_result(waveform_view("NDE-X"))
        settle()
        labels = plot.canvas.over.labels
        assert len(labels) == 3
        for one, other in combinations(labels, 2):
            assert not one.rect.adjusted(0, 1, 0, -1).intersects(other.rect.adjusted(0, 1, 0, -1))
        for label in labels:
            assert label.rect.left() > plot.canvas.data_rect().right()


def test_marks_lie_on_the_curve(plot):
    view = waveform_view()
    plot.show_result(view)
    marks = [shape for shape in plot.canvas.over.shapes if shape.ellipse]
    assert len(marks) == len(view.waveform.marks_s) == 6
    for shape, x, y in zip(marks, view.waveform.marks_s, view.waveform.marks_um, strict=True):
        centre = shape.polygon.boundingRect().center()
        assert (centre - plot.canvas.to_pixels(x, y)).manhattanLength() < 0.01


def test_the_curve_holds_what_it_was_given_and_gaps_stay_gaps(plot):
    view = waveform_view()
    y = view.waveform.trace.y.copy()
    y[100:140] = np.nan
    holed = replace(view.waveform, trace=Trace(view.waveform.trace.x, y))
    plot.show_result(replace(view, waveform=holed))
    assert plot._curve.opts["connect"] == "finite"
    assert np.array_equal(plot._curve.getData()[1], y, equal_nan=True)


def test_an_envelope_is_told(plot):
    view = waveform_view()
    assert "envelope" not in plot.subtitle()
    cut = replace(view.waveform, trace=replace(view.waveform.trace, envelope=True))
    plot.show_result(replace(view, waveform=cut))
    assert "envelope" in plot.subtitle()
    assert plot.title() == "DE-X gap waveform"


def test_another_probe_has_another_scale_and_colour(plot):
    plot.show_result(waveform_view("DE-X"))
    plot.show_result(waveform_view("NDE-X"))
    low, _high = plot.canvas.box.viewRange()[1]
    assert low > 1500.0
    assert plot._curve.opts["pen"].color() == style.probe_colour(2, style.Theme.LIGHT)


def test_an_empty_state_between_two_probes_leaves_no_colour_behind(plot):
    plot.show_result(waveform_view("DE-Y"))
    plot.show_result(None)
    plot.set_theme(style.Theme.DARK)
    plot.set_theme(style.Theme.LIGHT)
    plot.show_result(waveform_view("DE-Y"))
    assert plot._curve.opts["pen"].color() == style.probe_colour(1, style.Theme.LIGHT)


def test_a_fault_is_told_in_the_picture(plot):
    from .plot_views import void_waveform_view

    plot.show_result(void_waveform_view())
    assert any("circuit fault" in label.text for label in plot.canvas.over.labels)


def test_hovering_reads_out_time_and_gap(plot):
    view = waveform_view()
    plot.show_result(view)
    settle()
    x, y = view.waveform.trace.x[1200], view.waveform.trace.y[1200]
    plot.canvas.moved.emit(plot.canvas.to_pixels(x, y), Qt.MouseButton.NoButton)
    [label] = plot.canvas.hover.labels
    assert label.text == f"{x * 1000:.2f} ms · {y:.0f} µm"
    plot.canvas.left.emit()
    assert not plot.canvas.hover.labels


def test_dragging_moves_nothing(plot, qtbot):
    plot.show_result(waveform_view())
    settle()
    before = plot.canvas.box.viewRange()
    port = plot.canvas.viewport()
    qtbot.mousePress(port, Qt.MouseButton.LeftButton, pos=port.rect().center())
    qtbot.mouseMove(port, port.rect().center() / 2)
    qtbot.mouseRelease(port, Qt.MouseButton.LeftButton)
    assert plot.canvas.box.viewRange() == before


def test_a_limit_far_beyond_the_swing_leaves_the_scale_alone(plot):
    plot.show_result(waveform_view(setup=fake.fake_setup(alarm=900.0, trip=1200.0)))
    low, high = plot.canvas.box.viewRange()[1]
    assert high - low < 250.0
    assert sum(label.text.startswith("↑") for label in plot.canvas.over.labels) == 3
