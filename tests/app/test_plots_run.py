"""The pictures of a run: promises of every picture, and their own."""

from __future__ import annotations

import math
from dataclasses import replace
from itertools import combinations

import numpy as np
import pytest
from PySide6.QtCore import QPoint, Qt
from PySide6.QtTest import QTest

from analysis.model.units import LengthUnit
from app.plots import style
from app.plots.amplitude_plot import AmplitudePlot
from app.plots.bode_plot import BodePlot
from app.plots.cascade_plot import CascadePlot
from app.plots.cascade_shapes import colour_table, nearest_rows, pooled, shares, stacked
from app.plots.difference_plot import DifferencePlot
from app.plots.phase_plot import PhasePlot
from app.plots.polar_plot import PolarPlot, PolarView
from app.plots.run_view import critical_text, slow_roll_text

from . import run_views as views
from .plot_contract import PlotCase, PlotContract, settle, words_of

CASES = {
    "amplitude": PlotCase(
        AmplitudePlot, views.run_view, views.void_run_view, ("1X, µm p-p", "r/min")
    ),
    "phase": PlotCase(
        PhasePlot,
        lambda size: views.run_view(size, wrapped=False),
        views.void_run_view,
        ("lag, °", "speed, r/min"),
    ),
    "polar": PlotCase(PolarPlot, views.polar_view, views.void_polar_view, ("µm p-p",)),
    "cascade": PlotCase(
        CascadePlot, views.cascade_view, views.void_cascade_view, ("µm", "frequency, orders")
    ),
    "difference": PlotCase(
        DifferencePlot, views.difference_view, views.void_difference_view, ("µm p-p", "r/min")
    ),
}

pytestmark = pytest.mark.qt_log_ignore("does not support propagateSizeHints")


@pytest.fixture(params=list(CASES))
def case(request) -> PlotCase:
    return CASES[request.param]


class TestRunPictures(PlotContract):
    def test_a_unit_relabels_and_moves_nothing(self, case, filled):
        if case is CASES["phase"]:
            pytest.skip("a phase has no length")
        super().test_a_unit_relabels_and_moves_nothing(case, filled)


def shown(qtbot, plot, view, size=(660, 400)):
    qtbot.addWidget(plot)
    plot.resize(*size)
    plot.show()
    settle()
    plot.show_result(view)
    settle()
    return plot


def press(plot, x: float, y: float) -> QPoint:
    at = plot.canvas.to_pixels(x, y).toPoint()
    QTest.mousePress(plot.canvas.viewport(), Qt.MouseButton.LeftButton, pos=at)
    QTest.mouseRelease(plot.canvas.viewport(), Qt.MouseButton.LeftButton, pos=at)
    return at


# Amplitude and phase -----------------------------------------------------------------------------


def test_a_critical_speed_is_told_with_factor_and_margin(qtbot):
    plot = shown(qtbot, AmplitudePlot(), views.run_view())
    assert any(text == "DE-X 3015 r/min, AF 7.1, margin 36 %" for text in words_of(plot))


def test_what_is_doubtful_carries_a_question_mark():
    assert critical_text(views.critical()).endswith("36 %")
    assert critical_text(views.critical(doubtful=True)).endswith(" ?")


def test_without_half_power_points_no_factor_is_told():
    blunt = replace(views.critical(), amplification_factor=None, half_power_rpm=(None, 3225.0))
    assert "AF not known" in critical_text(blunt)


@pytest.mark.parametrize("size", [(330, 120), (480, 220), (900, 500)])
def test_words_never_cover_each_other_nor_leave(qtbot, size):
    several = (views.alarm(), views.alarm(125.0), views.alarm(700.0))
    plot = shown(qtbot, AmplitudePlot(), views.run_view(references=several), size)
    boxes = [label.rect for label in plot.canvas.over.labels]
    assert len(boxes) >= 4
    for one, other in combinations(boxes, 2):
        assert not one.adjusted(0.5, 0.5, -0.5, -0.5).intersects(other)
    for box in boxes:
        assert plot.canvas.data_rect().adjusted(-1, -1, 1, 1).contains(box)


def test_a_reference_above_the_scale_is_told_and_does_not_squeeze_the_curves(qtbot):
    plot = shown(qtbot, AmplitudePlot(), views.run_view(references=(views.alarm(900.0),)))
    assert any("above this scale" in text for text in words_of(plot))
    assert plot.canvas.box.viewRange()[1][1] < 200.0


def test_what_is_taken_off_is_always_told_with_its_value():
    view = views.run_view()
    assert "slow roll taken off at 606 r/min" in slow_roll_text(view, LengthUnit.UM)
    assert "DE-X 5.0 ∠ 200°" in slow_roll_text(view, LengthUnit.UM)
    bare = replace(view, slow_rolls={"DE-X": None, "DE-Y": None})
    assert slow_roll_text(bare, LengthUnit.UM) == "slow roll not taken off"
    half = replace(view, slow_rolls={"DE-X": views.slow_roll(), "DE-Y": None})
    assert "not off: DE-Y" in slow_roll_text(half, LengthUnit.UM)


def test_a_press_on_the_curve_asks_for_that_moment(qtbot):
    plot = shown(qtbot, AmplitudePlot(), views.run_view())
    trace = plot._view.traces[0]
    index = int(np.argmin(np.abs(trace.speed_rpm - 2500.0)))
    with qtbot.waitSignal(plot.moment_requested) as asked:
        press(plot, float(trace.speed_rpm[index]), abs(trace.vectors[index]))
    nearest = np.abs(np.concatenate([t.time_s for t in plot._view.traces]) - asked.args[0])
    assert nearest.min() < 1e-9
    # The run-up and the run-down lie on each other: either passage of 2500 r/min is right.
    assert min(abs(asked.args[0] - 24.3), abs(asked.args[0] - 95.7)) < 1.0


def test_the_moment_is_marked_on_the_passage_that_it_belongs_to(qtbot):
    plot = shown(qtbot, AmplitudePlot(), views.run_view())
    plot.set_moment(100.0)
    marked = plot.marked()
    assert {trace.probe for trace, _ in marked} == {"DE-X", "DE-Y"}
    assert all(trace.direction == "down" for trace, _ in marked)
    rules = len(plot.canvas.over.rules)
    plot.set_moment(500.0)
    assert plot.marked() == []
    assert len(plot.canvas.over.rules) == rules - 1


def test_axes_keep_their_scale_while_the_moment_moves(qtbot):
    plot = shown(qtbot, AmplitudePlot(), views.run_view())
    before = plot.canvas.box.viewRange()
    for time_s in (0.0, 30.0, 60.0, 110.0):
        plot.set_moment(time_s)
    assert plot.canvas.box.viewRange() == before


def test_a_wrapped_phase_stays_in_the_circle_and_lifts_the_pen(qtbot):
    turned = tuple(replace(t, lag_deg=t.lag_deg + 250.0) for t in views.traces("DE-X"))
    plot = shown(qtbot, PhasePlot(), views.run_view(traces=turned, wrapped=True))
    assert plot.canvas.box.viewRange()[1] == [0.0, 360.0]
    y = plot._drawn[0][2]
    assert np.nanmin(y) >= 0.0
    assert np.nanmax(y) < 360.0
    assert np.isnan(y).sum() == 1
    plot.show_result(views.run_view(traces=turned, wrapped=False))
    assert np.nanmax(plot._drawn[0][2]) > 360.0


def test_amplitude_and_phase_share_what_is_seen_of_the_speeds(qtbot):
    bode = BodePlot()
    qtbot.addWidget(bode)
    bode.resize(700, 420)
    bode.show()
    bode.show_result(views.run_view())
    settle()
    bode.amplitude.part_requested.emit((2500.0, 3500.0))
    assert [p.canvas.box.viewRange()[0] for p in bode.pair()] == [[2500.0, 3500.0]] * 2
    left = [p.canvas.data_rect().left() for p in bode.pair()]
    assert left[0] == pytest.approx(left[1], abs=1.0)


# Polar -------------------------------------------------------------------------------------------


@pytest.mark.parametrize("rotation", ["ccw", "cw"])
def test_the_lag_runs_against_the_rotation_from_the_probe(rotation):
    view = PolarView(views.run_view(), {"DE-X": 45.0, "DE-Y": -45.0}, rotation)
    at_probe = view.placed("DE-X", np.array([1.0 + 0j]))[0]
    assert np.degrees(np.angle(at_probe)) == pytest.approx(45.0)  # 45° right of 12 o'clock
    quarter = view.placed("DE-X", np.array([np.exp(-0.5j * math.pi)]))[0]
    # Rotation ccw: against it is clockwise, to 45° below 3 o'clock.
    assert np.degrees(np.angle(quarter)) == pytest.approx(-45.0 if rotation == "ccw" else 135.0)


def test_two_probes_of_a_circular_orbit_draw_the_same_path():
    # Forward circular motion, rotation ccw: the probe 90° further along sees it 90° later.
    view = views.polar_view()
    vectors = views.jeffcott(np.linspace(600.0, 5300.0, 50))
    one = view.placed("DE-X", vectors)
    other = view.placed("DE-Y", vectors * np.exp(-0.5j * math.pi))
    assert np.allclose(one, other)


def test_speeds_stand_along_the_path_without_covering_each_other(qtbot):
    plot = shown(qtbot, PolarPlot(), views.polar_view(), (420, 330))
    labels = plot.canvas.over.labels
    speeds = [label for label in labels if label.text.isdigit() and int(label.text) >= 1000]
    assert len(speeds) >= 8
    for one, other in combinations([label.rect for label in labels], 2):
        assert not one.adjusted(1, 1, -1, -1).intersects(other)
    for label in labels:
        assert plot.canvas.data_rect().adjusted(-1, -1, 1, 1).contains(label.rect)


def test_the_polar_scale_is_the_same_both_ways(qtbot):
    plot = shown(qtbot, PolarPlot(), views.polar_view(), (520, 300))
    zero, one = plot.canvas.to_pixels(0, 0), plot.canvas.to_pixels(1, 1)
    assert one.x() - zero.x() == pytest.approx(zero.y() - one.y(), rel=0.01)


# Cascade -----------------------------------------------------------------------------------------


def test_no_line_is_lost_between_pixel_columns():
    x = np.linspace(0.0, 4.0, 1001)
    amplitude = np.zeros((1, 1001))
    amplitude[0, 613] = 7.0
    found = pooled(x, amplitude, 0.0, 4.0, 60)
    assert found.max() == 7.0
    assert np.argmax(found[0]) == int(x[613] / 4.0 * 60)


def test_a_gap_between_spectra_stays_empty():
    at = np.array([0.0, 1.0, 2.0, 50.0, 51.0])
    rows = nearest_rows(at, 0.0, 52.0, 52)
    assert (rows[10:45] == -1).all()
    assert rows[0] == 0
    assert rows[-1] == 4


def test_decibels_end_sixty_below_the_largest():
    found = shares(np.array([100.0, 10.0, 0.1, 0.01, np.nan]), 100.0, "dB")
    assert found == pytest.approx([1.0, 2 / 3, 0.0, 0.0, 0.0])
    assert shares(np.array([50.0, np.nan]), 100.0, "linear") == pytest.approx([0.5, 0.0])


def test_stacked_lines_stand_on_their_own_height():
    made = stacked(np.array([0.0, 1.0]), np.array([10.0, 20.0]), np.array([[0, 1], [0, 0]]), 5.0)
    assert made.y[:2].tolist() == [10.0, 15.0]
    assert np.isnan(made.y[2])
    assert stacked(np.zeros(2), np.arange(100.0), np.zeros((100, 2)), 1.0).left_out > 50


@pytest.mark.parametrize("theme", list(style.Theme))
def test_the_picture_reads_in_grey(theme):
    # WCAG 2.2 relative luminance of the colours must go one way.
    rgb = colour_table(theme) / 255.0
    linear = np.where(rgb <= 0.04045, rgb / 12.92, ((rgb + 0.055) / 1.055) ** 2.4)
    steps = np.diff(linear @ [0.2126, 0.7152, 0.0722])
    way = -1.0 if theme is style.Theme.LIGHT else 1.0
    assert (way * steps > -1e-3).all()  # eight bits a colour let it waver by less
    assert np.abs(steps).sum() > 0.75


def test_a_press_asks_for_the_moment_of_that_spectrum(qtbot):
    plot = shown(qtbot, CascadePlot(), views.cascade_view())
    with qtbot.waitSignal(plot.moment_requested) as asked:
        press(plot, 0.5, 3000.0)
    assert asked.args[0] == pytest.approx(3000.0 / 80.0, abs=0.5)
    plot.set_moment(asked.args[0])
    level = [rule for rule in plot.canvas.over.rules if rule.line.dy() == 0.0]
    assert len(level) == 1
    assert level[0].line.y1() == pytest.approx(plot.canvas.to_pixels(0, 3000.0).y(), abs=2.0)


def test_orders_are_named_also_where_the_frequency_is_in_hz(qtbot):
    plot = shown(qtbot, CascadePlot(), views.cascade_view())
    assert {"1X", "2X", "−1X"} <= set(words_of(plot))
    made = views.cascade_view().cascade
    hertz = replace(made, axis="hz", frequency=made.frequency * 80.0)
    plot.show_result(views.cascade_view(cascade=hertz))
    assert "1X" in words_of(plot)
    assert plot.canvas.bottom.unit == "Hz"
    slanted = [r for r in plot.canvas.over.rules if r.line.dx() and r.line.dy()]
    assert slanted


def test_lines_and_picture_take_turns(qtbot):
    plot = shown(qtbot, CascadePlot(), views.cascade_view())
    assert plot._image.image is not None
    plot.show_result(views.cascade_view(style="lines", scale="linear"))
    assert plot._image.image is None
    assert len(plot._lines.getData()[0]) > 1000


# Difference --------------------------------------------------------------------------------------


def test_the_change_in_the_operating_range_is_told(qtbot):
    plot = shown(qtbot, DifferencePlot(), views.difference_view())
    assert "not significant" in plot.finding()
    large = {"DE-X": views.overlay(9.0, significant=True)}
    plot.show_result(replace(views.difference_view(), overlays=large))
    assert "▲ significant" in plot.finding()
