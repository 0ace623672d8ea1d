"""The trip boundary: words that are true, marks that ask, both sides, several captures."""

from __future__ import annotations

import time

import numpy as np
import pytest
from PySide6.QtCore import QPointF, Qt
from PySide6.QtTest import QTest

from analysis.model.replay_results import BoundaryCurve, Margin
from analysis.model.setup import Limit
from analysis.model.units import LengthUnit
from analysis.protection.trip_boundary import trip_boundary
from app.plots import style
from app.plots.boundary_marks import level_at, longest_at, stairs
from app.plots.boundary_plot import BoundaryPlot, BoundaryView
from app.plots.boundary_words import margin_words

from . import fake_alarms as fake
from .picture_checks import assert_words_have_room, curve_points, inked, labels_of, points_under
from .plot_contract import PlotCase, PlotContract, settle, words_of

SETUP = fake.alarm_setup()
IN_FORCE = SETUP.limit[fake.TRIP]
BOUNDARY = fake.fake_boundary()
NONE = Qt.KeyboardModifier.NoModifier
LEFT = Qt.MouseButton.LeftButton

CASE = PlotCase(
    BoundaryPlot,
    lambda size: BoundaryView(fake.fake_boundary(size), IN_FORCE),
    lambda: BoundaryView(fake.void_boundary(), IN_FORCE),
    ("level, µm p-p", "delay, s", "125 µm · 1 s"),
)


class TestBoundaryContract(PlotContract):
    @pytest.fixture
    def case(self) -> PlotCase:
        return CASE


def trial_view(trip_um: float, delay_s: float, captures: int = 1) -> BoundaryView:
    tried = fake.alarm_setup(trip_um, delay_s)
    boundary = fake.fake_boundary(captures=captures, setup=tried)
    return BoundaryView(boundary, IN_FORCE, tried.limit[fake.TRIP], BOUNDARY.margins)


@pytest.fixture
def plot(qtbot) -> BoundaryPlot:
    style.load_fonts()
    style.configure_pyqtgraph()
    made = BoundaryPlot()
    qtbot.addWidget(made)
    made.resize(520, 400)
    made.show()
    settle()
    made.show_result(BoundaryView(BOUNDARY, IN_FORCE))
    settle()
    return made


@pytest.fixture
def asked(plot) -> list[tuple]:
    made: list[tuple] = []
    plot.setting_requested.connect(lambda *what: made.append(what))
    plot.drag_finished.connect(lambda: made.append(("finished",)))
    return made


@pytest.mark.parametrize(
    ("margin", "words"),
    [
        (Margin("above", True, -3.0, -0.55), "acts, by 3.0 µm and 0.55 s"),
        (Margin("above", False, 12.34, 1.0), "does not act, by 12.3 µm and 1.00 s"),
        (Margin("below", False, None, 0.5), "does not act, by 0.50 s"),
        (Margin("above", False, None, None), "cannot be judged"),
        (None, "cannot be judged"),
    ],
)
def test_margins_in_words(margin, words):
    assert margin_words(margin, LengthUnit.UM) == words


def test_margins_in_mil():
    # 25.4 µm are one mil.
    margin = Margin("above", True, -25.4, -0.5)
    assert margin_words(margin, LengthUnit.MIL) == "acts, by 1.00 mil and 0.50 s"


def test_the_curve_is_read_at_the_next_whole_tick():
    curve = BoundaryCurve("above", np.array([0.0, 0.1, 0.2]), np.array([30.0, 20.0, 10.0]))
    assert level_at(curve, 0.0) == 30.0
    assert level_at(curve, 0.05) == 20.0
    assert level_at(curve, 0.1) == 20.0
    assert level_at(curve, 0.3) is None
    assert longest_at(curve, 20.0) == 0.1
    assert longest_at(curve, 31.0) is None
    x, y = stairs(curve)
    assert x.tolist() == [0.0, 0.0, 0.0, 0.1, 0.1, 0.2]
    assert y.tolist() == [30.0, 30.0, 20.0, 20.0, 10.0, 10.0]


def test_below_acts_from_the_other_side():
    curve = BoundaryCurve("below", np.array([0.0, 0.1]), np.array([900.0, 950.0]))
    assert longest_at(curve, 950.0) == 0.1
    assert longest_at(curve, 920.0) == 0.0
    assert longest_at(curve, 800.0) is None


def test_the_words_are_those_of_the_margins(plot):
    [margin] = BOUNDARY.margins
    assert margin.acts
    told = words_of(plot)
    assert margin_words(margin, LengthUnit.UM) in told
    assert "in force 125 µm · 1 s" in told


def test_what_is_tried_stands_beside_what_is_in_force(plot):
    plot.show_result(trial_view(135.0, 2.0))
    told = words_of(plot)
    assert "on trial 135 µm · 2 s" in told
    assert "in force 125 µm · 1 s" in told
    assert any(text.startswith("does not act, by") for text in told)
    assert any(text.startswith("acts, by") for text in told)
    card = style.palette(style.Theme.LIGHT).card
    fills = {s.brush.color().name().upper() for s in diamonds(plot)}
    assert len(fills) == 2
    assert card in fills


def diamonds(plot: BoundaryPlot) -> list:
    return [
        shape
        for shape in plot.canvas.over.shapes
        if shape.polygon.count() == 4 and shape.polygon.boundingRect().height() == 12.0
    ]


def test_the_distances_end_on_the_curve(plot):
    [margin] = BOUNDARY.margins
    dotted = [r.line for r in plot.canvas.over.rules if r.pen.style() == Qt.PenStyle.CustomDashLine]
    [upright] = [line for line in dotted if line.dx() == 0.0]
    [level] = [line for line in dotted if line.dy() == 0.0]
    (low, high) = plot.canvas.box.viewRange()[1]
    per_pixel = (high - low) / plot.canvas.data_rect().height()
    assert abs(upright.dy()) * per_pixel == pytest.approx(abs(margin.level_um), abs=2 * per_pixel)
    (start, end) = plot.canvas.box.viewRange()[0]
    per_pixel = (end - start) / plot.canvas.data_rect().width()
    assert abs(level.dx()) * per_pixel == pytest.approx(abs(margin.delay_s), abs=2 * per_pixel)


def test_a_drag_asks_for_level_and_delay_and_moves_nothing(plot, asked):
    before = [s.polygon.boundingRect() for s in diamonds(plot)]
    plot.canvas.pressed.emit(plot.canvas.to_pixels(1.0, 125.0), NONE)
    plot.canvas.moved.emit(plot.canvas.to_pixels(3.04, 90.0), LEFT)
    assert [s.polygon.boundingRect() for s in diamonds(plot)] == before
    index, side, level, delay = asked[-1]
    assert (index, side) == (fake.TRIP, "above")
    assert level == pytest.approx(90.0, abs=1.0)
    assert delay == pytest.approx(3.0, abs=0.11)
    assert delay == round(delay, 1)
    plot.canvas.released.emit(plot.canvas.to_pixels(3.04, 90.0), NONE)
    assert asked[-1] == ("finished",)


def test_a_drag_straight_up_leaves_the_delay_as_it_is(plot, asked):
    plot.show_result(trial_view(125.0, 1.25))
    plot.canvas.pressed.emit(plot.canvas.to_pixels(1.25, 125.0), NONE)
    plot.canvas.moved.emit(plot.canvas.to_pixels(1.25, 110.0), LEFT)
    assert asked[-1][3] == 1.25
    plot.canvas.moved.emit(plot.canvas.to_pixels(-3.0, 110.0), LEFT)
    assert asked[-1][3] == 0.0


def test_a_press_beside_the_mark_asks_for_nothing(plot, asked):
    plot.canvas.pressed.emit(plot.canvas.to_pixels(8.0, 100.0), NONE)
    plot.canvas.moved.emit(plot.canvas.to_pixels(9.0, 90.0), LEFT)
    plot.canvas.released.emit(plot.canvas.to_pixels(9.0, 90.0), NONE)
    assert not asked


def test_the_setting_in_force_is_not_dragged_while_another_is_tried(plot, asked):
    plot.show_result(trial_view(90.0, 6.0))
    plot.canvas.pressed.emit(plot.canvas.to_pixels(1.0, 125.0), NONE)
    plot.canvas.moved.emit(plot.canvas.to_pixels(1.0, 100.0), LEFT)
    assert not asked


def test_the_scale_stays_while_the_mark_is_held(plot):
    plot.canvas.pressed.emit(plot.canvas.to_pixels(1.0, 125.0), NONE)
    before = plot.canvas.box.viewRange()
    plot.show_result(trial_view(300.0, 20.0))
    assert plot.canvas.box.viewRange() == before
    plot.canvas.released.emit(QPointF(), NONE)
    assert plot.canvas.box.viewRange()[0][1] >= 20.0
    assert plot.canvas.box.viewRange()[1][1] >= 300.0


def test_keys_ask_a_step_at_a_time(plot, asked):
    step = plot._step()
    QTest.keyClick(plot, Qt.Key.Key_Up)
    QTest.keyClick(plot, Qt.Key.Key_Right)
    QTest.keyClick(plot, Qt.Key.Key_Left, Qt.KeyboardModifier.ShiftModifier)
    settings = [what for what in asked if what != ("finished",)]
    assert settings[0] == (fake.TRIP, "above", pytest.approx(125.0 + step), 1.0)
    assert settings[1] == (fake.TRIP, "above", 125.0, pytest.approx(1.1))
    assert settings[2] == (fake.TRIP, "above", 125.0, 0.0)


def test_escape_gives_the_old_setting_back(plot, asked):
    plot.canvas.pressed.emit(plot.canvas.to_pixels(1.0, 125.0), NONE)
    plot.canvas.moved.emit(plot.canvas.to_pixels(3.0, 90.0), LEFT)
    QTest.keyClick(plot, Qt.Key.Key_Escape)
    assert asked[-2:] == [(fake.TRIP, "above", 125.0, 1.0), ("finished",)]


def test_both_sides_of_a_position_limit(plot, asked):
    boundary = fake.fake_boundary(setup=SETUP, index=5)
    plot.show_result(BoundaryView(boundary, SETUP.limit[5]))
    told = words_of(plot)
    assert "in force 1660 µm · 1 s" in told
    assert "in force below 860 µm · 1 s" in told
    QTest.keyClick(plot, Qt.Key.Key_L)
    QTest.keyClick(plot, Qt.Key.Key_Up)
    assert asked[0][:2] == (5, "below")
    assert plot.canvas.left_axis.text() == "level, µm"


def test_several_captures_are_thin_curves_with_their_names(plot):
    plot.show_result(trial_view(135.0, 2.0, captures=4))
    assert {"run 1", "run 4"} <= set(words_of(plot))
    assert sum(len(curve.getData()[0]) > 0 for curve in plot._thin) == 4
    plot.show_result(BoundaryView(BOUNDARY, IN_FORCE))
    assert not any(len(x) for x, _ in (c.getData() for c in plot._thin) if x is not None)


@pytest.mark.parametrize("size", [(260, 150), (320, 220), (520, 400), (900, 700)])
@pytest.mark.parametrize("setting", [(135.0, 2.0), (124.0, 1.1), (60.0, 14.0), (125.0, 6.0)])
@pytest.mark.parametrize("captures", [1, 3])
def test_words_neither_leave_the_picture_nor_cover_each_other(plot, size, setting, captures):
    plot.resize(*size)
    plot.show_result(trial_view(*setting, captures))
    settle()
    assert_words_have_room(plot)


def test_words_keep_off_the_curve_where_there_is_room(plot):
    for setting in ((135.0, 2.0), (124.0, 1.1), (60.0, 14.0), (125.0, 6.0)):
        plot.show_result(trial_view(*setting))
        x, y = curve_points(plot, plot._together[:1])
        for label in labels_of(plot):
            assert points_under(inked(label), x, y) == 0, (setting, label.text)


def test_nothing_to_judge_is_said(plot):
    plot.show_result(BoundaryView(fake.void_boundary(), IN_FORCE))
    told = words_of(plot)
    assert any("nothing could be judged" in text for text in told)
    assert "cannot be judged" in told


def test_a_region_of_1x_has_no_boundary_and_says_so(plot):
    region = {"amplitude_um": [10.0, 60.0], "lag_deg": [30.0, 90.0]}
    limit = Limit.model_validate(
        {"probes": ["DE-X"], "measure": "1x_vector", "level": "trip", "region": region}
    )
    boundary = trip_boundary({"this": fake.alarm_series()}, limit, 0)
    plot.show_result(BoundaryView(boundary, limit))
    assert any("no single level" in text for text in words_of(plot))


def test_the_real_boundary_is_drawn_where_the_real_margin_is(plot):
    boundary = trip_boundary({"this": fake.alarm_series()}, IN_FORCE, fake.TRIP)
    plot.show_result(BoundaryView(boundary, IN_FORCE))
    [curve], [margin] = boundary.together, boundary.margins
    assert level_at(curve, IN_FORCE.delay_s) - IN_FORCE.above == pytest.approx(-margin.level_um)
    assert IN_FORCE.delay_s - longest_at(curve, IN_FORCE.above) == pytest.approx(margin.delay_s)
    assert margin_words(margin, LengthUnit.UM) in words_of(plot)


def test_the_hand_is_told_the_level_of_a_delay(plot):
    plot.canvas.moved.emit(plot.canvas.to_pixels(2.0, 80.0), Qt.MouseButton.NoButton)
    level = level_at(BOUNDARY.together[0], 2.0)
    assert any(f"acts at {level:.0f} µm or less" in text for text in words_of(plot))


def test_a_drag_is_painted_within_a_frame(plot):
    plot.resize(900, 700)
    settle()
    views = [trial_view(120.0 + number, 1.0 + 0.1 * number, 4) for number in range(5)]
    spent = []
    for turn in range(30):
        start = time.process_time()
        plot.show_result(views[turn % 5])
        plot.canvas.viewport().repaint()
        spent.append(time.process_time() - start)
    assert np.median(spent) < 0.016
